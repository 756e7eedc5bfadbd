//! The five-string banjo in open G: where chords lie on it, which finger picks what, where a note is
//! found beside the chord.
//!
//! Players number the strings from the first, D4, to the fourth, D3; the fifth is the short one, which
//! runs beside the fourth and sounds above them all. Here a string goes by the player's number where a
//! player would read it, and by its place in [`BANJO`] where pitches are reckoned. Frets count from the
//! capo, the short string's too.

mod capo;
mod closed_shape;
mod finger;
mod hand;
mod hits;
mod position;
mod right_hand;
mod roll_shape;
mod short_string;
mod vamp_shape;
mod ways;

pub use capo::choose_banjo_capo;
pub use closed_shape::{ClosedShape, Inversion, closed_shapes, shape_root};
pub use finger::Finger;
pub use hand::BanjoHand;
pub use hits::{Hit, pinch};
pub use position::Position;
pub use right_hand::right_hand;
pub use roll_shape::{RollShape, low_shape, roll_shape};
pub use short_string::{Drone, short_string_fits, short_string_rings};
pub use vamp_shape::{VampShape, vamp_shapes};
pub use ways::{Moment, Pluck, Plucks, Way};

use super::Tuning;
use super::reach::Reach;
use crate::theory::MidiNote;

/// The five-string banjo in open G: D3 G3 B3 D4, and the short string's G4.
///
/// Its frets are those of a guitar's long neck, about 26 in against 25.4, and so is the hand's reach.
pub const BANJO: Tuning<5> = Tuning {
    open: [50, 55, 59, 62, 67],
    frets: 22,
    reach: Reach { anywhere: 3, higher: 4, higher_from: 6 },
};

/// The strings that run the whole length of the neck, fourth to first: [`BANJO`] without its last.
pub const LONG_STRINGS: usize = 4;

/// The short string's number.
pub const SHORT_STRING: u8 = 5;

/// The place in [`BANJO`] of the string that a player calls by a number, 1 to 5.
pub const fn place_of(number: u8) -> usize {
    match number {
        SHORT_STRING => LONG_STRINGS,
        _ => LONG_STRINGS.saturating_sub(number as usize),
    }
}

/// The number of the string at a place of [`BANJO`].
pub const fn number_at(place: usize) -> u8 {
    match place {
        0 => 4,
        1 => 3,
        2 => 2,
        3 => 1,
        _ => SHORT_STRING,
    }
}

/// What a string, 1 to 5, sounds at a fret with the capo on another. The short string is raised by as
/// much as the capo raises the others.
pub fn sounding(number: u8, fret: u8, capo: u8) -> MidiNote {
    let open = BANJO.open.get(place_of(number)).copied().unwrap_or_default();
    MidiNote::clamped(i32::from(open) + i32::from(fret) + i32::from(capo))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strings_go_by_number_and_by_place() {
        for number in 1..=5 {
            assert_eq!(number_at(place_of(number)), number);
        }
        // gDGBD, first string first: D4 B3 G3 D3, and the short G4 (mingus tunings).
        let open: Vec<u8> = (1..=5).map(|number| sounding(number, 0, 0).get()).collect();
        assert_eq!(open, [62, 59, 55, 50, 67]);
        assert_eq!(sounding(5, 0, 2).get(), 69, "raised with the capo");
    }
}
