//! How wide a bar is written, and which bars stand in a row.

use std::ops::Range;

use crate::coverage::BeatPart;
use crate::tablature::{ChordMark, TabBar, Tablature};
use crate::time::{Meter, Ticks};

/// What stands before the first bar of a row: a string's name and a bar line.
pub(super) const MARGIN: usize = 2;

/// How wide a step is written at most to make room for the names of chords.
const WIDEST_STEP: usize = 12;

/// How a bar is spaced: a dash, so many steps of equal width, a bar line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct BarLayout {
    unit: Ticks,
    steps: usize,
    step: usize,
}

impl BarLayout {
    /// Of a bar in a song of that meter: steps as fine as its notes need, eighths at least, each wide enough for its
    /// frets, and for the chords' names not to touch.
    pub(super) fn of(bar: &TabBar, meter: Meter) -> Self {
        let places = bar.strokes.iter().map(|s| s.at).chain(bar.chords.iter().map(|c| c.at));
        // A short bar is spaced as those about it: a meter of its own makes it no finer.
        let unit = places.fold(BeatPart::grid(meter).get(), |unit, at| gcd(unit, at.get()));
        let unit = Ticks::new(unit.max(1));
        let steps = usize::try_from(bar.meter.bar().get() / unit.get()).unwrap_or(1);
        let picks = bar.strokes.iter().flat_map(|stroke| &stroke.picks);
        let digits = if picks.clone().any(|pick| pick.fret > 9) { 2 } else { 1 };
        let fits = |step: &usize| {
            let layout = Self { unit, steps, step: *step };
            let ends = bar.chords.iter().skip(1).map(|mark| layout.column(mark.at));
            let ends = ends.chain([layout.width() + 1]);
            bar.chords
                .iter()
                .zip(ends)
                .all(|(mark, end)| layout.column(mark.at) + name(mark).chars().count() < end)
        };
        let step = (digits + 1..WIDEST_STEP).find(fits).unwrap_or(WIDEST_STEP);
        Self { unit, steps, step }
    }

    /// How many columns it takes, its bar line included.
    pub(super) const fn width(&self) -> usize {
        1 + self.steps * self.step + 1
    }

    /// The column of a place in the bar, from the bar's own first.
    pub(super) fn column(&self, at: Ticks) -> usize {
        let step = usize::try_from(at.get() / self.unit.get()).unwrap_or(0);
        1 + step * self.step
    }
}

/// How each bar is spaced. Where a bar of another length stands in a line, it and all of the line are spaced alike,
/// so that the shorter bar is the narrower one.
pub(super) fn layouts(tab: &Tablature) -> Vec<BarLayout> {
    let mut layouts: Vec<BarLayout> =
        tab.bars.iter().map(|bar| BarLayout::of(bar, tab.meter)).collect();
    for line in lines(tab) {
        let is_odd = |bar: &TabBar| bar.meter != tab.meter;
        if !tab.bars.get(line.clone()).unwrap_or_default().iter().any(is_odd) {
            continue;
        }
        let Some(line) = layouts.get_mut(line) else { continue };
        // Columns for the time of the finest grid: as many as the bar that needs most.
        let finest = line.iter().fold(0, |unit, layout| gcd(unit, layout.unit.get())).max(1);
        let times = |layout: &BarLayout| usize::try_from(layout.unit.get() / finest).unwrap_or(1);
        let densest = line.iter().map(|layout| layout.step.div_ceil(times(layout))).max();
        for layout in line {
            layout.step = layout.step.max(densest.unwrap_or(1) * times(layout));
        }
    }
    layouts
}

/// The lines of the chart, and what begins a pass.
fn lines(tab: &Tablature) -> Vec<Range<usize>> {
    let count = tab.bars.len();
    let begins = |index: usize| {
        index == 0 || tab.opens_pass(index) || tab.bars.get(index).is_none_or(|bar| bar.opens_line)
    };
    let firsts: Vec<usize> = (0..count).filter(|&index| begins(index)).collect();
    let ends = firsts.iter().copied().skip(1).chain([count]);
    firsts.iter().copied().zip(ends).map(|(first, end)| first..end).collect()
}

