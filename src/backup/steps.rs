//! The grid that a hand plays on: the steps of a song's bars, and what happens in each.

use super::table::slot;
use crate::arrange::{Arrangement, Bar, BarKind};
use crate::chart::Stop;
use crate::time::{Meter, Ticks};

/// A step of a bar: an eighth, in 2/4 a sixteenth.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Step {
    pub at: Ticks,
    /// How long it is.
    pub length: Ticks,
    pub bar: usize,
    /// The chord that sounds, in the arrangement's spans.
    pub span: usize,
    /// True while the singer sings.
    pub sung: bool,
    /// True where the band plays on and there is a chord.
    pub open: bool,
}

impl Step {
    /// Where the next begins.
    pub fn end(&self) -> Ticks {
        self.at + self.length
    }
}

/// The meter whose bars are played: the bar's own, but where a beat is dropped or added of a song in four or in
/// two the song's, cut short or begun again, so that the hand keeps its gait.
pub(super) fn meter_of(song: &Arrangement, bar: &Bar) -> Meter {
    let even = |meter| matches!(meter, Meter::FourFour | Meter::TwoTwo | Meter::TwoFour);
    if even(song.meter) && even(bar.gait) { song.meter } else { bar.gait }
}

/// How many steps the bar has.
pub(super) fn steps_of(song: &Arrangement, bar: &Bar) -> usize {
    let steps = bar.meter.bar().get() / slot(meter_of(song, bar)).get();
    usize::try_from(steps).unwrap_or(0)
}

/// The steps of all bars that are played by patterns, in order.
pub(super) fn steps(song: &Arrangement) -> Vec<Step> {
    let grooves = song.bars.iter().enumerate().filter(|(_, bar)| bar.kind == BarKind::Groove);
    let of_bar = |(index, bar)| steps_of_bar(song, index, bar);
    grooves.flat_map(of_bar).collect()
}

fn steps_of_bar(song: &Arrangement, index: usize, bar: &Bar) -> Vec<Step> {
    let length = slot(meter_of(song, bar));
    let stops = song.stops.get(bar.stops.clone()).unwrap_or_default();
    let step = |number: usize| {
        let at = bar.start + length * number as i64;
        let within = bar
            .spans
            .clone()
            .rfind(|span| song.spans.get(*span).is_some_and(|span| span.start <= at));
        let span = within.unwrap_or(bar.spans.start);
        let plays = stops.iter().rfind(|stop| stop.start <= at);
        let plays = plays.is_none_or(|stop| stop.stop == Stop::PlayOn);
        let chord = song.spans.get(span).is_some_and(|span| span.chord.is_some());
        let sung = bar.is_sung_at(at - bar.start);
        Step { at, length, bar: index, span, sung, open: plays && chord }
    };
    (0..steps_of(song, bar)).map(step).collect()
}
