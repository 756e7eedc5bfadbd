use serde::Serialize;

use super::BeatPart;
use crate::chart::RoleSet;
use crate::time::Ticks;

/// How much of each part of the beat is covered, in thousandths: downbeats, backbeats, ands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Shares {
    /// Of the downbeats.
    pub down: u16,
    /// Of the backbeats.
    pub back: u16,
    /// Of what lies between.
    pub and: u16,
}

impl Shares {
    /// That of one part of the beat.
    pub const fn of(&self, place: BeatPart) -> u16 {
        match place {
            BeatPart::Down => self.down,
            BeatPart::Back => self.back,
            BeatPart::And => self.and,
        }
    }

    /// The mean of some places.
    pub(super) fn mean<'a>(slots: impl IntoIterator<Item = &'a SlotCoverage>) -> Self {
        let mut sums = [(0_u32, 0_u32); 3];
        for slot in slots {
            let [down, back, and] = &mut sums;
            let (sum, count) = match slot.place {
                BeatPart::Down => down,
                BeatPart::Back => back,
                BeatPart::And => and,
            };
            *sum += u32::from(slot.level);
            *count += 1;
        }
        let [down, back, and] =
            sums.map(|(sum, count)| u16::try_from(sum / count.max(1)).unwrap_or(u16::MAX));
        Self { down, back, and }
    }
}

/// A place of a bar and how far the band covers it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SlotCoverage {
    /// Where it lies, on the even grid.
    pub at: Ticks,
    /// Which part of the beat it is.
    pub place: BeatPart,
    /// How much of it is covered, in thousandths, by loudness: 1000 where it is as loud as a player of the
    /// job would have it.
    pub level: u16,
    /// Who sounds there.
    pub by: RoleSet,
}
