use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

use super::big::{Dot, write};
use super::cells::{Look, Stress, bold, cells, faint, put, split, words};
use super::chart_line::{BandMark, BarView};
use super::view::View;

/// The line of bars being played: the chords, below them the beats, below those the voice.
pub(super) fn draw_line(
    view: &View,
    look: Look,
    area: Rect,
    dot: Option<Dot>,
    buffer: &mut Buffer,
) {
    let high = dot.map_or(1, Dot::rows).min(area.height);
    let lanes = area.height - high;
    let beat_rows = lanes.min(if dot.is_some() { 2 } else { 1 });
    let shown = placed(&view.line, view.here, view.eighths, area, dot);
    let dot = dot.map(|dot| if all_fit(&shown, Dot::WIDE) { Dot::WIDE } else { dot });
    if let Some((.., last)) = shown.last() {
        bar_line(split(area, last.right() - area.x).1, dot, buffer);
    }
    for (at, bar, cell) in shown {
        let here = at == view.here;
        bar_line(cell, dot, buffer);
        let inner = inside(cell);
        let style = match (here, bar.outside) {
            (true, _) => bold(),
            (false, true) => faint(),
            (false, false) => Style::new(),
        };
        draw_bar(bar, Rect { height: high, ..inner }, dot, style, buffer);
        // A bar that is not played has no beats: without colour and dimming it is told by that.
        if bar.outside {
            continue;
        }
        let beats = Rect { y: inner.y + high, height: beat_rows, ..inner };
        draw_beats(bar, here.then_some(view.beat), look, beats, buffer);
        let marks = Rect { y: beats.bottom(), height: lanes - beat_rows, ..inner };
        draw_marks(bar, marks, dot, buffer);
    }
}

/// The line after it.
pub(super) fn draw_next_line(view: &View, area: Rect, dot: Option<Dot>, buffer: &mut Buffer) {
    if area.height == 0 {
        return;
    }
    let shown = placed(&view.next_line, 0, view.eighths, area, dot);
    let dot = dot.map(|dot| if all_fit(&shown, Dot::WIDE) { Dot::WIDE } else { dot });
    for (_, bar, cell) in shown {
        draw_bar(bar, inside(cell), dot, faint(), buffer);
    }
}

/// The bars that are shown, each with its cell: as wide as it is long, where its chords have room so. A line too
/// long for the width is shown in pages, which begin at fixed bars. `ordinary` is how many eighth notes a bar of
/// the song's own meter has.
fn placed(
    bars: &[BarView],
    here: usize,
    ordinary: usize,
    area: Rect,
    dot: Option<Dot>,
) -> Vec<(usize, &BarView, Rect)> {
    /// Cells for a bar: what `F#m7 / B7 /` takes, or four big letters.
    const ROOM: u16 = 13;
    let narrowest = if dot.is_some() { 2 * ROOM } else { ROOM };
    let fitting = usize::from((area.width / narrowest).max(1));
    let pages = bars.len().div_ceil(fitting).max(1);
    let a_page = bars.len().div_ceil(pages).max(1);
    let from = here / a_page * a_page;
    let page: Vec<(usize, &BarView)> = bars.iter().enumerate().skip(from).take(a_page).collect();
    let ordinary = ordinary.max(1);
    // Lines of a bar or two are drawn as if they had four, so that bars are of one size.
    let least = a_page.max(4.min(fitting));
    let shared_out = |length: &dyn Fn(&BarView) -> usize| {
        let longer: usize = page.iter().map(|(_, bar)| length(bar).saturating_sub(ordinary)).sum();
        let whole = least.saturating_mul(ordinary).saturating_add(longer).max(1);
        let room = usize::from(area.width.saturating_sub(1));
        // Whole cells for an ordinary bar, so that all of them are of one size.
        let wide = room.saturating_mul(ordinary) / whole;
        let mut left = 0;
        let cells = page.iter().map(|(index, bar)| {
            let width = wide.saturating_mul(length(bar)) / ordinary;
            let width = u16::try_from(width).unwrap_or(0).min(area.width - left);
            let cell = Rect { x: area.x + left, width, ..area };
            left += width;
            (*index, *bar, cell)
        });
        cells.collect::<Vec<_>>()
    };
    let holds = |page: &[(usize, &BarView, Rect)]| {
        page.iter()
            .all(|(_, bar, cell)| in_place(&bar.shares, inside(*cell).width, 1, cells).is_some())
    };
    let by_length = shared_out(&|bar| bar.eighths.len().max(1));
    if page.iter().all(|(_, bar)| bar.eighths.len() == ordinary) || holds(&by_length) {
        return by_length;
    }
    let even = shared_out(&|_| ordinary);
    if holds(&even) { even } else { by_length }
}

