use std::ops::RangeInclusive;

use super::neck::Neck;
use crate::arrange::{Arrangement, Bar};
use crate::chart::Lead;

/// What whoever leads a pass plays the tune or the break on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Leader {
    /// Who it is; `None` where nobody is named.
    pub lead: Option<Lead>,
    /// General MIDI program, from 0; `None` for the style's own.
    pub program: Option<u8>,
    /// The notes of a break, as MIDI numbers.
    pub range: RangeInclusive<u8>,
    /// Where a phrase begins and ends.
    pub home: i32,
    /// How far above that the highest phrase goes.
    pub rise: i32,
    /// Where its hands find them; `None` of a voice and of nobody.
    pub neck: Option<Neck>,
}

impl Leader {
    /// For a lead, with the guitar's capo at a fret. The programs are General MIDI Level 1's, which has no mandolin:
    /// program 25, a guitar with nylon strings, stands for one here, so that it is told from the rhythm guitar's
    /// steel.
    ///
    /// Each has a register of its own, the fiddle above the mandolin, the resonator in the middle, the guitar below
    /// it on its open strings (common practice, no source). The lowest notes are open strings.
    pub(super) fn of(lead: Option<Lead>, capo: u8) -> Self {
        let (program, range, home, rise) = match lead {
            Some(Lead::Voice) => (Some(53), 48..=79, 60, 10),
            Some(Lead::Fiddle) => (Some(110), 55..=83, 69, 12),
            Some(Lead::Mandolin) => (Some(24), 55..=83, 64, 12),
            Some(Lead::Guitar) => {
                let nut = 43_u8.max(Neck::GUITAR.open[0].saturating_add(capo));
                (Some(25), nut..=76, 53 + i32::from(capo) / 2, 12)
            }
            Some(Lead::Banjo) => (Some(105), 50..=79, 60, 12),
            Some(Lead::Bass) => (Some(32), 28..=52, 36, 9),
            Some(Lead::Resonator) => (Some(26), 43..=76, 58, 12),
            None => (None, 55..=83, 66, 12),
        };
        let neck = match lead {
            Some(Lead::Voice) | None => None,
            Some(Lead::Fiddle) => Some(Neck::FIDDLE),
            Some(Lead::Mandolin) => Some(Neck::MANDOLIN),
            Some(Lead::Guitar) => Some(Neck::GUITAR.behind(capo)),
            Some(Lead::Banjo) => Some(Neck::BANJO),
            Some(Lead::Bass) => Some(Neck::BASS),
            Some(Lead::Resonator) => Some(Neck::RESONATOR),
        };
        Self { lead, program, range, home, rise, neck }
    }

    /// Of a bar.
    pub(super) fn in_bar(song: &Arrangement, bar: &Bar) -> Self {
        Self::of(leader(song, bar).flatten(), song.capo)
    }

    /// True of a bass, which walks under its own break.
    pub(super) fn walks(&self) -> bool {
        self.lead == Some(Lead::Bass)
    }

    /// True of one whose line may lean on a note beside the chord: a banjo's roll has the chord around it.
    pub(super) fn leans(&self) -> bool {
        !matches!(self.lead, Some(Lead::Banjo | Lead::Bass))
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
