//! The steps that a break is laid out in, and which of them have a note of the tune.

use super::fold::Octaves;
use crate::arrange::{Arrangement, Bar, MelodyNote};
use crate::time::{Meter, Ticks};

/// A step: an eighth, in 2/4 a sixteenth.
#[derive(Clone, Copy, Debug)]
pub(super) struct GridStep {
    pub at: Ticks,
    pub length: Ticks,
    pub bar: usize,
    /// The chord, in the arrangement's spans.
    pub span: usize,
    /// True if a beat begins.
    pub beat: bool,
    /// The note of the tune that begins.
    pub tune: Option<Onset>,
}

/// The line that a break carries.
#[derive(Clone, Copy, Debug)]
pub(super) enum TuneLine<'a> {
    /// The tune as the song has it.
    Written,
    /// One made up, in the order of time.
    Made(&'a [MelodyNote]),
}

impl<'a> TuneLine<'a> {
    /// Its notes in a bar.
    pub(super) fn of(self, song: &'a Arrangement, bar: &Bar) -> &'a [MelodyNote] {
        match self {
            Self::Written => bar.melody.clone().and_then(|notes| song.melody.get(notes)),
            Self::Made(notes) => {
                let from = notes.partition_point(|note| note.start < bar.start);
                let to = notes.partition_point(|note| note.start < bar.end());
                notes.get(from..to)
            }
        }
        .unwrap_or_default()
    }
}

/// A note of the tune.
#[derive(Clone, Copy, Debug)]
pub(super) struct Onset {
    /// What it would sound without the capo, in the octave in which it is played.
    pub pitch: u8,
    /// A note that follows within the same step.
    pub then: Option<u8>,
    /// Where it ends.
    pub end: Ticks,
}

/// The length of a step in a meter.
const fn step(meter: Meter) -> Ticks {
    match meter {
        Meter::TwoFour => Ticks::new(Ticks::EIGHTH.get() / 2),
        _ => Ticks::EIGHTH,
    }
}

/// How many steps a beat has, as the hand feels it: two, of six eighths three.
const fn of_beat(meter: Meter) -> i64 {
    match meter {
        Meter::SixEight => 3,
        _ => 2,
    }
}

/// The meter that a hand goes on in: the bar's own, but in a song of even meter where a beat is dropped or added the
/// song's.
fn gait(song: &Arrangement, bar: &Bar) -> Meter {
    let even = |meter| matches!(meter, Meter::FourFour | Meter::TwoTwo | Meter::TwoFour);
    if even(song.meter) && even(bar.gait) { song.meter } else { bar.gait }
}

/// The steps of bars that follow each other.
pub(super) fn grid(
    song: &Arrangement,
    bars: &[usize],
    line: TuneLine<'_>,
    capo: u8,
) -> Vec<GridStep> {
    let of_bar = |bar: &Bar| line.of(song, bar).iter().map(|note| note.pitch).collect();
    let octaves = Octaves::new(song, bars, of_bar, capo);
    let mut steps: Vec<GridStep> = Vec::new();
    // The step of the note that sounds, and where that ends.
    let mut last: Option<(usize, Ticks)> = None;
    for index in bars {
        let Some(bar) = song.bars.get(*index) else { continue };
        let meter = gait(song, bar);
        let length = step(meter);
        let first = steps.len();
        let count = bar.meter.bar().get() / length.get();
        steps.extend((0..count).map(|number| {
            let at = bar.start + length * number;
            let mut spans = bar.spans.clone();
            let within =
                spans.rfind(|span| song.spans.get(*span).is_some_and(|span| span.start <= at));
            let span = within.unwrap_or(bar.spans.start);
            let beat = number % of_beat(meter) == 0;
            GridStep { at, length, bar: *index, span, beat, tune: None }
        }));
        for note in line.of(song, bar) {
            let pitch = octaves.of(bar, note.pitch);
            if note.tied
                && let Some((at, end)) = last
                && end == note.start
            {
                if let Some(tune) = steps.get_mut(at).and_then(|step| step.tune.as_mut()) {
                    tune.end = note.end;
                }
                last = Some((at, note.end));
                continue;
            }
            let number = (note.start - bar.start).get() / length.get();
            let at = first + usize::try_from(number).unwrap_or(0);
            let Some(step) = steps.get_mut(at) else { continue };
            match step.tune.as_mut() {
                Some(tune) => {
                    tune.then = tune.then.or(Some(pitch));
                    tune.end = note.end;
                }
                None => step.tune = Some(Onset { pitch, then: None, end: note.end }),
            }
            last = Some((at, note.end));
        }
    }
    steps
}
