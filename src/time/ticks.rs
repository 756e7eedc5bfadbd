use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Mul, Neg, Sub, SubAssign};

/// A position or a length in musical time, 960 to the quarter note.
///
/// 960 divides by 2 to the sixth, by 3 and by 5, so every note value and tuplet that a string band
/// plays falls on a whole tick, and at 120 quarters a minute one tick is 0.52 ms.
///
/// The operators stop at the ends of the range instead of wrapping or panicking: a song is held to
/// far fewer bars than would reach them. Where a sum comes from outside, use the `checked_` methods.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Ticks(i64);

impl Ticks {
    /// The start of the song, or no length at all.
    pub const ZERO: Self = Self(0);
    /// An eighth note.
    pub const EIGHTH: Self = Self(480);
    /// A quarter note.
    pub const QUARTER: Self = Self(960);
    /// Ticks in a quarter note, as the exported file's header states it.
    pub const PER_QUARTER: u16 = 960;

    /// That many ticks.
    pub const fn new(ticks: i64) -> Self {
        Self(ticks)
    }

    /// The count of ticks.
    pub const fn get(self) -> i64 {
        self.0
    }

    /// `self + other`, or `None` past the end of the range.
    pub fn checked_add(self, other: Self) -> Option<Self> {
        self.0.checked_add(other.0).map(Self)
    }

    /// `self - other`, or `None` past the end of the range.
    pub fn checked_sub(self, other: Self) -> Option<Self> {
        self.0.checked_sub(other.0).map(Self)
    }

    /// `self * times`, or `None` past the end of the range.
    pub fn checked_mul(self, times: i64) -> Option<Self> {
        self.0.checked_mul(times).map(Self)
    }

    /// The whole part of `self / parts` when it divides evenly, otherwise `None`.
    pub fn split(self, parts: i64) -> Option<Self> {
        (parts > 0 && self.0 % parts == 0).then(|| Self(self.0 / parts))
    }

    /// True for a whole number of `unit`s (false for a `unit` of zero).
    pub fn is_multiple_of(self, unit: Self) -> bool {
        unit.0 != 0 && self.0 % unit.0 == 0
    }
}

impl Add for Ticks {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}

impl AddAssign for Ticks {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl Sub for Ticks {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }
}

impl SubAssign for Ticks {
    fn sub_assign(&mut self, other: Self) {
        *self = *self - other;
    }
}

impl Mul<i64> for Ticks {
    type Output = Self;
    fn mul(self, times: i64) -> Self {
        Self(self.0.saturating_mul(times))
    }
}

impl Neg for Ticks {
    type Output = Self;
    fn neg(self) -> Self {
        Self(self.0.saturating_neg())
    }
}

impl Sum for Ticks {
    fn sum<I: Iterator<Item = Self>>(iter: I) -> Self {
        iter.fold(Self::ZERO, Add::add)
    }
}

impl fmt::Display for Ticks {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn arithmetic_stops_at_the_ends() {
        let last = Ticks::new(i64::MAX);
        assert_eq!(last + Ticks::EIGHTH, last);
        assert_eq!(last.checked_add(Ticks::EIGHTH), None);
        assert_eq!(last.checked_mul(2), None);
        assert_eq!(-Ticks::new(i64::MIN), last);
    }

    #[test]
    fn splits_only_evenly() {
        assert_eq!(Ticks::QUARTER.split(2), Some(Ticks::EIGHTH));
        assert_eq!(Ticks::QUARTER.split(7), None);
        assert_eq!(Ticks::QUARTER.split(0), None);
    }
}
