use super::timbre::Way;

/// Strokes of one strum lie no farther apart than this, in seconds (common practice, no source).
const STRUM: f64 = 0.035;
/// Strokes farther apart than this are no running line by themselves, in seconds: a quarter note at 150 a minute is picked
/// down (common practice, no source).
const LINE: f64 = 0.40;
/// After so long without a stroke the hand rests, in seconds.
const REST: f64 = 1.0;
/// What follows sooner than this share of a swing of the hand is a faster line: an eighth after which the next comes
/// sooner, as swung ones do, is no less than two thirds of the mean.
const FASTER: f64 = 0.6;

/// Which way a plectrum goes, as far as it can be told from what has been struck so far.
///
/// A strum that goes on to higher strings is a down-stroke, one that goes on to lower ones an up-stroke. In a line of
/// single notes the hand swings on, down and up, whether it meets a string or not: so where eighths are picked by turns, the
/// note after a quarter goes the same way again, and swung ones go down on the beat. After a rest the hand comes down.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct PickingHand {
    /// The pitch struck last, and its frame.
    last: Option<(u8, u64)>,
    up: bool,
    /// From one swing of the hand to the next, in seconds, while it picks a line.
    swing: Option<f64>,
}

impl PickingHand {
    /// Strikes a pitch at a frame.
    pub fn strike(&mut self, pitch: u8, frame: u64, rate: f64) -> Way {
        let since = self.last.map(|(last, at)| (last, frame.saturating_sub(at) as f64 / rate));
        self.up = match since {
            Some((last, since)) if since < STRUM => {
                if pitch == last {
                    self.up
                } else {
                    pitch < last
                }
            }
            Some((_, since)) => self.goes_on(since),
            None => false,
        };
        self.last = Some((pitch, frame));
        if self.up { Way::Up } else { Way::Down }
    }

    /// Whether the next stroke of a line goes up, that many seconds after the last one.
    fn goes_on(&mut self, since: f64) -> bool {
        let known = self.swing.filter(|swing| since < REST && since > FASTER * swing);
        let Some(swing) = known else {
            let runs = since < LINE;
            self.swing = runs.then_some(since);
            return runs && !self.up;
        };
        let swings = (since / swing).round();
        if swings <= 1.0 {
            // Swung notes are far and near by turns.
            self.swing = Some((swing + since) / 2.0);
        }
        if swings % 2.0 == 1.0 { !self.up } else { self.up }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ways(strokes: &[(u8, u64)]) -> String {
        let mut hand = PickingHand::default();
        let way = |&(pitch, millis): &(u8, u64)| match hand.strike(pitch, millis * 48, 48_000.0) {
            Way::Down => 'd',
            Way::Up => 'u',
        };
        strokes.iter().map(way).collect()
    }

    #[test]
    fn strums_go_by_the_strings_and_lines_take_turns() {
        assert_eq!(ways(&[(55, 0), (59, 8), (64, 16)]), "ddd");
        assert_eq!(ways(&[(40, 0), (64, 1_000), (59, 1_008), (55, 1_016)]), "dduu");
        assert_eq!(ways(&[(60, 0), (62, 150), (64, 300), (65, 450), (65, 2_000)]), "dudud");
    }

    #[test]
    fn a_line_swings_on_as_the_beat_does() {
        let line = |times: &[u64]| {
            ways(
                &times
                    .iter()
                    .zip([60, 62].iter().cycle())
                    .map(|(&t, &p)| (p, t))
                    .collect::<Vec<_>>(),
            )
        };
        // Eighths at 108, swung: down on the beat.
        assert_eq!(line(&[0, 322, 555, 877, 1_110, 1_432, 1_665]), "dududud");
        // Eighths and quarters at 160: the hand swings once more where it strikes nothing.
        assert_eq!(line(&[0, 187, 375, 750, 937, 1_125, 1_500]), "duddudd");
        // Eighths at 100, each as early or late as a player's.
        assert_eq!(line(&[0, 308, 595, 903, 1_192, 1_510]), "dududu");
        // Quarters at 120, and eighths after them.
        assert_eq!(line(&[0, 500, 1_000, 1_250, 1_500]), "dddud");
    }
}
