use super::Frets;

/// A shape on a neck, as a hand that goes from chord to chord needs to know it.
pub trait Shape: Copy {
    /// How ill it lies and sounds by itself; 0 could not be better. One is about a fret of hand
    /// movement.
    fn cost(&self) -> u32;

    /// Where the hand is: the lowest fret stopped.
    fn position(&self) -> u8;

    /// How far the hand goes from this shape, which it holds at position `here`, to the other at
    /// `there`.
    fn movement_between(&self, here: u8, other: &Self, there: u8) -> u32;
}

/// How far a hand goes from one shape to another: twice the shift of the hand, the frets that fingers
/// move within it, and one for each string that is taken up or left. A shape moved along the neck as it
/// is keeps its fingers where they are in the hand: only the shift counts.
pub(super) fn movement<const N: usize>(
    (from, here): (&Frets<N>, u8),
    (to, there): (&Frets<N>, u8),
) -> u32 {
    let shift = i32::from(there) - i32::from(here);
    let moved = from.iter().zip(to).map(|pair| match pair {
        (Some(from), Some(to)) => (i32::from(*to) - i32::from(*from)).abs_diff(shift),
        (None, None) => 0,
        _ => 1,
    });
    2 * shift.unsigned_abs() + moved.sum::<u32>()
}
