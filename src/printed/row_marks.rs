//! A line of the chart with its bar lines, chords and signs. All measures are shares of the chords' size.

use super::runs::chord_runs;
use super::setter::{Block, Setter, of_kind};
use super::{Anchor, BarSign, Cell, Mark, Part, PlacedChord, Row, Run, TextKind};
use crate::chart::Stop;

/// How high a chord stands over its base line, as bar lines do.
const ABOVE: f64 = 0.86;
/// How far they go under it.
const BELOW: f64 = 0.2;
/// Room for stops above the chords.
const STOPS: f64 = 0.58;
/// Room for the brackets of endings.
const BRACKET: f64 = 0.6;
/// Where the singer's line lies under the base line.
const SUNG: f64 = 0.36;
/// Room for numbers under names.
const UNDER: f64 = 0.62;
/// From one line of the chart to the next.
const GAP: f64 = 0.5;
/// From a bar line to the chord after it.
const PAD: f64 = 0.2;
/// From a chord to the next at least.
const APART: f64 = 0.16;
/// Chords are made smaller until they fit, but not more than this.
const NARROWEST: f64 = 0.5;

/// A section's lines of bars: so many bars wide at most.
pub(super) struct RowSetter<'a> {
    pub setter: Setter<'a>,
    pub part: &'a Part,
    pub units: f64,
}

impl Setter<'_> {
    /// How wide a bar must be for its chords to stand in it at their full size, as a bar of the song's meter.
    pub(super) fn needed(&self, cell: &Cell) -> f64 {
        let wide = |chord: &PlacedChord| -> f64 {
            let runs = chord_runs(&chord.text, self.size, true);
            runs.iter().map(|run| self.fonts.width(&run.words, run.size, run.bold)).sum()
        };
        let chords: f64 = cell.chords.iter().map(|chord| wide(chord) + APART * self.size).sum();
        let slashes = cell.slashes.len() as f64 * 0.4 * self.size;
        (PAD * self.size + chords + slashes) / cell.width.max(0.1)
    }
}

/// Where the parts of a line lie, from its top.
struct Heights {
    stops: f64,
    bracket: f64,
    base: f64,
    bottom: f64,
    sung: f64,
    height: f64,
}

/// Room for the numbers of bars, in sizes of words.
const GUTTER: f64 = 2.3;

