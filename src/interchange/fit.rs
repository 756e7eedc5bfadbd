//! Time signatures of all kinds, as the meters that the band plays.

use super::tune::TimeSignature;
use super::units::{EIGHTH, QUARTER, WHOLE, of_ticks, times};
use crate::time::{BarMeter, Meter, Ticks};

/// How a tune's lengths become a chart's.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Fit {
    /// The song's meter.
    pub meter: Meter,
    /// What every length is multiplied by: up, down.
    pub scale: (i64, i64),
    /// The tune's own signature.
    pub time: TimeSignature,
}

/// A time signature, the meter that stands for it, and what lengths are multiplied by.
type Signature = ((u32, u32), Meter, (i64, i64));

/// Signatures that a chart has, and what stands for others. A beat of three eighths becomes a quarter of three
/// triplets, which sounds the same; a bar of three eighths, halves or wholes is three quarters in other note values.
const SIGNATURES: [Signature; 20] = [
    ((4, 4), Meter::FourFour, (1, 1)),
    ((2, 2), Meter::TwoTwo, (1, 1)),
    ((2, 4), Meter::TwoFour, (1, 1)),
    ((4, 8), Meter::TwoFour, (1, 1)),
    ((3, 4), Meter::ThreeFour, (1, 1)),
    ((6, 8), Meter::SixEight, (1, 1)),
    ((9, 8), Meter::ThreeFour, (2, 3)),
    ((12, 8), Meter::FourFour, (2, 3)),
    ((9, 4), Meter::ThreeFour, (1, 3)),
    ((12, 4), Meter::FourFour, (1, 3)),
    ((3, 8), Meter::ThreeFour, (2, 1)),
    ((3, 2), Meter::ThreeFour, (1, 2)),
    ((3, 1), Meter::ThreeFour, (1, 4)),
    ((6, 4), Meter::SixEight, (1, 2)),
    ((6, 2), Meter::SixEight, (1, 4)),
    ((6, 16), Meter::SixEight, (2, 1)),
    ((4, 2), Meter::FourFour, (1, 2)),
    ((4, 1), Meter::FourFour, (1, 4)),
    ((2, 1), Meter::FourFour, (1, 2)),
    ((2, 8), Meter::TwoFour, (2, 1)),
];

impl Fit {
    /// For a tune of that signature.
    pub(super) fn of(time: TimeSignature) -> Self {
        let known = SIGNATURES
            .iter()
            .find(|((beats, unit), ..)| (*beats, *unit) == (time.beats, time.unit));
        if let Some(&(_, meter, scale)) = known {
            return Self { meter, scale, time };
        }
        // Others are bars of several lengths side by side: 5/4 is 3/4 and 2/4.
        let scale = if time.unit >= 8 && time.beats % 2 == 1 { (2, 1) } else { (1, 1) };
        let meter = if time.beats.is_multiple_of(3) { Meter::ThreeFour } else { Meter::FourFour };
        Self { meter, scale, time }
    }

    /// The same with lengths twice as long.
    pub(super) const fn doubled(self) -> Self {
        let (up, down) = self.scale;
        Self { scale: (up * 2, down), ..self }
    }

    /// The same meter as it is written with longer notes, if that is usual: a reel in 2/4 or in 4/4, and 6/4 as two
    /// bars of 3/4, 4/2 as two of 4/4.
    pub(super) fn in_longer_values(self) -> Option<Self> {
        let (up, down) = self.scale;
        let meter = match self.meter {
            Meter::TwoFour if up <= down => Meter::FourFour,
            Meter::SixEight if up < down => Meter::ThreeFour,
            Meter::FourFour if up < down && down % 2 == 0 => Meter::FourFour,
            _ => return None,
        };
        Some(Self { meter, ..self.doubled() })
    }

    /// A length of the file in the chart, in units.
    pub(super) fn scaled(self, units: i64) -> i64 {
        times(units, self.scale.0, self.scale.1)
    }

    /// Beats a minute of the song, where `beat` units of the file go by `per_minute` times.
    pub(super) fn tempo(self, beat: i64, per_minute: f64) -> f64 {
        let (up, down) = self.scale;
        let quarters = beat as f64 / QUARTER as f64 * (up as f64 / down as f64);
        let of_beat = self.meter.beat().get() as f64 / Ticks::QUARTER.get() as f64;
        per_minute * quarters / of_beat
    }

