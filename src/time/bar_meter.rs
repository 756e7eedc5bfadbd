use std::fmt;

use super::{Meter, Ticks};

/// The meter that one bar of a song has: one of a song's, or a length that no song goes by from end to end, as a beat
/// more or less makes it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum BarMeter {
    /// One that songs have.
    Of(Meter),
    /// Any other.
    Crooked(Crooked),
}

/// A length of a bar that the band has no patterns for. It keeps the song's gait there: its bar is cut short, or begun
/// again.
///
/// These are the lengths that one bar of a tune is found to have, where a beat or half a beat was dropped or put in
/// (counted in collections of fiddle tunes and folk songs). What is longer is two bars, as 7/4 is 4/4 and 3/4.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Crooked {
    /// Half a beat alone.
    OneEight,
    /// A beat alone.
    OneFour,
    /// Half a bar of 6/8.
    ThreeEight,
    /// An eighth more than 2/4, or less than 3/4 or 6/8.
    FiveEight,
    /// An eighth less than 4/4, or more than 3/4 or 6/8.
    SevenEight,
    /// A beat more than 6/8, or an eighth more than 4/4.
    NineEight,
    /// A beat more than 4/4.
    FiveFour,
    /// Two beats more than 4/4.
    SixFour,
}

impl Crooked {
    /// Every one, the shortest first.
    pub const ALL: [Self; 8] = [
        Self::OneEight,
        Self::OneFour,
        Self::ThreeEight,
        Self::FiveEight,
        Self::SevenEight,
        Self::NineEight,
        Self::FiveFour,
        Self::SixFour,
    ];

    /// As written at the head of a bar, and the two numbers of its signature.
    const fn signature(self) -> (&'static str, u8, u8) {
        match self {
            Self::OneEight => ("1/8", 1, 8),
            Self::OneFour => ("1/4", 1, 4),
            Self::ThreeEight => ("3/8", 3, 8),
            Self::FiveEight => ("5/8", 5, 8),
            Self::SevenEight => ("7/8", 7, 8),
            Self::NineEight => ("9/8", 9, 8),
            Self::FiveFour => ("5/4", 5, 4),
            Self::SixFour => ("6/4", 6, 4),
        }
    }
}

impl BarMeter {
    /// Every meter of a bar: those of songs, in the order of [`Meter::ALL`], and then the others.
    pub fn all() -> impl Iterator<Item = Self> + Clone {
        let crooked = Crooked::ALL.into_iter().map(Self::Crooked);
        Meter::ALL.into_iter().map(Self::Of).chain(crooked)
    }

    /// Reads `"5/4"` and the like; `None` for a meter that no bar has.
    pub fn parse(text: &str) -> Option<Self> {
        Self::all().find(|meter| meter.as_str() == text)
    }

    /// As written at the head of a bar.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Of(meter) => meter.as_str(),
            Self::Crooked(crooked) => crooked.signature().0,
        }
    }

    /// The upper number of the time signature.
    pub const fn numerator(self) -> u8 {
        match self {
            Self::Of(meter) => meter.numerator(),
            Self::Crooked(crooked) => crooked.signature().1,
        }
    }

    /// The lower number of the time signature.
    pub const fn denominator(self) -> u8 {
        match self {
            Self::Of(meter) => meter.denominator(),
            Self::Crooked(crooked) => crooked.signature().2,
        }
    }

    /// The length of a bar: of whole eighths, and no more than [`Self::MOST_EIGHTHS`].
    pub const fn bar(self) -> Ticks {
        match self {
            Self::Of(meter) => meter.bar(),
            Self::Crooked(crooked) => {
                let (_, count, unit) = crooked.signature();
                Ticks::new(4 * Ticks::QUARTER.get() * count as i64 / unit as i64)
            }
        }
    }

    /// Eighths in the longest bar, which is one of 6/4.
    pub const MOST_EIGHTHS: i64 = 12;

    /// Which of a song's meters it is, if it is one.
    pub const fn of_song(self) -> Option<Meter> {
        match self {
            Self::Of(meter) => Some(meter),
            Self::Crooked(_) => None,
        }
    }

    /// The meter whose beats, accents and patterns such a bar has in a song in `song`: its own, or the song's where the
    /// band has none for it. So a foot goes on tapping as before; the bar's last beat may be cut short.
    pub const fn gait(self, song: Meter) -> Meter {
        match self {
            Self::Of(meter) => meter,
            Self::Crooked(_) => song,
        }
    }

    /// What a metronome clicks that knows the bar's signature alone: its beats, and in a bar of eighths that don't go
    /// by threes each of them (common practice, no source).
    pub const fn click(self) -> Ticks {
        match self {
            Self::Of(meter) => meter.beat(),
            Self::Crooked(crooked) => match crooked.signature() {
                (_, count, 8) if count % 3 == 0 => Meter::SixEight.beat(),
                (_, _, 8) => Ticks::EIGHTH,
                _ => Ticks::QUARTER,
            },
        }
    }
}

impl From<Meter> for BarMeter {
    fn from(meter: Meter) -> Self {
        Self::Of(meter)
    }
}

impl PartialEq<Meter> for BarMeter {
    fn eq(&self, other: &Meter) -> bool {
        *self == Self::Of(*other)
    }
}

impl fmt::Display for BarMeter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bar_is_its_signature() {
        let whole = 4 * i64::from(Ticks::PER_QUARTER);
        let mut lengths = Vec::new();
        for meter in BarMeter::all() {
            let (up, down) = (i64::from(meter.numerator()), i64::from(meter.denominator()));
            assert_eq!(meter.bar().get(), whole * up / down, "{meter}");
            assert_eq!(meter.as_str(), format!("{up}/{down}"));
            assert_eq!(BarMeter::parse(meter.as_str()), Some(meter));
            assert!(meter.bar().is_multiple_of(Ticks::EIGHTH), "{meter}");
            assert!(meter.bar().is_multiple_of(meter.click()), "{meter}");
            lengths.push(meter.bar().get() / Ticks::EIGHTH.get());
        }
        assert_eq!(lengths.iter().max(), Some(&BarMeter::MOST_EIGHTHS));
        // Whatever is dropped or put in to the half beat, up to a beat more than four, is one bar.
        assert!((1..=10).all(|eighths| lengths.contains(&eighths)));
    }

    #[test]
    fn the_band_has_a_gait_in_every_bar() {
        for song in Meter::ALL {
            for meter in Meter::ALL {
                assert_eq!(BarMeter::from(meter).gait(song), meter);
            }
            for crooked in Crooked::ALL {
                assert_eq!(BarMeter::Crooked(crooked).gait(song), song);
            }
        }
    }
}
