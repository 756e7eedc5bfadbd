use std::fmt;

use serde::Serialize;

use super::{Meter, Ticks};

/// A part of the beat, as the jobs of a string band divide it (common practice, no source).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum BeatPart {
    /// Where the bass plays: the boom.
    Down,
    /// Where the mandolin chops: the chick.
    Back,
    /// What lies between the two.
    And,
}

impl BeatPart {
    /// All, in the order of the beat.
    pub const ALL: [Self; 3] = [Self::Down, Self::Back, Self::And];

    /// What players call it, of several.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Down => "downbeats",
            Self::Back => "backbeats",
            Self::And => "ands",
        }
    }

    /// Its beats as players of a meter count them: `2 and 4`.
    pub const fn beats(self, meter: Meter) -> &'static str {
        match (meter, self) {
            (Meter::FourFour, Self::Down) => "1 and 3",
            (Meter::FourFour, Self::Back) => "2 and 4",
            (Meter::FourFour | Meter::ThreeFour, Self::And) => "the \"ands\"",
            // Two beats to the bar, and the chick between them.
            (Meter::TwoTwo | Meter::TwoFour, Self::Down) => "1 and 2",
            (Meter::TwoTwo | Meter::TwoFour, Self::Back) => "the off-beats",
            (Meter::TwoTwo | Meter::TwoFour, Self::And) => "what lies between them",
            (Meter::ThreeFour, Self::Down) => "1",
            (Meter::ThreeFour, Self::Back) => "2 and 3",
            (Meter::SixEight, Self::Down) => "1 and 4",
            (Meter::SixEight, Self::Back) => "3 and 6",
            (Meter::SixEight, Self::And) => "2 and 5",
        }
    }

    /// The grid on which a meter's places lie: eighths, but sixteenths in 2/4, whose bar is half as long.
    pub const fn grid(meter: Meter) -> Ticks {
        match meter {
            Meter::TwoFour => Ticks::new(Ticks::EIGHTH.get() / 2),
            Meter::FourFour | Meter::TwoTwo | Meter::ThreeFour | Meter::SixEight => Ticks::EIGHTH,
        }
    }

    /// The places of a bar, one for each step of its [grid](Self::grid).
    pub const fn of_bar(meter: Meter) -> &'static [Self] {
        use BeatPart::{And, Back, Down};
        match meter {
            Meter::FourFour | Meter::TwoTwo | Meter::TwoFour => {
                &[Down, And, Back, And, Down, And, Back, And]
            }
            Meter::ThreeFour => &[Down, And, Back, And, Back, And],
            // The last of each three lifts into the next.
            Meter::SixEight => &[Down, And, Back, Down, And, Back],
        }
    }

    /// The place at a step of the [grid](Self::grid), in a bar of any length: after the last of its meter comes the
    /// first again.
    pub fn at_step(meter: Meter, step: usize) -> Option<Self> {
        let places = Self::of_bar(meter);
        places.get(step % places.len()).copied()
    }

    /// Where each place of a bar lies that is so long, counted from the bar's beginning.
    pub fn slots(meter: Meter, length: Ticks) -> impl Iterator<Item = (Ticks, Self)> {
        let places = Self::of_bar(meter).iter().copied().cycle();
        let slots = (0..).zip(places).map(move |(step, place)| (Self::grid(meter) * step, place));
        slots.take_while(move |(at, _)| *at < length)
    }
}

impl fmt::Display for BeatPart {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_places_fill_the_bar() {
        for meter in Meter::ALL {
            let steps = i64::try_from(BeatPart::of_bar(meter).len()).unwrap();
            assert_eq!(BeatPart::grid(meter) * steps, meter.bar(), "{meter:?}");
        }
    }
}