    /// The meters of bars that last so many units together; `None` where no chart has any, since it is no whole number of
    /// eighths. `own` is the meter that the bar itself has. Where songs have meters for it, it is those; and where not,
    /// or where a bar has a beat or two more than its meter, what crooked bars there are.
    pub(super) fn bars(self, units: i64, own: Own) -> Option<Vec<BarMeter>> {
        let plain = self.plain(units, own);
        // Two beats more than a bar are one bar with two more; six eighths and as many again are two bars.
        let is_one = self.meter != Meter::SixEight && units < 2 * of_ticks(self.meter.bar());
        if plain.as_ref().is_some_and(|bars| bars.len() == 1 || own.is_full || !is_one) {
            return plain;
        }
        let mut out = Vec::new();
        let mut left = units;
        // What is longer than any bar begins with the song's own.
        let one = |left: i64| BarMeter::all().find(|meter| of_ticks(meter.bar()) == left);
        let crooked = loop {
            if let Some(last) = one(left) {
                out.push(last);
                break Some(out);
            }
            left -= of_ticks(self.meter.bar());
            if left <= 0 {
                break None;
            }
            out.push(self.meter.into());
        };
        crooked.or(plain)
    }

    /// The same of songs' meters alone, the longest first: `None` where it is no even number of eighths, or less than 2/4.
    pub(super) fn plain(self, units: i64, own: Own) -> Option<Vec<BarMeter>> {
        if let Some(own) = own.meter.filter(|own| of_ticks(own.bar()) == units) {
            return Some(vec![own]);
        }
        let mut left = units / EIGHTH;
        if units % EIGHTH != 0 || left % 2 != 0 || left < 4 {
            return None;
        }
        let eighths = |meter: Meter| meter.bar().get() / Ticks::EIGHTH.get();
        let four = if self.meter == Meter::TwoTwo { Meter::TwoTwo } else { Meter::FourFour };
        let three = if self.meter == Meter::SixEight { Meter::SixEight } else { Meter::ThreeFour };
        let mut out = Vec::new();
        while left > 0 {
            let fits = |meter: &Meter| {
                let rest = left - eighths(*meter);
                rest == 0 || rest >= 4
            };
            let meter = [self.meter, four, three, Meter::TwoFour].into_iter().find(fits)?;
            out.push(meter.into());
            left -= eighths(meter);
        }
        Some(out)
    }

    /// What a bar of so many units of the file, whose own signature is `time`, has at this scale.
    pub(super) fn own(self, time: TimeSignature, length: i64) -> Own {
        let it = Self::of(time);
        let songs = (it.scale == self.scale).then_some(BarMeter::Of(it.meter));
        // What is said to be otherwise in the middle of a tune is what it says.
        let as_said = || BarMeter::parse(&format!("{}/{}", time.beats, time.unit));
        let said = || as_said().filter(|_| time != self.time && self.scale == (1, 1));
        let own =
            songs.filter(|own| of_ticks(own.bar()) == self.scaled(time.length())).or_else(said);
        let meter = own.or(songs).filter(|_| !time.free);
        Own { meter, is_full: !time.free && time == self.time && length == time.length() }
    }
}

/// What a bar's own signature says.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Own {
    /// The meter, where a chart has that.
    pub meter: Option<BarMeter>,
    /// True if it is the tune's own, and the bar as long as it says.
    pub is_full: bool,
}

/// A length as a time signature: in quarters, or the longest notes that it has a whole number of, or thirty-seconds about.
pub(super) fn signature_of(units: i64) -> String {
    let whole = |unit: &i64| units * unit % WHOLE == 0;
    let unit = [4, 8, 16, 32].into_iter().find(whole).unwrap_or(32);
    format!("{}/{unit}", times(units, unit, WHOLE))
}

