//! Any view on any screen: nothing panics, and each part keeps to its own area.

use proptest::collection::vec;
use proptest::option;
use proptest::prelude::*;
use proptest::sample::select;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::big::Dot;
use super::cells::Look;
use super::chart_line::{BandMark, BarView, Mark};
use super::chord_words::ChordWords;
use super::draw::{draw, wants};
use super::form_row::draw_form;
use super::heard::HeardView;
use super::help::draw_help;
use super::job::{Task, TaskWords};
use super::layout::layout;
use super::place::Coming;
use super::tab::draw_tab;
use super::view::{BanjoView, Chair, Now, Singer, TabView, View};
use super::{bars, chords, panels, task};
use crate::chart::{Lead, Role};
use crate::time::BarMeter;

fn text() -> impl Strategy<Value = String> {
    prop_oneof!["[ -~]{0,40}", "verse: (voice|guitar)", "[あé\u{301}🎻a]{0,9}", Just(String::new())]
}

fn chord() -> impl Strategy<Value = ChordWords> {
    let quality = select(vec!["", "m", "7", "m7b5", "mMaj7", "7sus4", "maj13", "dim"]);
    let bass = select(vec!["", "/C", "/G#", "/Bb"]);
    (select(vec!["G", "F#", "Bb", "Ebb", "N.C."]), quality, bass).prop_map(
        |(root, quality, bass)| ChordWords {
            root: root.to_owned(),
            quality: quality.to_owned(),
            bass: bass.to_owned(),
        },
    )
}

fn bar() -> impl Strategy<Value = BarView> {
    let share = prop_oneof![chord().prop_map(|chord| chord.to_string()), Just("/".to_owned())];
    use BandMark::{Held, Hit, Plays, Silent};
    let marks = (any::<bool>(), select(vec![Plays, Hit, Held, Silent]))
        .prop_map(|(sung, band)| Mark { sung, band });
    let crooked = option::of(select(BarMeter::all().collect::<Vec<_>>()));
    (vec(share, 0..9), vec(marks, 0..9), crooked, 0_u32..5, any::<bool>()).prop_map(
        |(shares, eighths, crooked, beats, outside)| BarView {
            number: 1,
            outside,
            crooked,
            beats,
            shares,
            eighths,
        },
    )
}

fn a_task() -> impl Strategy<Value = Task> {
    let words = || (text(), text()).prop_map(|(short, full)| TaskWords { short, full });
    let coming = option::of((1_usize..3, words()));
    (words(), coming).prop_map(|(now, coming)| Task { now, coming })
}

prop_compose! {
    fn any_view()(
        now in prop_oneof![
            chord().prop_map(Now::Chord), (1_u32..9).prop_map(Now::Count), Just(Now::End)
        ],
        coming in prop_oneof![
            chord().prop_map(Coming::Chord), Just(Coming::End), Just(Coming::Never)
        ],
        beats in prop_oneof![0_u32..20, any::<u32>()],
        numbers in (0_u8..12, 0_u32..500, 0_u32..500, prop_oneof![0_usize..300, any::<usize>()]),
        form in vec(text(), 0..40), pass in 0_usize..40,
        line in vec(bar(), 0..20), here in 0_usize..20, next_line in vec(bar(), 0..6),
        beat in option::of(0_u32..6),
        chairs in vec(any::<bool>(), 0..=6),
        singer in select(vec![
            Singer::Sings, Singer::Pauses, Singer::Nobody, Singer::Instrument(Lead::Resonator)
        ]),
        task in option::of(a_task()),
        texts in vec(option::of(text()), 8),
        names in vec(text(), 3),
        banjo in option::of((1_u8..12, text(), text())), tab in option::of((text(), vec(text(), 0..12))),
        eighths in 0_usize..13, stops in any::<bool>(),
    ) -> View {
        let mut texts = texts.into_iter();
        let mut text = || texts.next().flatten();
        let open = Role::ALL.into_iter().zip(chairs);
        View {
            title: names[0].clone(), style: names[1].clone(), key: names[2].clone(),
            capo: numbers.0, tempo: numbers.1, speed: numbers.2, bar: numbers.3,
            now, coming, beats, form, pass, unnamed: (0, 0), line, here, beat, next_line,
            eighths, stops,
            banjo: banjo.map(|(capo, now, next)| BanjoView { capo, now, next }),
            tab: tab.map(|(bar, rows)| TabView { bar, rows }),
            chairs: open.map(|(role, open)| Chair { role, open }).collect(),
            announced: text(), singer, task, looping: text(), drill: text(), waiting: text(),
            lost: text(), message: text(),
            heard: text().map(|line| HeardView { line, missed: text().unwrap_or_default() }),
        }
    }
}