/// Without the bar line and a cell of room on both sides.
fn inside(cell: Rect) -> Rect {
    let (_, inner) = split(cell, 2);
    Rect { width: inner.width.saturating_sub(1), ..inner }
}

fn bar_line(cell: Rect, dot: Option<Dot>, buffer: &mut Buffer) {
    let sign = if dot.is_some() { "┃" } else { "│" };
    for y in cell.top()..cell.bottom() {
        put(sign, Rect::new(cell.x, y, cell.width.min(1), 1), Style::new(), buffer);
    }
}

/// True if letters of that size fit into all the bars.
fn all_fit(shown: &[(usize, &BarView, Rect)], dot: Dot) -> bool {
    shown.iter().all(|(_, bar, cell)| {
        in_place(&bar.shares, inside(*cell).width, 2, |text| dot.columns(text)).is_some()
    })
}

/// The chords at their places in the bar.
fn draw_bar(bar: &BarView, area: Rect, dot: Option<Dot>, style: Style, buffer: &mut Buffer) {
    let meter = bar.crooked.map(|meter| format!("({meter}) ")).unwrap_or_default();
    let middle = area.height.saturating_sub(1) / 2;
    let row = Rect { y: area.y + middle, height: area.height.min(1), ..area };
    let big = dot.filter(|dot| dot.rows() <= area.height);
    if let Some(dot) = big
        && let Some(places) = in_place(&bar.shares, area.width, 2, |text| dot.columns(text))
    {
        for (left, text) in places {
            write(text, dot, split(area, left).1, style, buffer);
        }
        return;
    }
    let (_, rest) = split(row, cells(&meter));
    if let Some(places) = in_place(&bar.shares, rest.width, 1, cells) {
        put(&meter, row, style, buffer);
        for (left, text) in places {
            put(text, split(rest, left).1, style, buffer);
        }
        return;
    }
    let names: Vec<&str> =
        bar.shares.iter().map(String::as_str).filter(|text| *text != "/").collect();
    words(&names.join(" "), None, row, style, buffer);
}

/// Where each share of a bar is written, if all find room with a gap between them. A `/` gives way
/// to a long name before it.
fn in_place(
    shares: &[String],
    width: u16,
    gap: u16,
    columns: impl Fn(&str) -> u16,
) -> Option<Vec<(u16, &str)>> {
    let count = u32::try_from(shares.len()).ok()?.max(1);
    let mut free = 0;
    let mut places = Vec::new();
    for (at, text) in (0_u32..).zip(shares) {
        let left = u16::try_from(at * u32::from(width) / count).ok()?;
        let right = left.saturating_add(columns(text));
        if left < free || right > width {
            if text == "/" {
                continue;
            }
            return None;
        }
        free = right.saturating_add(gap);
        places.push((left, text.as_str()));
    }
    Some(places)
}

/// A mark for each beat; in the present bar, which has `Some`, its number, and the number of the beat
/// that is played on a ground of its own.
fn draw_beats(
    bar: &BarView,
    here: Option<Option<u32>>,
    look: Look,
    area: Rect,
    buffer: &mut Buffer,
) {
    let beats = bar.beats.max(1);
    for at in 0..beats {
        let left = |at: u32| (at * u32::from(area.width) / beats) as u16;
        let (from, to) = (left(at), left(at + 1));
        let place = Rect { x: area.x + from, width: to - from, ..area };
        let number = (at + 1).to_string();
        match here {
            Some(Some(beat)) if beat == at => {
                let style = look.stressed(Stress::Here);
                let ground = Rect { width: place.width.saturating_sub(1).max(1), ..place };
                buffer.set_style(ground.intersection(place).intersection(buffer.area), style);
                put(&number, place, style, buffer);
            }
            Some(_) => _ = put(&number, place, Style::new(), buffer),
            // In a lane of two rows a dot would be lost.
            None => _ = put(if area.height > 1 { "▌" } else { "·" }, place, Style::new(), buffer),
        }
    }
}