/// The shortest length that a chart has bars for, and at least `units`.
pub(super) fn next_length(units: i64) -> i64 {
    (units.max(1) + EIGHTH - 1).div_euclid(EIGHTH) * EIGHTH
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(bars: Option<Vec<BarMeter>>) -> String {
        bars.unwrap().iter().map(|bar| bar.as_str()).collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn a_bar_that_breaks_its_meter_has_bars_of_its_length() {
        let bars = |beats, unit, eighths| {
            let time = TimeSignature::new(beats, unit);
            let fit = Fit::of(time);
            let own = fit.own(time, eighths * EIGHTH);
            words(fit.bars(fit.scaled(eighths * EIGHTH), own))
        };
        let all = |beats, unit| (1..=13).map(|n| bars(beats, unit, n)).collect::<Vec<_>>();
        let four = [
            "1/8", "1/4", "3/8", "2/4", "5/8", "3/4", "7/8", "4/4", "9/8", "5/4", "4/4 3/8", "6/4",
            "4/4 5/8",
        ];
        assert_eq!(all(4, 4), four);
        assert_eq!(all(2, 2)[7..], ["2/2", "9/8", "5/4", "2/2 3/8", "6/4", "2/2 5/8"]);
        assert_eq!(all(6, 8)[4..9], ["5/8", "6/8", "7/8", "4/4", "9/8"]);
        assert_eq!(all(2, 4)[..8], ["1/8", "1/4", "3/8", "2/4", "5/8", "3/4", "7/8", "2/4 2/4"]);
        // Where the bar says so itself, it is that.
        let fit = Fit::of(TimeSignature::new(6, 8));
        let said = |beats, unit| {
            let time = TimeSignature::new(beats, unit);
            words(fit.bars(time.length(), fit.own(time, time.length())))
        };
        assert_eq!([said(6, 4), said(5, 4), said(1, 4), said(6, 8)], ["6/4", "5/4", "1/4", "6/8"]);
        // A length between eighths is no bar's.
        let fit = Fit::of(TimeSignature::COMMON);
        assert_eq!(fit.bars(EIGHTH / 2, Own::default()), None);
        assert_eq!(fit.bars(EIGHTH * 17 / 2, Own::default()), None);
    }

    #[test]
    fn every_signature_has_bars() {
        for beats in 1..=24 {
            for unit in [1, 2, 4, 8, 16] {
                let time = TimeSignature::new(beats, unit);
                let fit = Fit::of(time);
                let length = fit.scaled(time.length());
                let own = fit.own(time, time.length());
                let bars =
                    fit.bars(length, own).or_else(|| fit.bars(next_length(length), Own::default()));
                let sum: Ticks = bars.unwrap().into_iter().map(BarMeter::bar).sum();
                assert!(of_ticks(sum) >= length, "{beats}/{unit}");
            }
        }
        let bars = |beats, unit| {
            let time = TimeSignature::new(beats, unit);
            let fit = Fit::of(time);
            words(fit.bars(fit.scaled(time.length()), fit.own(time, time.length())))
        };
        assert_eq!(bars(9, 8), "3/4");
        assert_eq!(bars(3, 8), "3/4");
        assert_eq!(bars(5, 4), "3/4 2/4");
        assert_eq!(bars(7, 8), "4/4 3/4");
        assert_eq!(bars(7, 4), "4/4 3/4");
        assert_eq!(bars(3, 2), "3/4");
    }

    #[test]
    fn lengths_have_names() {
        let names = [2, 3, 4, 5, 7].map(|eighths| signature_of(eighths * EIGHTH));
        assert_eq!(names, ["1/4", "3/8", "2/4", "5/8", "7/8"]);
        assert_eq!(signature_of(EIGHTH * 9 / 2), "9/16");
    }

    #[test]
    fn tempos_keep_their_pace() {
        // 112 dotted quarters a minute in 9/8 are 112 quarters in 3/4.
        let fit = Fit::of(TimeSignature::new(9, 8));
        assert!((fit.tempo(QUARTER * 3 / 2, 112.0) - 112.0).abs() < 1e-9);
        let fit = Fit::of(TimeSignature::new(2, 2));
        assert!((fit.tempo(QUARTER, 200.0) - 100.0).abs() < 1e-9);
        let fit = Fit::of(TimeSignature::new(3, 8));
        assert!((fit.tempo(EIGHTH, 120.0) - 120.0).abs() < 1e-9);
    }
}