impl RowSetter<'_> {
    fn heights(&self, row: &Row) -> Heights {
        let size = self.setter.size;
        let has_endings = row.cells.iter().any(|cell| cell.ending.is_some());
        let has_under = row.cells.iter().flat_map(|cell| &cell.chords).any(|c| c.under.is_some());
        let bracket = if has_endings { BRACKET * size } else { 0.0 };
        let has_stops = row.cells.iter().any(|cell| !cell.stops.is_empty());
        let stops = if has_stops { STOPS * size } else { 0.0 };
        let base = bracket + stops + ABOVE * size;
        let bottom = base + BELOW * size + if has_under { UNDER * size } else { 0.0 };
        let sung = bottom + (SUNG - BELOW) * size;
        let below = if self.part.is_sung { sung } else { bottom };
        Heights {
            stops: bracket + stops - 0.12 * size,
            bracket: 0.1 * size,
            base,
            bottom,
            sung,
            height: below + GAP * size,
        }
    }

    /// How wide a bar is.
    fn unit(&self) -> f64 {
        (self.setter.width - self.gutter()) / self.units.max(1.0)
    }

    fn gutter(&self) -> f64 {
        self.setter.small * GUTTER
    }

    pub(super) fn block(&self, row: &Row) -> Block {
        let heights = self.heights(row);
        let mut marks = self.numbers(row, &heights);
        let mut x = self.gutter() + row.indent * self.unit();
        // Where the ending that is open began.
        let mut ending = None;
        for cell in &row.cells {
            let width = cell.width * self.unit();
            if let Some(number) = cell.ending
                && let Some((from, number)) = ending.replace((x, number))
            {
                marks.extend(self.bracket(from, x, number, &heights));
            }
            marks.extend(self.sign(cell.open, x, &heights));
            marks.extend(self.cell(cell, x, width, &heights));
            x += width;
        }
        if let Some((from, number)) = ending {
            marks.extend(self.bracket(from, x, number, &heights));
        }
        marks.extend(self.sign(row.close, x, &heights));
        Block { height: heights.height, space: 0.0, keeps: false, marks }
    }

    /// The first bar's number, and under it the one that it has when it comes again.
    fn numbers(&self, row: &Row, heights: &Heights) -> Vec<Mark> {
        let small = self.setter.small * 0.9;
        let x = self.gutter() - small * 0.45;
        let lines = row.numbers.len().min(2);
        let numbers = row.numbers.iter().take(2).enumerate().map(|(at, number)| {
            let up = (lines - 1 - at) as f64 * small * 1.05;
            let middle = if lines == 1 { 0.3 * self.setter.size - small * 0.35 } else { 0.0 };
            let y = heights.base - up - middle;
            of_kind(
                self.setter.text((x, y), Anchor::End, small, false, &number.to_string()),
                TextKind::BarNumber,
            )
        });
        numbers.collect()
    }

    fn bracket(&self, from: f64, to: f64, number: u8, heights: &Heights) -> Vec<Mark> {
        let size = self.setter.size;
        let (y, small) = (heights.bracket, size * 0.42);
        let line = |from, to| Mark::Line { from, to, thick: 0.7, is_grey: false };
        vec![
            line((from, y), (to - 0.25 * size, y)),
            line((from, y), (from, y + small)),
            self.setter.text(
                (from + small * 0.35, y + small * 0.95),
                Anchor::Start,
                small,
                false,
                &format!("{number}."),
            ),
        ]
    }

    /// What stands between bars.
    fn sign(&self, sign: BarSign, x: f64, heights: &Heights) -> Vec<Mark> {
        let size = self.setter.size;
        let (top, bottom) = (heights.base - ABOVE * size, heights.bottom);
        let line = |x: f64, thick: f64| Mark::Line {
            from: (x, top),
            to: (x, bottom),
            thick,
            is_grey: false,
        };
        let thin = (size * 0.045).clamp(0.7, 1.4);
        let dots = |x: f64| {
            [0.36, 0.64].map(|share| Mark::Dot {
                at: (x, top + (bottom - top) * share),
                radius: size * 0.06,
            })
        };
        let (thick, apart) = (thin * 3.0, size * 0.13);
        match sign {
            BarSign::Line => vec![line(x, thin)],
            BarSign::Double => vec![line(x - apart, thin), line(x, thick)],
            BarSign::RepeatFrom => {
                let [one, other] = dots(x + 2.0 * apart);
                vec![line(x, thick), line(x + apart, thin), one, other]
            }
            BarSign::RepeatTo => {
                let [one, other] = dots(x - 2.0 * apart);
                vec![line(x - apart, thin), line(x, thick), one, other]
            }
        }
    }

    fn cell(&self, cell: &Cell, x: f64, width: f64, heights: &Heights) -> Vec<Mark> {
        let (setter, size) = (&self.setter, self.setter.size);
        let mut marks = Vec::new();
        let mut pad = PAD * size;
        if cell.open == BarSign::RepeatFrom {
            pad += 0.25 * size;
        }
        if let Some(meter) = cell.meter {
            let small = size * 0.4;
            let words = meter.to_string();
            let at = (x + pad * 0.6, heights.base - 0.3 * size);
            marks.push(setter.text(at, Anchor::Start, small, false, &words));
            pad += setter.fonts.width(&words, small, false);
        }
        let room = (width - pad).max(size * 0.4);
        let place =
            |eighth: u32| x + pad + room * f64::from(eighth) / f64::from(cell.eighths.max(1));
        let end = x + width - 0.14 * size;
        marks.extend(self.in_a_row(cell, place, end, heights));
        for mark in &cell.stops {
            let (sign, bold) = match mark.stop {
                Stop::PlayOn => continue,
                Stop::Hit => ("×", true),
                Stop::Hold => ("◇", true),
                Stop::Silence => ("–", false),
            };
            let at = (place(mark.at), heights.stops);
            marks.push(setter.text(at, Anchor::Start, size * 0.6, bold, sign));
        }
        for &(from, until) in &cell.sung {
            let begin = if from == 0 { x + 0.06 * size } else { place(from) };
            let end = if until >= cell.eighths { x + width - 0.06 * size } else { place(until) };
            let y = heights.sung;
            let thick = (size * 0.075).max(1.0);
            marks.push(Mark::Line { from: (begin, y), to: (end, y), thick, is_grey: true });
        }
        marks
    }

    /// Chords and slashes: each at its place as long as there is room, all alike smaller until there is.
    fn in_a_row(
        &self,
        cell: &Cell,
        place: impl Fn(u32) -> f64,
        end: f64,
        heights: &Heights,
    ) -> Vec<Mark> {
        let size = self.setter.size;
        let mut pieces: Vec<(u32, TextKind, Vec<Run>)> = Vec::new();
        for chord in &cell.chords {
            pieces.push((chord.at, TextKind::Chord, self.runs(chord)));
        }
        for &slash in &cell.slashes {
            let run = Run { words: "/".to_owned(), size: size * 0.7, ..Run::default() };
            pieces.push((slash, TextKind::Words, vec![run]));
        }
        pieces.sort_by_key(|(at, _, _)| *at);
        let wide: Vec<f64> = pieces.iter().map(|(_, _, runs)| self.wide(runs)).collect();
        let first = pieces.first().map_or(end, |(at, _, _)| place(*at));
        let mut share = 1.0;
        let places = loop {
            let mut right = end;
            let mut places: Vec<f64> = Vec::new();
            for ((at, _, _), wide) in pieces.iter().zip(&wide).rev() {
                let left = place(*at).min(right - wide * share);
                places.push(left);
                right = left - APART * size * share;
            }
            places.reverse();
            let fits = places.first().is_none_or(|left| *left >= first - 0.01);
            if fits || share <= NARROWEST {
                break places;
            }
            share -= 0.05;
        };
        let mut marks = Vec::new();
        for ((_, kind, runs), left) in pieces.into_iter().zip(&places) {
            marks.push(self.set((*left, heights.base), runs, share, kind));
        }
        let of_chords = cell.chords.iter().filter_map(|chord| Some((chord, chord.under.as_ref()?)));
        for (chord, under) in of_chords {
            let runs = chord_runs(under, size * 0.55, false);
            let free = place(chord.until) - place(chord.at) - APART * size;
            let share = (free / self.wide(&runs).max(0.1)).clamp(NARROWEST, 1.0);
            let y = heights.base + (BELOW + UNDER * 0.75) * size;
            marks.push(self.set((place(chord.at), y), runs, share, TextKind::Aside));
        }
        marks
    }

    fn runs(&self, chord: &PlacedChord) -> Vec<Run> {
        let size = self.setter.size;
        let mut runs = chord_runs(&chord.text, size, !chord.is_held);
        if chord.is_pushed {
            let (words, size) = ("‹".to_owned(), size * 0.8);
            runs.insert(0, Run { words, size, rise: size * 0.08, ..Run::default() });
        }
        runs
    }

    fn wide(&self, runs: &[Run]) -> f64 {
        runs.iter().map(|run| self.setter.fonts.width(&run.words, run.size, run.bold)).sum()
    }

    /// Words made that much smaller.
    fn set(&self, (x, y): (f64, f64), mut runs: Vec<Run>, share: f64, kind: TextKind) -> Mark {
        for run in &mut runs {
            run.size *= share;
            run.rise *= share;
            run.outline *= share;
        }
        let width = self.wide(&runs);
        Mark::Text { x, y, anchor: Anchor::Start, width, runs, kind }
    }
}
