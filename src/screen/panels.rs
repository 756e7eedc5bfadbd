use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

use super::big::Dot;
use super::cells::{Look, Stress, bold, cells, clear, columns, faint, plate, put, split, words};
use super::chords::{draw_chord, draw_now};
use super::form_row::draw_form;
use super::layout::Layout;
use super::place::Coming;
use super::task::draw_task;
use super::view::{BanjoView, Chair, Now, Singer, View};
use crate::live::Action;

/// Title and style; key, capos, tempo, speed and bar, each always at its place. Where the form has no row of its
/// own it stands in the title's place.
pub(super) fn draw_header(view: &View, look: Look, places: &Layout, buffer: &mut Buffer) {
    let (area, dot) = (places.header, places.all_big);
    let guitar = match view.capo {
        0 => String::new(),
        fret => format!("  guitar capo {fret}"),
    };
    let others = format!("  tempo {:>3} {:>3} %  bar {:>3}", view.tempo, view.speed, view.bar);
    // Figures of big text differ in width: room for the widest.
    let took = |facts: &str| match dot {
        Some(dot) => dot.columns(&facts.replace(|sign: char| sign.is_ascii_digit(), "8")),
        None => cells(facts),
    };
    /// Cells for the form, or for a title.
    const TITLE: u16 = 16;
    let all = format!("key {}{guitar}{others}", view.key);
    // The guitar's capo is the guitar player's business.
    let facts = match took(&all).saturating_add(TITLE) <= area.width {
        true => all,
        false => format!("key {}{others}", view.key),
    };
    let (left, right) = split(area, area.width.saturating_sub(took(&facts)));
    words(&facts, dot, right, Style::new(), buffer);
    let left = Rect { width: left.width.saturating_sub(2), ..left };
    if places.form.height == 0 {
        draw_form(view, look, left, dot, buffer);
        return;
    }
    let hint = match places.notice.height {
        0 => format!("  {}", hint()),
        _ => String::new(),
    };
    let (title, style) = (&view.title, &view.style);
    let ways = [format!("{title}  ({style}){hint}"), format!("{title}{hint}"), title.clone()];
    let fits = ways.iter().find(|text| columns(text, dot) <= left.width);
    words(fits.unwrap_or(title), dot, left, bold(), buffer);
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

/// What is heard of the player: as much of it as there is room for, the chord that was missed last. Where there is no
/// row for it, at the right of whom to listen to, if nothing stands there.
pub(super) fn draw_heard(view: &View, places: &Layout, buffer: &mut Buffer) {
    /// Columns for the longest `resonator leads`, and air.
    const SINGER: u16 = 18;
    let Some(heard) = &view.heard else { return };
    let own = places.heard.height > 0;
    let area =
        split(if own { places.heard } else { places.singer }, if own { 1 } else { SINGER }).1;
    let with_missed = format!("{}{}", heard.line, heard.missed);
    let ways = [&with_missed, &heard.line];
    let blank = |at| buffer.cell(at).is_none_or(|cell| cell.symbol() == " ");
    let fits = |text: &&&String| {
        let place = Rect { width: cells(text).min(area.width), height: area.height.min(1), ..area };
        cells(text) <= area.width && place.positions().all(blank)
    };
    if let Some(text) = ways.iter().find(fits) {
        put(text, area, Style::new(), buffer);
    }
}

/// How to see the keys.
fn hint() -> String {
    format!("{}: keys", Action::Help.key())
}

/// What is broken, or a message, or how to see the keys. Where there is no row for that, what is broken and
/// messages stand over what is to be done in more words, or over whom to listen to.
pub(super) fn draw_notice(view: &View, look: Look, places: &Layout, buffer: &mut Buffer) {
    let own = places.notice.height > 0;
    let area = [places.notice, places.detail, places.singer]
        .into_iter()
        .find(|area| area.height > 0)
        .unwrap_or_default();
    let dot = places.all_big;
    if (view.lost.is_some() || view.message.is_some()) && !own {
        clear(area, buffer);
    }
    if let Some(lost) = &view.lost {
        let style = look.stressed(Stress::Broken);
        buffer.set_style(area.intersection(buffer.area), style);
        plate(lost, dot, area, style, buffer);
    } else if let Some(message) = &view.message {
        words(message, dot, split(area, 1).1, bold(), buffer);
    } else if own {
        words(&hint(), dot, split(area, 1).1, faint(), buffer);
    } else if places.form.height == 0 {
        // The form has taken the title's place, and with it the hint's: at the right, if nothing stands there.
        let (_, right) = split(area, area.width.saturating_sub(cells(&hint()) + 1));
        let blank = |at| buffer.cell(at).is_none_or(|cell| cell.symbol() == " ");
        if right.positions().all(blank) {
            put(&hint(), split(right, 1).1, faint(), buffer);
        }
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
    let other = view.banjo.as_ref().filter(|banjo| !banjo.now.is_empty());
    let both = other.map(|BanjoView { now, capo, .. }| format!("{coming}  ({now}, capo {capo})"));
    let fits = both.filter(|both| cells(both) <= places.next.width);
    let took = put(&fits.unwrap_or(coming), places.next, bold(), buffer);
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
        clear(places.next, buffer);
        plate(waiting, None, places.next, look.stressed(Stress::Waiting), buffer);
    }
    draw_task(view, places.task, false, buffer);
    if places.notice.height > 0 {
        draw_notice(view, look, places, buffer);
    } else if let (Some(lost), None) = (&view.lost, &view.waiting)
        && places.next.height > 0
    {
        clear(places.next, buffer);
        plate(lost, None, places.next, look.stressed(Stress::Broken), buffer);
    }
}