/// How a chord is written over the tab.
pub(super) fn name(mark: &ChordMark) -> String {
    mark.chord.map_or_else(|| "N.C.".to_owned(), |chord| chord.to_string())
}

/// What is counted under a bar that is so long: where, and the word. In 6/8 all six eighths; in 2/2 and 2/4 the two
/// beats and their halves.
pub(super) fn counts(meter: Meter, length: Ticks) -> Vec<(Ticks, String)> {
    let beat = match meter {
        Meter::SixEight => Ticks::EIGHTH,
        _ => meter.beat(),
    };
    // Of a beat that is cut short, what there is of it.
    let beats = (length.get() + beat.get() - 1) / beat.get();
    let mut counts = Vec::new();
    for number in 0..beats {
        counts.push((beat * number, (number + 1).to_string()));
        if meter != Meter::SixEight {
            counts.push((beat * number + Ticks::new(beat.get() / 2), "&".to_owned()));
        }
    }
    counts.retain(|(at, _)| *at < length);
    counts
}

/// Which bars stand in each row. A pass and a line of the chart begin a new one; a line that does not fit into
/// one is shared out evenly.
pub(super) fn systems(tab: &Tablature, layouts: &[BarLayout], width: usize) -> Vec<Range<usize>> {
    lines(tab).into_iter().flat_map(|line| shared_out(line, layouts, width)).collect()
}

fn shared_out(line: Range<usize>, layouts: &[BarLayout], width: usize) -> Vec<Range<usize>> {
    let wide = |bars: Range<usize>| {
        let bars = layouts.get(bars).unwrap_or_default();
        MARGIN + bars.iter().map(BarLayout::width).sum::<usize>()
    };
    // As many bars as fit, row by row, but never more than `most`.
    let rows = |most: usize| {
        let mut rows: Vec<Range<usize>> = Vec::new();
        for index in line.clone() {
            match rows.last_mut() {
                Some(row) if row.len() < most && wide(row.start..index + 1) <= width => {
                    row.end = index + 1;
                }
                _ => rows.push(index..index + 1),
            }
        }
        rows
    };
    let greedy = rows(usize::MAX);
    let even = rows(line.len().div_ceil(greedy.len().max(1)));
    if even.len() <= greedy.len() { even } else { greedy }
}

fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { gcd(b, a.rem_euclid(b)) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_counted_lies_in_the_bar() {
        let words = |meter| {
            let words: Vec<String> =
                counts(meter, meter.bar()).into_iter().map(|(_, word)| word).collect();
            words.join(" ")
        };
        assert_eq!(words(Meter::FourFour), "1 & 2 & 3 & 4 &");
        assert_eq!(words(Meter::ThreeFour), "1 & 2 & 3 &");
        assert_eq!(words(Meter::TwoTwo), "1 & 2 &");
        assert_eq!(words(Meter::SixEight), "1 2 3 4 5 6");
        for meter in Meter::ALL {
            assert!(counts(meter, meter.bar()).iter().all(|(at, _)| *at < meter.bar()), "{meter}");
        }
    }

    #[test]
    fn a_long_line_is_shared_out_evenly() {
        let bar = BarLayout { unit: Ticks::EIGHTH, steps: 8, step: 2 };
        let rows = |bars: usize, width| -> Vec<usize> {
            shared_out(0..bars, &vec![bar; bars], width).iter().map(Range::len).collect()
        };
        assert_eq!(bar.width(), 18);
        assert_eq!(rows(4, 80), [4]);
        assert_eq!(rows(4, 60), [2, 2], "three would fit");
        assert_eq!(rows(5, 80), [3, 2]);
        assert_eq!(rows(4, 10), [1, 1, 1, 1]);
    }
}
