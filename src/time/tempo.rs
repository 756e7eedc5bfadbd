use super::{Meter, Ticks};

/// A point or a span of real time in nanoseconds. Signed, so that a difference is one too.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Nanos(pub i64);

impl Nanos {
    /// In seconds, for display and for sound.
    pub fn seconds(self) -> f64 {
        self.0 as f64 * 1e-9
    }
}

/// A steady tempo, held as the exported file holds it: whole microseconds a quarter note.
///
/// Everything that turns ticks into time uses this one rounded number, so the file, the port and
/// the sound agree to the nanosecond however long the song.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Tempo {
    micros_per_quarter: u32,
}

impl Tempo {
    /// The slowest tempo accepted, in beats a minute: one beat in six seconds.
    pub const SLOWEST: f64 = 10.0;
    /// The fastest tempo accepted, in beats a minute: beyond it no hand follows.
    pub const FASTEST: f64 = 400.0;

    /// From beats a minute (of the meter's own beat) and a practice speed in percent (1 to 400).
    /// Both are held to what the exported file can express: 1 to 16,777,215 µs a quarter.
    pub fn new(beats_per_minute: f64, meter: Meter, speed_percent: f64) -> Self {
        let quarters = meter.beat().get() as f64 / Ticks::QUARTER.get() as f64;
        let quarters_per_minute = beats_per_minute * quarters * speed_percent / 100.0;
        let micros = (60e6 / quarters_per_minute).round();
        // FF 51 03 holds 24 bits (Standard MIDI-File Format Spec. 1.1).
        // No number at all becomes the slowest: 0 µs a quarter would make every note fall at once.
        let micros = if micros.is_nan() { f64::INFINITY } else { micros };
        Self { micros_per_quarter: micros.clamp(1.0, 16_777_215.0) as u32 }
    }

    /// Microseconds a quarter note, 1 to 16,777,215.
    pub const fn micros_per_quarter(self) -> u32 {
        self.micros_per_quarter
    }

    /// Beats a minute in `meter`.
    pub fn beats_per_minute(self, meter: Meter) -> f64 {
        let quarters = meter.beat().get() as f64 / Ticks::QUARTER.get() as f64;
        60e6 / f64::from(self.micros_per_quarter) / quarters
    }

    /// The time of a position, exact to the nanosecond.
    pub fn nanos(self, at: Ticks) -> Nanos {
        let nanos = i128::from(at.get()) * i128::from(self.micros_per_quarter) * 1000
            / i128::from(Ticks::PER_QUARTER);
        Nanos(i64::try_from(nanos).unwrap_or(if nanos < 0 { i64::MIN } else { i64::MAX }))
    }

    /// How many whole ticks have gone by in a time; the inverse of [`Self::nanos`].
    pub fn ticks(self, time: Nanos) -> Ticks {
        let scaled = i128::from(time.0) * i128::from(Ticks::PER_QUARTER);
        let ticks = scaled.div_euclid(i128::from(self.micros_per_quarter) * 1000);
        Ticks::new(i64::try_from(ticks).unwrap_or(if ticks < 0 { i64::MIN } else { i64::MAX }))
    }

    /// The same tempo played at `percent` of its speed, held to the same range.
    #[must_use]
    pub fn at_speed(self, percent: f64) -> Self {
        let micros = (f64::from(self.micros_per_quarter) * 100.0 / percent).round();
        let micros = if micros.is_nan() { f64::INFINITY } else { micros };
        Self { micros_per_quarter: micros.clamp(1.0, 16_777_215.0) as u32 }
    }

    /// The same tempo with each quarter taking `permille` thousandths of its time, held to the same
    /// range.
    #[must_use]
    pub const fn stretched(self, permille: u32) -> Self {
        let micros = (self.micros_per_quarter as u64 * permille as u64 + 500) / 1000;
        Self::from_micros(if micros > 16_777_215 { 16_777_215 } else { micros as u32 })
    }

    /// From microseconds a quarter note, held to 1 to 16,777,215.
    pub const fn from_micros(micros_per_quarter: u32) -> Self {
        let micros = if micros_per_quarter == 0 { 1 } else { micros_per_quarter };
        Self { micros_per_quarter: if micros > 16_777_215 { 16_777_215 } else { micros } }
    }

    /// How many ticks (rounded) a time in milliseconds is.
    pub fn ticks_in_millis(self, millis: f64) -> Ticks {
        let per_milli = f64::from(Ticks::PER_QUARTER) * 1000.0 / f64::from(self.micros_per_quarter);
        Ticks::new((millis * per_milli).round() as i64)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_beat_is_the_meters_own() {
        // FF 51 03 07 A1 20 is 500000 µs a quarter, 120 a minute (Standard MIDI-File Format Spec. 1.1).
        assert_eq!(Tempo::new(120.0, Meter::FourFour, 100.0).micros_per_quarter(), 500_000);
        assert_eq!(Tempo::new(60.0, Meter::TwoTwo, 100.0).micros_per_quarter(), 500_000);
        assert_eq!(Tempo::new(80.0, Meter::SixEight, 100.0).micros_per_quarter(), 500_000);
        assert_eq!(Tempo::new(120.0, Meter::FourFour, 50.0).micros_per_quarter(), 1_000_000);
    }

    #[test]
    fn an_hour_of_ticks_keeps_every_nanosecond() {
        let tempo = Tempo::new(133.0, Meter::FourFour, 100.0);
        let quarters = 8_000;
        let at = Ticks::QUARTER * quarters;
        assert_eq!(tempo.nanos(at).0, quarters * i64::from(tempo.micros_per_quarter()) * 1000);
    }

    #[test]
    fn ticks_are_the_inverse_of_nanos() {
        let tempo = Tempo::new(97.0, Meter::FourFour, 83.0);
        for tick in [-5000, -1, 0, 1, 7, 959, 1_000_003] {
            // The nanosecond is rounded towards zero, so look one later.
            let time = tempo.nanos(Ticks::new(tick));
            assert_eq!(tempo.ticks(Nanos(time.0 + 1)), Ticks::new(tick));
        }
        assert_eq!(Tempo::from_micros(500_000).at_speed(50.0), Tempo::from_micros(1_000_000));
        assert_eq!(Tempo::from_micros(500_000).stretched(1250), Tempo::from_micros(625_000));
    }

    #[test]
    fn nonsense_is_held_in_range() {
        for bpm in [0.0, -3.0, f64::NAN, -0.0, f64::INFINITY, 1e-300] {
            let micros = Tempo::new(bpm, Meter::FourFour, 100.0).micros_per_quarter();
            assert!((1..=16_777_215).contains(&micros), "{bpm}: {micros}");
        }
    }
}
