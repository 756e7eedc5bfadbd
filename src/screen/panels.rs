use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

use super::big::Dot;
use super::cells::{Look, Stress, bold, cells, columns, faint, plate, put, split, words};
use super::chords::{draw_chord, draw_now};
use super::job::{TaskWords, when};
use super::layout::Layout;
use super::place::Coming;
use super::view::{Chair, Now, Singer, View};
use crate::live::Action;

/// Title and style; key, capo, tempo, speed and bar, each always at its place.
pub(super) fn draw_header(view: &View, area: Rect, dot: Option<Dot>, buffer: &mut Buffer) {
    let capo = match view.capo {
        0 => String::new(),
        fret => format!("  capo {fret}"),
    };
    let facts = format!(
        "key {}{capo}  tempo {:>3} {:>3} %  bar {:>3}",
        view.key, view.tempo, view.speed, view.bar
    );
    let took = match dot {
        // Figures of big text differ in width: room for the widest.
        Some(dot) => dot.columns(&facts.replace(|sign: char| sign.is_ascii_digit(), "8")),
        None => cells(&facts),
    };
    let (left, right) = split(area, area.width.saturating_sub(took));
    words(&facts, dot, right, Style::new(), buffer);
    let left = Rect { width: left.width.saturating_sub(2), ..left };
    let both = format!("{}  ({})", view.title, view.style);
    let title = if columns(&both, dot) <= left.width { &both } else { &view.title };
    words(title, dot, left, bold(), buffer);
}

fn chair_words(chair: Chair) -> String {
    if chair.open { format!("OPEN: {}", chair.role) } else { chair.role.to_string() }
}

/// Who plays, each at its place; an open chair stands out.
pub(super) fn draw_chairs(
    view: &View,
    look: Look,
    area: Rect,
    dot: Option<Dot>,
    buffer: &mut Buffer,
) {
    let rooms = |dot, air: u16| -> Vec<u16> {
        let open = view.chairs.iter().map(|chair| chair_words(Chair { open: true, ..*chair }));
        open.map(|text| columns(&text, dot).saturating_add(air)).collect()
    };
    // Where it is narrow they stand closer; the last needs no room after it.
    let in_all = |rooms: &[u16]| rooms.iter().fold(0, |sum: u16, room| sum.saturating_add(*room));
    if dot.is_none() && in_all(&rooms(dot, 3)).saturating_sub(1) > area.width {
        return draw_open_chairs(view, look, area, buffer);
    }
    let air = if in_all(&rooms(dot, 4)) <= area.width { 4 } else { 3 };
    let fits = |dot: &Dot| in_all(&rooms(Some(*dot), 4)) <= area.width;
    let dot = dot.map(|dot| [Dot::WIDE, Dot::APART].into_iter().find(fits).unwrap_or(dot));
    let mut rest = area;
    for (chair, room) in view.chairs.iter().zip(rooms(dot, air)) {
        let (place, after) = split(rest, room);
        let text = chair_words(*chair);
        let between = u16::from(after.width > 0);
        let place = Rect { width: place.width.saturating_sub(between), ..place };
        if chair.open {
            plate(&text, dot, place, look.stressed(Stress::Open), buffer);
        } else {
            words(&text, dot, split(place, 1).1, Style::new(), buffer);
        }
        rest = after;
    }
}

/// Where there is no room for all: the open chairs alone.
fn draw_open_chairs(view: &View, look: Look, area: Rect, buffer: &mut Buffer) {
    let open: Vec<&str> =
        view.chairs.iter().filter(|chair| chair.open).map(|chair| chair.role.as_str()).collect();
    if open.is_empty() {
        words("all play", None, split(area, 1).1, Style::new(), buffer);
    } else {
        let text = format!("OPEN: {}", open.join(", "));
        plate(&text, None, area, look.stressed(Stress::Open), buffer);
    }
}

/// Whom to listen to, and who sits out next; or what the band waits for.
pub(super) fn draw_singer(
    view: &View,
    look: Look,
    area: Rect,
    dot: Option<Dot>,
    buffer: &mut Buffer,
) {
    let (text, stress) = match (&view.waiting, view.singer) {
        (Some(waiting), _) => (waiting.clone(), Some(Stress::Waiting)),
        (None, Singer::Pauses) => (view.singer.words(), Some(Stress::Room)),
        (None, singer) => (singer.words(), None),
    };
    let dot =
        dot.map(|dot| if Dot::WIDE.columns(&text) + 2 <= area.width { Dot::WIDE } else { dot });
    let took = match stress {
        Some(stress) => plate(&text, dot, area, look.stressed(stress), buffer),
        None => words(&text, dot, split(area, 1).1, bold(), buffer) + 1,
    };
    let Some(announced) = view.announced.as_ref().filter(|_| view.waiting.is_none()) else {
        return;
    };
    let (_, rest) = split(area, took.saturating_add(2));
    let small = dot.map(|_| Dot::SMALL).filter(|dot| dot.columns(announced) <= rest.width);
    let wanted = columns(announced, small);
    if wanted <= rest.width {
        words(announced, small, split(rest, rest.width - wanted).1, bold(), buffer);
    }
}

