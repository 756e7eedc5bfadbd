use super::timbre::Way;

/// Strokes of one strum lie no farther apart than this, and those of a running line no farther than that, in seconds
/// (common practice, no source).
const STRUM: f64 = 0.035;
const LINE: f64 = 0.30;

/// Which way a plectrum goes, as far as it can be told from what has been struck so far.
///
/// A strum that goes on to higher strings is a down-stroke, one that goes on to lower ones an up-stroke. In a line of
/// single notes down and up take turns, as long as they follow each other closely; after a rest the hand comes down.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct PickingHand {
    /// The pitch struck last, and its frame.
    last: Option<(u8, u64)>,
    up: bool,
}

impl PickingHand {
    /// Strikes a pitch at a frame.
    pub fn strike(&mut self, pitch: u8, frame: u64, rate: f64) -> Way {
        let seconds = |since: u64| frame.saturating_sub(since) as f64 / rate;
        self.up = match self.last {
            Some((last, at)) if seconds(at) < STRUM => {
                if pitch == last {
                    self.up
                } else {
                    pitch < last
                }
            }
            Some((_, at)) if seconds(at) < LINE => !self.up,
            _ => false,
        };
        self.last = Some((pitch, frame));
        if self.up { Way::Up } else { Way::Down }
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
}
