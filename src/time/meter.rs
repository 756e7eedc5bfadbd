use std::fmt;

use super::Ticks;

/// A meter that the band can play.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Meter {
    /// Four quarters, four beats.
    FourFour,
    /// Cut time: four quarters, two beats of a half note.
    TwoTwo,
    /// Two quarters, two beats.
    TwoFour,
    /// Three quarters, three beats.
    ThreeFour,
    /// Six eighths, two beats of a dotted quarter.
    SixEight,
}

impl Meter {
    /// Every meter, in the order the messages list them.
    pub const ALL: [Self; 5] =
        [Self::FourFour, Self::TwoTwo, Self::TwoFour, Self::ThreeFour, Self::SixEight];

    /// Reads `"4/4"` and the like; `None` for a meter that the band does not play.
    pub fn parse(text: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|meter| meter.as_str() == text)
    }

    /// As written in a song.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::FourFour => "4/4",
            Self::TwoTwo => "2/2",
            Self::TwoFour => "2/4",
            Self::ThreeFour => "3/4",
            Self::SixEight => "6/8",
        }
    }

    /// The upper number of the time signature.
    pub const fn numerator(self) -> u8 {
        match self {
            Self::FourFour => 4,
            Self::TwoTwo | Self::TwoFour => 2,
            Self::ThreeFour => 3,
            Self::SixEight => 6,
        }
    }

    /// The lower number of the time signature.
    pub const fn denominator(self) -> u8 {
        match self {
            Self::TwoTwo => 2,
            Self::FourFour | Self::TwoFour | Self::ThreeFour => 4,
            Self::SixEight => 8,
        }
    }

    /// The length of a bar.
    pub const fn bar(self) -> Ticks {
        Ticks::new(self.beat().get() * self.beats())
    }

    /// The length of a beat: what the tempo counts and a foot taps.
    pub const fn beat(self) -> Ticks {
        match self {
            Self::FourFour | Self::TwoFour | Self::ThreeFour => Ticks::QUARTER,
            Self::TwoTwo => Ticks::new(2 * 960),
            Self::SixEight => Ticks::new(3 * 480),
        }
    }

    /// Beats in a bar.
    pub const fn beats(self) -> i64 {
        match self {
            Self::FourFour => 4,
            Self::TwoTwo | Self::TwoFour | Self::SixEight => 2,
            Self::ThreeFour => 3,
        }
    }
}

impl fmt::Display for Meter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bar_is_its_signature() {
        for meter in Meter::ALL {
            let whole = 4 * i64::from(Ticks::PER_QUARTER);
            let by_signature =
                whole * i64::from(meter.numerator()) / i64::from(meter.denominator());
            assert_eq!(meter.bar().get(), by_signature, "{meter}");
            assert_eq!(Meter::parse(meter.as_str()), Some(meter));
        }
    }
}
