//! Lengths while a tune is read: finer than ticks, so that tuplets of every common kind come out whole.

use crate::time::Ticks;

/// Units of one tick: with them a quarter can be cut by 7 and by 9 too.
const PER_TICK: i64 = 42;

/// A quarter note.
pub(super) const QUARTER: i64 = Ticks::QUARTER.get() * PER_TICK;

/// An eighth note.
pub(super) const EIGHTH: i64 = QUARTER / 2;

/// A whole note.
pub(super) const WHOLE: i64 = QUARTER * 4;

/// The longest time that is reckoned with, in units: past it every tune is longer than a song may be.
pub(super) const LONGEST: i64 = WHOLE * 1_000_000;

/// A length times a fraction, rounded to the nearest unit and held to [`LONGEST`].
pub(super) fn times(length: i64, up: i64, down: i64) -> i64 {
    let down = i128::from(down.max(1));
    let product = i128::from(length) * i128::from(up);
    let rounded = (2 * product + down).div_euclid(2 * down);
    i64::try_from(rounded).unwrap_or(LONGEST).clamp(0, LONGEST)
}

/// The nearest tick.
pub(super) const fn to_ticks(units: i64) -> Ticks {
    Ticks::new((units + PER_TICK / 2).div_euclid(PER_TICK))
}

/// A length in ticks as units.
pub(super) const fn of_ticks(ticks: Ticks) -> i64 {
    ticks.get() * PER_TICK
}
