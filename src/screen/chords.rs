use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

use super::big::{Dot, can_write, write, write_at_foot};
use super::cells::{bold, cells, put, split, words};
use super::chord_words::ChordWords;
use super::layout::{Layout, part};
use super::place::Coming;
use super::view::{BanjoView, Now, View};

/// The present chord, or the count, as large as its area.
pub(super) fn draw_now(view: &View, area: Rect, buffer: &mut Buffer) {
    match &view.now {
        Now::Chord(chord) => draw_chord(chord, area, buffer),
        Now::Count(beat) => draw_text(&beat.to_string(), area, buffer),
        Now::End => draw_text("END", area, buffer),
    }
}

/// The next chord, and below it the beats to it.
pub(super) fn draw_coming(view: &View, next: Rect, count: Rect, buffer: &mut Buffer) {
    // An arrow in front says that it is still to come.
    let large = next.height >= 7;
    let (arrow, next) = split(next, if large { 6 } else { 2 });
    let arrow_dot = large.then_some(Dot::WIDE);
    let sign = if large { ">" } else { "→" };
    let (left, beats) = (count, view.beats.to_string());
    match &view.coming {
        Coming::Chord(chord) => {
            words(sign, arrow_dot, arrow, bold(), buffer);
            draw_chord(chord, next, buffer);
        }
        Coming::End if view.now != Now::End => {
            words(sign, arrow_dot, arrow, bold(), buffer);
            draw_text("end", next, buffer);
        }
        Coming::End | Coming::Never => return,
    }
    // Right-aligned in room for two figures, so that the last one never moves; the word behind.
    let dot = Dot::fitting("88", part(left.width, 60), left.height);
    let (room, word) = split(left, dot.map_or(4, |dot| dot.columns("88") + 2));
    let took = dot.map_or(beats.len() as u16, |dot| dot.columns(&beats));
    let (_, figures) = split(room, room.width.saturating_sub(took));
    match dot {
        Some(dot) => write_at_foot(&beats, dot, figures, bold(), buffer),
        None => _ = put(&beats, figures, bold(), buffer),
    }
    let text = if view.beats == 1 { "beat" } else { "beats" };
    let (_, word) = split(word, 2);
    let small = dot.filter(|dot| dot.down > 1).map(|_| Dot::APART);
    match small.filter(|small| small.columns("beats") <= word.width) {
        Some(small) => write_at_foot(text, small, word, bold(), buffer),
        None => {
            let y = word.bottom().saturating_sub(1);
            put(text, Rect { y, height: word.height.min(1), ..word }, bold(), buffer);
        }
    }
}

/// The chords' other names, and the fret of the banjo's capo.
pub(super) fn draw_shapes(view: &View, places: &Layout, buffer: &mut Buffer) {
    let Some(BanjoView { capo, now, next }) = &view.banjo else { return };
    let next_area = places.next_shape;
    put(next, next_area, bold(), buffer);
    let area = places.shape;
    let below = area.height > Dot::SMALL.rows();
    // The capo below the name, or at its foot behind it.
    let capo = if area.width < 24 && !below {
        format!("capo {capo}")
    } else {
        format!("banjo capo {capo}")
    };
    let (wide, high) = match below {
        true => (area.width, area.height - 1),
        false => (area.width.saturating_sub(cells(&capo) + 2), area.height),
    };
    let dot = Dot::fitting(now, wide, high).filter(|_| can_write(now));
    let took = words(now, dot, Rect { width: wide, height: high, ..area }, bold(), buffer);
    let (_, rest) = split(area, if below || took == 0 { 0 } else { took + 2 });
    let y = rest.bottom().saturating_sub(1);
    put(&capo, Rect { y, height: rest.height.min(1), ..rest }, Style::new(), buffer);
}

/// A text as large as its area.
fn draw_text(text: &str, area: Rect, buffer: &mut Buffer) {
    words(text, Dot::fitting(text, area.width, area.height), area, bold(), buffer);
}

/// A chord with its root as large as its area is high, if need be with the rest of it half as high
/// behind, as charts write them; only if that does not fit either, smaller.
pub(super) fn draw_chord(chord: &ChordWords, area: Rect, buffer: &mut Buffer) {
    let whole = chord.to_string();
    let full = area.height * 2 / 7;
    let at_once = Dot::fitting(&whole, area.width, area.height);
    match at_once {
        Some(dot) if dot.down == full || chord.quality.is_empty() && chord.bass.is_empty() => {
            write(&whole, dot, area, bold(), buffer);
        }
        _ if draw_stacked(chord, full, area, buffer) => {}
        Some(dot) => write(&whole, dot, area, bold(), buffer),
        None if draw_root_and_plain(chord, area, buffer) => {}
        None => {
            words(&whole, None, area, bold(), buffer);
        }
    }
}

/// The root `full` halves a dot high, behind it the quality above the bass: those as large as a root
/// of narrow letters leaves room for.
fn draw_stacked(chord: &ChordWords, full: u16, area: Rect, buffer: &mut Buffer) -> bool {
    let half = area.height / 2;
    let stacked = |across: u16| {
        let root = Dot::new(across, full);
        let (left, right) = split(area, root.columns(&chord.root) + 1 + across / 2);
        let above = Dot::fitting(&chord.quality, right.width, half)?;
        let below = Dot::fitting(&chord.bass, right.width, half)?;
        let dot = if above.across < below.across { above } else { below };
        let fits = |text| dot.columns(text) <= right.width;
        (fits(&chord.quality) && fits(&chord.bass)).then_some((root, dot, left, right))
    };
    let widths = (full.max(1)..=full * 2).filter_map(stacked);
    let Some((root, dot, left, right)) =
        widths.max_by_key(|(root, dot, ..)| (dot.down * dot.across, root.across))
    else {
        return false;
    };
    write(&chord.root, root, left, bold(), buffer);
    write(&chord.quality, dot, Rect { height: half, ..right }, bold(), buffer);
    // On the root's own foot, if that leaves the quality alone.
    let above = if chord.quality.is_empty() { 0 } else { dot.rows() };
    let drop = root.rows().saturating_sub(dot.rows()).max(above);
    let y = right.y + drop.min(right.height);
    let below = Rect { y, height: right.bottom() - y, ..right };
    write(&chord.bass, dot, below, bold(), buffer);
    true
}

/// The root in big letters, the rest in plain ones.
fn draw_root_and_plain(chord: &ChordWords, area: Rect, buffer: &mut Buffer) -> bool {
    let rest = format!("{}{}", chord.quality, chord.bass);
    let room = area.width.saturating_sub(rest.len() as u16 + 1);
    let Some(dot) = Dot::fitting(&chord.root, room, area.height) else { return false };
    let (left, right) = split(area, dot.columns(&chord.root) + 1);
    write(&chord.root, dot, left, bold(), buffer);
    put(&rest, right, bold(), buffer);
    true
}