/// Where the singer sings and, in a row of its own below it, where the band stops; in one row both, where there
/// is no more: sung while the band is silent, `=` and `-` in turn.
fn draw_marks(bar: &BarView, area: Rect, dot: Option<Dot>, buffer: &mut Buffer) {
    let count = bar.eighths.len();
    if area.height == 0 || count == 0 {
        return;
    }
    let apart = area.height > 1;
    let sung = if dot.is_some() { "▀" } else { "=" };
    for column in 0..area.width {
        let eighth = |column: u16| usize::from(column) * count / usize::from(area.width);
        let at = eighth(column);
        let Some(mark) = bar.eighths.get(at) else { continue };
        let begins = column == 0 || eighth(column - 1) != at;
        let band = match mark.band {
            BandMark::Hit if begins => Some("x"),
            BandMark::Held if begins => Some("o"),
            BandMark::Hit | BandMark::Silent => Some("-"),
            BandMark::Held | BandMark::Plays => None,
        };
        let voice = mark.sung.then_some(sung);
        let mut sign = |row: u16, text: Option<&str>| {
            if let Some(text) = text {
                let place = Rect::new(area.x + column, area.y + row, 1, 1);
                put(text, place, Style::new(), buffer);
            }
        };
        match (voice, band) {
            _ if apart => {
                sign(0, voice);
                sign(1, band);
            }
            (Some(_), Some("-")) if column % 2 == 0 => sign(0, voice),
            (_, Some(_)) => sign(0, band),
            (_, None) => sign(0, voice),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::chart_line::Mark;
    use super::*;

    fn bar(shares: &[&str]) -> BarView {
        let shares = shares.iter().map(|share| (*share).to_owned()).collect();
        let eighths = vec![Mark::default(); 8];
        BarView { number: 1, outside: false, crooked: None, beats: 4, shares, eighths }
    }

    #[test]
    fn the_present_bar_is_shown_however_long_the_line() {
        for length in 1..40 {
            let bars = vec![bar(&["G"]); length];
            for width in [1, 20, 58, 78, 116, 196] {
                for (here, dot) in (0..length).flat_map(|at| [(at, None), (at, Some(Dot::SMALL))]) {
                    let area = Rect::new(3, 0, width, 4);
                    let shown = placed(&bars, here, 8, area, dot);
                    assert!(shown.iter().any(|(at, ..)| *at == here), "{here} of {length}");
                    assert!(shown.iter().all(|(.., cell)| area.intersection(*cell) == *cell));
                }
            }
        }
    }

    #[test]
    fn pages_of_a_long_line_begin_at_fixed_bars() {
        let bars = vec![bar(&["G"]); 8];
        let firsts: Vec<usize> =
            (0..8).map(|here| placed(&bars, here, 8, Rect::new(0, 0, 58, 2), None)[0].0).collect();
        assert_eq!(firsts, [0, 0, 0, 0, 4, 4, 4, 4]);
    }

    #[test]
    fn a_bar_is_as_wide_as_it_is_long() {
        let of = |eighths: usize, share: &str| BarView {
            eighths: vec![Mark::default(); eighths],
            ..bar(&[share])
        };
        let widths = |bars: &[BarView], ordinary| -> Vec<u16> {
            let area = Rect::new(0, 0, 79, 2);
            placed(bars, 0, ordinary, area, None).iter().map(|(.., cell)| cell.width).collect()
        };
        // Two beats in three, in four, and four in three.
        let short = |ordinary| [of(ordinary, "G"), of(4, "C"), of(ordinary, "D")];
        assert_eq!(widths(&short(6), 6), [19, 12, 19]);
        assert_eq!(widths(&short(8), 8), [19, 9, 19]);
        assert_eq!(widths(&[of(6, "G"), of(8, "C"), of(6, "D"), of(6, "G")], 6), [18, 24, 18, 18]);
        // A long name keeps the room of a whole bar.
        assert_eq!(widths(&[of(8, "G"), of(4, "C#mMaj7/G#")], 8), [19, 19]);
    }

    #[test]
    fn the_singer_and_the_stops_are_told_apart() {
        let mark = |sung, band| Mark { sung, band };
        let sung_on = BarView {
            eighths: vec![
                mark(true, BandMark::Hit),
                mark(true, BandMark::Silent),
                mark(false, BandMark::Silent),
                mark(true, BandMark::Plays),
            ],
            ..bar(&["G"])
        };
        let drawn = |rows| -> Vec<String> {
            let area = Rect::new(0, 0, 8, rows);
            let mut buffer = Buffer::empty(area);
            draw_marks(&sung_on, area, None, &mut buffer);
            let row = |y| (0..8).map(|x| buffer[(x, y)].symbol()).collect::<String>();
            (0..rows).map(row).collect()
        };
        assert_eq!(drawn(2), ["====  ==", "x-----  "]);
        assert_eq!(drawn(1), ["x-=---=="]);
    }

    #[test]
    fn shares_stand_at_their_place_or_not_at_all() {
        let places = |shares: &[&str], width| {
            let shares = bar(shares).shares;
            in_place(&shares, width, 1, cells)
                .map(|places| places.iter().map(|(at, text)| format!("{at}{text}")).collect())
        };
        let some = |texts: &[&str]| Some(texts.iter().map(|text| (*text).to_owned()).collect());
        assert_eq!(places(&["G", "/", "/", "D"], 12), some(&["0G", "3/", "6/", "9D"]));
        // A slash gives way to a long name, a chord does not.
        assert_eq!(places(&["F#m7", "/", "/", "D"], 12), some(&["0F#m7", "6/", "9D"]));
        assert_eq!(places(&["F#m7", "B7"], 8), None::<Vec<String>>);
        assert_eq!(places(&["Cmaj7"], 4), None);
    }
}
