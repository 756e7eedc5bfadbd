use super::leader::Leader;
use super::tone::Tone;
use crate::arrange::{Arrangement, Bar};
use crate::hash::{GAMMA, mix};
use crate::perform::lines::theme;
use crate::theory::Chord;
use crate::time::{Meter, Ticks};

/// What a lead's hands know of the song.
#[derive(Clone, Copy)]
pub(super) struct Hand<'a> {
    pub song: &'a Arrangement,
    pub seed: u64,
    pub leader: &'a Leader,
}

impl<'a> Hand<'a> {
    /// A bar by its number among the arrangement's.
    pub(super) fn bar(&self, number: u32) -> Option<&'a Bar> {
        self.song.bars.get(number as usize)
    }

    /// The chord of a span.
    pub(super) fn chord(&self, span: usize) -> Option<&'a Chord> {
        self.song.chord(self.song.spans.get(span)?.chord?)
    }

    /// How long something lasts at the song's own tempo, in milliseconds.
    pub(super) fn millis(&self, length: Ticks) -> f64 {
        self.song.pace.nanos(length).seconds() * 1000.0
    }

    /// The step that the hand goes in: an eighth, in 2/4 a sixteenth.
    pub(super) fn step(&self, number: u32) -> Ticks {
        self.bar(number).map_or(Ticks::EIGHTH, |bar| step(self.song, bar))
    }

    /// The steps of a beat as the hand feels it: two, of six eighths three.
    pub(super) fn beat(&self, number: u32) -> Ticks {
        let six = self.bar(number).is_some_and(|bar| bar.gait == Meter::SixEight);
        self.step(number) * if six { 3 } else { 2 }
    }

    /// Where in its bar a tone stands.
    pub(super) fn place(&self, tone: &Tone) -> Ticks {
        self.bar(tone.bar).map_or(Ticks::ZERO, |bar| tone.at - bar.start)
    }

    /// True if a tone begins on a beat.
    pub(super) fn on_beat(&self, tone: &Tone) -> bool {
        self.place(tone).is_multiple_of(self.beat(tone.bar))
    }

    /// True if it begins where the bar is heaviest: first and third of four, the first of three, both of six.
    pub(super) fn is_strong(&self, tone: &Tone) -> bool {
        self.bar(tone.bar).is_none_or(|bar| self.place(tone).is_multiple_of(strong(bar.gait)))
    }

    /// True if it begins on a backbeat.
    pub(super) fn is_back(&self, tone: &Tone) -> bool {
        self.on_beat(tone) && !self.is_strong(tone)
    }

    /// A throw from 0 to 99 for a place of a pass. Lines that answer each other throw alike.
    pub(super) fn dice(&self, what: u64, number: u32, at: Ticks) -> u64 {
        let Some(bar) = self.bar(number) else { return 0 };
        let (line, turn) = (theme(bar.line) as u64, bar.turn as u64);
        let place = (bar.pass as u64) << 44
            ^ line << 36
            ^ turn << 16
            ^ (at - bar.start).get().unsigned_abs();
        mix((self.seed ^ what << 32).wrapping_mul(GAMMA).wrapping_add(place)) % 100
    }

    /// The same for a tone.
    pub(super) fn throw(&self, what: u64, tone: &Tone) -> u64 {
        self.dice(what, tone.bar, tone.at)
    }
}

/// The step that hands go in: an eighth, in 2/4 a sixteenth; but in a song of even meter where a beat is dropped or
/// added as in the others.
pub(super) fn step(song: &Arrangement, bar: &Bar) -> Ticks {
    let even = |meter| matches!(meter, Meter::FourFour | Meter::TwoTwo | Meter::TwoFour);
    let gait = if even(song.meter) && even(bar.gait) { song.meter } else { bar.gait };
    match gait {
        Meter::TwoFour => Ticks::new(Ticks::EIGHTH.get() / 2),
        _ => Ticks::EIGHTH,
    }
}

/// How far the strong beats of a meter are apart.
pub(super) fn strong(meter: Meter) -> Ticks {
    match meter {
        Meter::FourFour | Meter::TwoTwo => Ticks::QUARTER * 2,
        Meter::ThreeFour => meter.bar(),
        Meter::TwoFour | Meter::SixEight => meter.beat(),
    }
}
