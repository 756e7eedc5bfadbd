/// A finger of the picking hand: a banjo player has picks on three.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Finger {
    /// T.
    Thumb,
    /// I.
    Index,
    /// M.
    Middle,
}

impl Finger {
    /// All three.
    pub const ALL: [Self; 3] = [Self::Thumb, Self::Index, Self::Middle];

    /// The letter that tablature writes.
    pub const fn letter(self) -> char {
        match self {
            Self::Thumb => 'T',
            Self::Index => 'I',
            Self::Middle => 'M',
        }
    }

    /// How much it goes against the hand to pick string `number`, 1 to 5, with this finger; `None` if it
    /// cannot.
    ///
    /// As a rule the thumb has the fifth to the second string, the index the third and second, the
    /// middle finger the first (L. Witt, "The Four Essential 5-String Banjo Rolls", Deering Banjos blog).
    /// On the strings that two have, thumb and index take turns from the bass side. That any other is
    /// better than none is common practice, no source; the figures are ours.
    pub const fn effort(self, number: u8) -> Option<u32> {
        match (self, number) {
            (Self::Thumb, 3..=5) | (Self::Index, 2) | (Self::Middle, 1) => Some(0),
            (Self::Thumb, 2) | (Self::Index, 3) => Some(1),
            (Self::Index, 1 | 4) | (Self::Middle, 2) => Some(EXCEPTION),
            (Self::Thumb, 1) | (Self::Middle, 3) => Some(2 * EXCEPTION),
            _ => None,
        }
    }

    /// True if the rule gives the string to the finger.
    pub const fn is_usual(self, number: u8) -> bool {
        matches!(self.effort(number), Some(effort) if effort < EXCEPTION)
    }
}

/// What it costs to pick a string with a finger that the rule does not give it to: more than any
/// awkwardness that it could spare.
const EXCEPTION: u32 = 8;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strings_belong_to_fingers() {
        let usual = |finger: Finger| -> Vec<u8> {
            (1..=5).rev().filter(|&number| finger.is_usual(number)).collect()
        };
        assert_eq!(usual(Finger::Thumb), [5, 4, 3, 2]);
        assert_eq!(usual(Finger::Index), [3, 2]);
        assert_eq!(usual(Finger::Middle), [1]);
    }
}