/// What the player has to do, and at the right what comes: in as many words as there is room for.
pub(super) fn draw_task(view: &View, area: Rect, dot: Option<Dot>, buffer: &mut Buffer) {
    let Some(task) = &view.task else { return };
    // What comes has its place whether there is something or not, so that nothing moves when there is.
    const COMING: u16 = 46;
    let right = super::layout::part(area.width, COMING);
    let (left, right) = split(area, area.width - right);
    let (_, left) = split(left, 1);
    let left = Rect { width: left.width.saturating_sub(1), ..left };
    let fit = |area: Rect, ways: [String; 3]| {
        let last = ways.iter().find(|words| columns(words, dot) <= area.width);
        last.cloned().unwrap_or_else(|| ways.into_iter().last().unwrap_or_default())
    };
    let TaskWords { short, full } = &task.now;
    let now = fit(left, [format!("you: {full}"), format!("you: {short}"), short.clone()]);
    words(&now, dot, left, bold(), buffer);
    if let Some((bars, TaskWords { short, full })) = &task.coming {
        // Big letters have no arrow.
        let arrow = if dot.is_some() { "" } else { "→ " };
        let when = format!("{arrow}{}", when(*bars));
        let ways = [full, short].map(|words| format!("{when}: {words}"));
        let [full, in_short] = ways;
        let coming = fit(right, [full, in_short, format!("{arrow}{short}")]);
        words(&coming, dot, right, Style::new(), buffer);
    }
}

/// What is broken, or a message, or how to see the keys: but where what is to be done has no row of its
/// own, that.
pub(super) fn draw_notice(view: &View, look: Look, places: &Layout, buffer: &mut Buffer) {
    let (area, dot) = (places.notice, places.all_big);
    if let Some(lost) = &view.lost {
        let style = look.stressed(Stress::Broken);
        buffer.set_style(area.intersection(buffer.area), style);
        plate(lost, dot, area, style, buffer);
    } else if let Some(message) = &view.message {
        words(message, dot, split(area, 1).1, bold(), buffer);
    } else if view.task.is_some() && places.task.height == 0 {
        draw_task(view, area, None, buffer);
    } else {
        let hint = format!("{}: keys", Action::Help.key());
        words(&hint, dot, split(area, 1).1, faint(), buffer);
    }
}

/// The screen that is too small for all: the chord, and a line each for what else there is room for.
pub(super) fn draw_little(view: &View, look: Look, places: &Layout, buffer: &mut Buffer) {
    match &view.now {
        Now::Chord(chord) => draw_chord(chord, places.now, buffer),
        _ => draw_now(view, places.now, buffer),
    }
    let coming = match &view.coming {
        Coming::Chord(chord) => format!("→ {chord} in {}", view.beats),
        Coming::End if view.now != Now::End => format!("→ end in {}", view.beats),
        Coming::End | Coming::Never => String::new(),
    };
    let took = put(&coming, places.next, bold(), buffer);
    let bar = format!("bar {:>3}", view.bar);
    let (_, right) = split(places.next, places.next.width.saturating_sub(cells(&bar)));
    if took + 2 + cells(&bar) <= places.next.width {
        put(&bar, right, Style::new(), buffer);
    }
    super::bars::draw_line(view, look, places.bars, None, buffer);
    draw_chairs(view, look, places.chairs, None, buffer);
    if places.singer.height > 0 {
        draw_singer(view, look, places.singer, None, buffer);
    } else if let Some(waiting) = &view.waiting
        && places.next.height > 0
    {
        // No row of its own: over what comes, which comes to nothing while the band waits.
        super::cells::clear(places.next, buffer);
        plate(waiting, None, places.next, look.stressed(Stress::Waiting), buffer);
    }
    draw_task(view, places.task, None, buffer);
    if places.notice.height > 0 {
        draw_notice(view, look, places, buffer);
    } else if let (Some(lost), None) = (&view.lost, &view.waiting)
        && places.next.height > 0
    {
        super::cells::clear(places.next, buffer);
        plate(lost, None, places.next, look.stressed(Stress::Broken), buffer);
    }
}