const LOOK: Look = Look { colour: true };

/// True of cells that were drawn upon.
fn changed(buffer: &Buffer, area: Rect) -> impl Iterator<Item = (u16, u16)> {
    let blank = Buffer::empty(area);
    area.positions().filter(move |at| buffer[*at] != blank[*at]).map(|at| (at.x, at.y))
}

type Part<'a> = (&'a str, Vec<Rect>, Box<dyn Fn(&mut Buffer) + 'a>);

fn parts<'a>(view: &'a View, area: Rect) -> Vec<Part<'a>> {
    let places = layout(area, wants(view));
    let (big, all): (Option<Dot>, Option<Dot>) = (places.big, places.all_big);
    let part = |name, areas: &[Rect], draw: Box<dyn Fn(&mut Buffer) + 'a>| -> Part<'a> {
        (name, areas.to_vec(), draw)
    };
    vec![
        part("header", &[places.header], {
            Box::new(move |to| panels::draw_header(view, LOOK, &places, to))
        }),
        part("form", &[places.form], {
            Box::new(move |to| draw_form(view, LOOK, places.form, all, to))
        }),
        part("now", &[places.now], Box::new(move |to| chords::draw_now(view, places.now, to))),
        part("coming", &[places.next, places.count], {
            Box::new(move |to| chords::draw_coming(view, places.next, places.count, to))
        }),
        part("line", &[places.bars], {
            Box::new(move |to| bars::draw_line(view, LOOK, places.bars, big, to))
        }),
        part("next line", &[places.next_line], {
            Box::new(move |to| {
                bars::draw_next_line(view, places.next_line, places.big_next_line, to)
            })
        }),
        part("chairs", &[places.chairs], {
            Box::new(move |to| panels::draw_chairs(view, LOOK, places.chairs, big, to))
        }),
        part("singer", &[places.singer], {
            Box::new(move |to| panels::draw_singer(view, LOOK, places.singer, big, to))
        }),
        part("heard", &[places.heard, places.singer], {
            Box::new(move |to| panels::draw_heard(view, &places, to))
        }),
        part("task", &[places.task], {
            Box::new(move |to| task::draw_task(view, places.task, false, to))
        }),
        part("detail", &[places.detail], {
            Box::new(move |to| task::draw_detail(view, places.detail, all, to))
        }),
        part("shapes", &[places.shape, places.next_shape], {
            Box::new(move |to| chords::draw_shapes(view, &places, to))
        }),
        part("tab", &[places.tab], Box::new(move |to| draw_tab(view, places.tab, to))),
        part("notice", &[places.notice, places.detail, places.singer], {
            Box::new(move |to| panels::draw_notice(view, LOOK, &places, to))
        }),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    #[test]
    fn any_view_is_drawn_at_any_size(
        view in any_view(), width in 1_u16..220, height in 1_u16..70, page in 0_usize..5
    ) {
        // Not at the frame's corner, so that nothing counts from 0.
        let frame = Rect::new(0, 0, width + 2, height + 2);
        let area = Rect::new(1, 1, width, height);
        for colour in [true, false] {
            let mut buffer = Buffer::empty(frame);
            draw(&view, Look { colour }, area, &mut buffer);
            draw_help(page, area, &mut buffer);
            for (x, y) in changed(&buffer, frame) {
                prop_assert!(area.contains((x, y).into()), "{x} {y} of {area}");
            }
        }
    }

    #[test]
    fn every_part_keeps_to_its_area(view in any_view(), width in 60_u16..220, height in 16_u16..70) {
        let frame = Rect::new(0, 0, width, height);
        for (name, areas, draw) in parts(&view, frame) {
            let mut buffer = Buffer::empty(frame);
            draw(&mut buffer);
            for (x, y) in changed(&buffer, frame) {
                prop_assert!(
                    areas.iter().any(|area| area.contains((x, y).into())),
                    "{name} at {x} {y}, outside {areas:?}"
                );
            }
        }
    }

    #[test]
    fn without_colour_there_is_none(view in any_view(), width in 1_u16..220, height in 1_u16..70) {
        let area = Rect::new(0, 0, width, height);
        let mut buffer = Buffer::empty(area);
        draw(&view, Look { colour: false }, area, &mut buffer);
        let reset = ratatui::style::Color::Reset;
        prop_assert!(buffer.content.iter().all(|cell| cell.fg == reset && cell.bg == reset));
    }
}
