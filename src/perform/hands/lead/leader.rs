use std::ops::RangeInclusive;

use crate::arrange::{Arrangement, Bar};
use crate::chart::Lead;
use crate::theory::fretboard::banjo::{BANJO, LONG_STRINGS};
use crate::theory::fretboard::{GUITAR, MANDOLIN};

/// What whoever leads a pass plays the tune or the break on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Leader {
    /// General MIDI program, from 0; `None` for the style's own.
    pub program: Option<u8>,
    /// The notes of a break, as MIDI numbers.
    pub range: RangeInclusive<u8>,
    /// Where a phrase begins and ends.
    pub home: i32,
    /// How far above that the highest phrase goes.
    pub rise: i32,
    /// How its notes can be joined.
    pub joins: Joins,
}

/// How whoever leads joins notes without striking anew.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Joins {
    /// Not at all: a tune that shows a singer the words.
    Nothing,
    /// In one bow.
    Bow,
    /// By the left hand, on strings with these open notes, the lowest first.
    Strings(&'static [u8]),
}

/// GBDGBD from G2, of a resonator; EADG from E1, of a bass.
const RESONATOR: [u8; 6] = [43, 47, 50, 55, 59, 62];
const BASS: [u8; 4] = [28, 33, 38, 43];

impl Leader {
    /// For a lead. The programs are General MIDI Level 1's, which has no mandolin: program 25, a guitar
    /// with nylon strings, stands for one here, so that it is told from the rhythm guitar's steel.
    ///
    /// Lowest notes are open strings (GDAE; gDGBD; EADG; EADGBE, above its two lowest strings;
    /// GBDGBD from G2), the highest are where a plain break ends (common practice, no source).
    pub(super) fn of(lead: Option<Lead>) -> Self {
        let (program, range, home, rise) = match lead {
            Some(Lead::Voice) => (Some(53), 48..=79, 60, 10),
            Some(Lead::Fiddle) => (Some(110), 55..=83, 66, 12),
            Some(Lead::Mandolin) => (Some(24), 55..=83, 67, 12),
            Some(Lead::Guitar) => (Some(25), 52..=79, 59, 12),
            Some(Lead::Banjo) => (Some(105), 50..=79, 60, 12),
            Some(Lead::Bass) => (Some(32), 28..=43, 33, 8),
            Some(Lead::Resonator) => (Some(26), 43..=74, 58, 12),
            None => (None, 55..=83, 66, 12),
        };
        let joins = match lead {
            Some(Lead::Voice) => Joins::Nothing,
            Some(Lead::Fiddle) | None => Joins::Bow,
            Some(Lead::Mandolin) => Joins::Strings(&MANDOLIN.open),
            Some(Lead::Guitar) => Joins::Strings(&GUITAR.open),
            // The strings that run the whole length.
            Some(Lead::Banjo) => Joins::Strings(BANJO.open.split_at(LONG_STRINGS).0),
            Some(Lead::Bass) => Joins::Strings(&BASS),
            Some(Lead::Resonator) => Joins::Strings(&RESONATOR),
        };
        Self { program, range, home, rise, joins }
    }

    /// The note that lies within the range by as few octaves as may be.
    pub(super) fn fold(&self, note: i32) -> i32 {
        let (low, high) = (i32::from(*self.range.start()), i32::from(*self.range.end()));
        let up = if note < low { (low - note + 11) / 12 * 12 } else { 0 };
        let down = if note > high { (note - high + 11) / 12 * 12 } else { 0 };
        note + up - down
    }
}

/// Who has the lead in a bar, if the lead's chair has anything to play there: an instrument leads, or
/// the tune is written out. The ending belongs to whoever led last.
pub(super) fn leader(song: &Arrangement, bar: &Bar) -> Option<Option<Lead>> {
    let pass = song.passes.get(bar.pass)?;
    if pass.is_ending {
        let last = song
            .bars
            .iter()
            .rev()
            .find(|bar| song.passes.get(bar.pass).is_some_and(|pass| !pass.is_ending))?;
        return leader(song, last);
    }
    let instrument = pass.lead.is_some_and(|lead| lead != Lead::Voice);
    (instrument || bar.melody.is_some()).then_some(pass.lead)
}
