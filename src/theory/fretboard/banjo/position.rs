use std::ops::RangeInclusive;

use super::ways::{Places, Way, ways};
use super::{BANJO, LONG_STRINGS, SHORT_STRING, number_at, sounding};
use crate::theory::MidiNote;

/// A place of the left hand along the neck, for single notes: four frets in a row, five from the sixth up, and
/// the open strings. At the nut every note from the fourth string's D up lies under it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Position {
    /// The fret of the first finger, counted from the capo, from 1.
    pub first: u8,
    /// Where the capo is, 0 for none.
    pub capo: u8,
}

/// What it costs to leave a note of a line out.
const SILENCE: u32 = 60;

/// What a stopped note costs beside an open one.
const STOPPED: u32 = 4;

/// What a note on an open string costs while the hand is up the neck: it sounds unlike its neighbours.
const OPEN_AWAY: u32 = 8;

impl Position {
    /// The frets under the fingers.
    pub const fn frets(self) -> RangeInclusive<u8> {
        let reach = BANJO.reach;
        let span = if self.first >= reach.higher_from { reach.higher } else { reach.anywhere };
        let last = self.first.saturating_add(span);
        let end = BANJO.frets.saturating_sub(self.capo);
        self.first..=if last < end { last } else { end }
    }

    /// The notes from the lowest to the highest that a line may use here. Up the neck it has the three upper
    /// strings.
    pub fn range(self) -> RangeInclusive<u8> {
        let frets = self.frets();
        let lowest = if self.first <= 1 { (4, 0) } else { (3, *frets.start()) };
        let [low, high] =
            [lowest, (1, *frets.end())].map(|(number, fret)| sounding(number, fret, self.capo));
        low.get()..=high.get()
    }

    /// The ways to pick a note here; silence among them.
    pub fn note(self, pitch: MidiNote) -> Vec<Way> {
        let mut places: Places = (0..LONG_STRINGS)
            .map(number_at)
            .filter_map(|number| {
                let open = sounding(number, 0, self.capo).get();
                let fret = pitch.get().checked_sub(open)?;
                let away = if self.first > 1 { OPEN_AWAY } else { 0 };
                match fret {
                    0 => Some((number, 0, away)),
                    _ => self.frets().contains(&fret).then_some((number, fret, STOPPED)),
                }
            })
            .collect();
        if sounding(SHORT_STRING, 0, self.capo) == pitch {
            places.push((SHORT_STRING, 0, 1));
        }
        ways(&[places], false, 0, SILENCE)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_note_of_a_position_lies_under_the_hand() {
        for capo in 0..=5 {
            for first in 1..=12 {
                let position = Position { first, capo };
                for note in position.range() {
                    let ways = position.note(MidiNote::clamped(i32::from(note)));
                    assert!(ways.len() > 1, "{note} at {first} over {capo}");
                    for pluck in ways.iter().flat_map(|way| way.plucks.iter()) {
                        assert_eq!(pluck.pitch(capo).get(), note);
                        let fret = pluck.fret;
                        assert!(fret == 0 || position.frets().contains(&fret) && fret + capo <= 22);
                    }
                }
            }
        }
    }
}
