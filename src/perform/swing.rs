use crate::style::Feel;
use crate::time::{Meter, Tempo, Ticks};

/// Moves what is written evenly to where swing puts it.
///
/// The first half of each pair takes a share of it, the second half the rest, and what lies inside
/// either is stretched alike. The pairs themselves, and so beats and bars, stay where they are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Swing {
    pair: Ticks,
    share: f64,
}

/// Its share is a number from 0.5 to 0.75, always equal to itself.
impl Eq for Swing {}

impl Swing {
    /// No swing.
    pub const EVEN: Self = Self { pair: Ticks::QUARTER, share: 0.5 };

    /// How a song swings: by its own share, or as the style does at the tempo.
    ///
    /// A pair is two eighths. In 2/4 the eighths are what other meters write as quarters and carry the
    /// chops, so there a pair is two sixteenths. 6/8 has no pairs and does not swing.
    pub(super) fn new(own: Option<f64>, style: &Feel, meter: Meter, tempo: Tempo) -> Self {
        let pair = if meter == Meter::TwoFour { Ticks::EIGHTH } else { Ticks::QUARTER };
        let quarters_per_minute = 60e6 / f64::from(tempo.micros_per_quarter());
        let pairs_per_minute =
            quarters_per_minute * Ticks::QUARTER.get() as f64 / pair.get() as f64;
        let share = match meter {
            Meter::SixEight => 0.5,
            _ => own.unwrap_or_else(|| style.swing_at(pairs_per_minute)),
        };
        Self { pair, share }
    }

    /// Two equal notes of the even grid, of which the first may be made the longer.
    pub const fn pair(self) -> Ticks {
        self.pair
    }

    /// The share of a pair that its first note takes, 0.5 to 0.75.
    pub const fn share(self) -> f64 {
        self.share
    }

    /// Where a place on the even grid goes.
    pub fn moved(self, at: Ticks) -> Ticks {
        let pair = self.pair.get();
        let (whole, rest) = (at.get().div_euclid(pair), at.get().rem_euclid(pair));
        let half = pair / 2;
        let first = pair as f64 * self.share;
        let moved = if rest <= half {
            rest as f64 * first / half as f64
        } else {
            first + (rest - half) as f64 * (pair as f64 - first) / half as f64
        };
        Ticks::new(whole * pair + moved.round() as i64)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn swing(meter: Meter, share: f64) -> Swing {
        Swing::new(Some(share), &Feel::default(), meter, Tempo::new(100.0, meter, 100.0))
    }

    #[test]
    fn swing_moves_the_off_beat_and_nothing_else() {
        let at = |ticks, share| swing(Meter::FourFour, share).moved(Ticks::new(ticks)).get();
        assert_eq!(at(480, 0.5), 480);
        assert_eq!(at(480, 2.0 / 3.0), 640);
        assert_eq!(at(960, 2.0 / 3.0), 960);
        assert_eq!(at(960 + 240, 2.0 / 3.0), 960 + 320);
        assert_eq!(at(960 + 720, 2.0 / 3.0), 960 + 800);
    }

    #[test]
    fn chops_in_two_four_stay_on_their_eighths() {
        let at = |ticks| swing(Meter::TwoFour, 2.0 / 3.0).moved(Ticks::new(ticks)).get();
        assert_eq!([at(480), at(240), at(720)], [480, 320, 480 + 320]);
    }

    #[test]
    fn six_eight_is_even() {
        assert_eq!(swing(Meter::SixEight, 0.66).moved(Ticks::new(480)).get(), 480);
    }
}
