use std::ops::{Range, RangeInclusive};

use super::chord_words::chord_words;
use crate::arrange::{Arrangement, Bar};
use crate::chart::Stop;
use crate::live::ChordsAs;
use crate::time::{BarMeter, Ticks};

/// A bar as the chart writes it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BarView {
    /// Its number in the song as played.
    pub number: usize,
    /// True if a loop is played that leaves it out.
    pub outside: bool,
    /// Its meter, if it is not the song's.
    pub crooked: Option<BarMeter>,
    /// Beats in it.
    pub beats: u32,
    /// Equal shares of the bar: a chord's name where one begins, and `/` where one goes on. One
    /// share for a bar of one chord.
    pub shares: Vec<String>,
    /// What happens in each of its eighth notes.
    pub eighths: Vec<Mark>,
}

/// What happens in an eighth note besides the chord.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Mark {
    /// The singer sings, whatever the band does.
    pub sung: bool,
    /// What the band does, whoever sings.
    pub band: BandMark,
}

/// What the band does in an eighth note.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum BandMark {
    /// It plays on.
    #[default]
    Plays,
    /// All hit together and choke.
    Hit,
    /// All strike together and let it ring.
    Held,
    /// It is silent.
    Silent,
}

/// The bars of the chart's line that the bar of that index belongs to.
pub(super) fn line_of(song: &Arrangement, index: usize) -> Range<usize> {
    /// More bars in one line than anyone writes; a bound on the work of drawing.
    const LONGEST: usize = 256;
    let Some(bar) = song.bars.get(index) else { return index..index };
    let same = |other: &Bar, steps: usize, forward: bool| {
        let number = if forward { bar.number + steps } else { bar.number.wrapping_sub(steps) };
        // A kickoff's bars have no numbers, and it comes but once.
        let in_order = other.number == number || bar.number == 0;
        other.pass == bar.pass && in_order
    };
    let mut from = index;
    while from > 0 && index - from < LONGEST && !song.bars.get(from).is_none_or(starts_line) {
        match song.bars.get(from - 1) {
            Some(before) if same(before, index - from + 1, false) => from -= 1,
            _ => break,
        }
    }
    let mut to = index + 1;
    while let Some(next) = song.bars.get(to) {
        if starts_line(next) || to - index > LONGEST || !same(next, to - index, true) {
            break;
        }
        to += 1;
    }
    from..to
}

fn starts_line(bar: &Bar) -> bool {
    bar.facts.phrase_start
}

/// The numbers of the bars that are looped, if the arrangement is a loop.
pub(super) fn looped(song: &Arrangement) -> Option<RangeInclusive<usize>> {
    let last = song.round?.checked_sub(1)?;
    Some(song.bars.first()?.number..=song.bars.get(last)?.number)
}

/// Bars as the chart writes them.
pub(super) fn chart_line(
    song: &Arrangement,
    bars: Range<usize>,
    looped: Option<&RangeInclusive<usize>>,
    how: ChordsAs,
) -> Vec<BarView> {
    let bars = song.bars.get(bars).unwrap_or_default();
    bars.iter().map(|bar| bar_view(song, bar, looped, how)).collect()
}

/// The whole song as the chart writes it: lines of bars, each with the number of its pass, from 0.
pub fn chart_lines(song: &Arrangement, how: ChordsAs) -> Vec<(usize, Vec<BarView>)> {
    let mut lines: Vec<(usize, Vec<BarView>)> = Vec::new();
    for bar in &song.bars {
        let view = bar_view(song, bar, None, how);
        match lines.last_mut() {
            Some((pass, line)) if *pass == bar.pass && !starts_line(bar) => line.push(view),
            _ => lines.push((bar.pass, vec![view])),
        }
    }
    lines
}

fn bar_view(
    song: &Arrangement,
    bar: &Bar,
    looped: Option<&RangeInclusive<usize>>,
    how: ChordsAs,
) -> BarView {
    let eighths = bar.meter.bar().get() / Ticks::EIGHTH.get();
    BarView {
        number: bar.number,
        outside: looped.is_some_and(|bars| !bars.contains(&bar.number)),
        crooked: (bar.meter != song.meter).then_some(bar.meter),
        beats: u32::try_from(bar.beats()).unwrap_or(1),
        shares: shares(song, bar, how),
        eighths: (0..eighths).map(|at| mark(song, bar, Ticks::EIGHTH * at)).collect(),
    }
}

/// `G`; `C`, `D`; `G`, `/`, `/`, `D`.
fn shares(song: &Arrangement, bar: &Bar, how: ChordsAs) -> Vec<String> {
    let spans = song.spans.get(bar.spans.clone()).unwrap_or_default();
    let lengths = || {
        spans.iter().map(|span| (span.end.min(bar.end()) - span.start.max(bar.start)).get().max(0))
    };
    let unit = lengths().fold(0, gcd).max(1);
    spans
        .iter()
        .zip(lengths())
        .flat_map(|(span, length)| {
            let held = usize::try_from(length / unit - 1).unwrap_or(0);
            std::iter::once(chord_words(song, span.chord, how).to_string())
                .chain(std::iter::repeat_n("/".to_owned(), held))
        })
        .collect()
}

fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

fn mark(song: &Arrangement, bar: &Bar, place: Ticks) -> Mark {
    let stops = song.stops.get(bar.stops.clone()).unwrap_or_default();
    let stop = stops.iter().rev().find(|stop| stop.start <= bar.start + place);
    let band = match stop.map(|stop| (stop.stop, stop.start == bar.start + place)) {
        Some((Stop::Hit, true)) => BandMark::Hit,
        Some((Stop::Hold, true)) => BandMark::Held,
        Some((Stop::Hit, false) | (Stop::Silence, _)) => BandMark::Silent,
        // A held one rings on.
        Some((Stop::Hold, false) | (Stop::PlayOn, _)) | None => BandMark::Plays,
    };
    Mark { sung: bar.is_sung_at(place), band }
}
