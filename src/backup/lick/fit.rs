use std::sync::Arc;

use super::lick::{Lick, LickNote, LickSlot};
use crate::theory::{Chord, Quality};

/// A lick at a place on the neck.
#[derive(Clone, Debug)]
pub struct FittedLick {
    /// The lick.
    pub lick: Arc<Lick>,
    /// How many frets up from where it is written; negative for down.
    pub up: i16,
}

impl FittedLick {
    /// A step as it lies there.
    fn moved(&self, slot: &LickSlot) -> LickSlot {
        let LickSlot::Notes { notes, loud, choked } = slot else { return slot.clone() };
        let fret = |fret: u8| u8::try_from(i16::from(fret) + self.up).unwrap_or(fret);
        let notes = notes.iter().map(|note| LickNote {
            fret: fret(note.fret),
            slur: note.slur.map(|(kind, to)| (kind, fret(to))),
            ..*note
        });
        LickSlot::Notes { notes: notes.collect(), loud: *loud, choked: *choked }
    }

    /// Its steps.
    pub fn slots(&self) -> Vec<LickSlot> {
        self.lick.slots.iter().map(|slot| self.moved(slot)).collect()
    }

    /// Where it arrives.
    pub fn arrives(&self) -> Option<LickSlot> {
        self.lick.arrives.as_ref().map(|slot| self.moved(slot))
    }
}

/// How far up the neck a lick goes at most.
const HIGHEST: i16 = 15;

/// How far from where it is written a lick lies over a chord, as fretted: nowhere else for one with open strings.
pub(super) fn places(lick: &Lick, root: u8) -> impl Iterator<Item = i16> + use<> {
    let up = i16::from((root + 12 - lick.chord.root.pitch_class() % 12) % 12);
    let frets = || lick.notes().flat_map(|note| [note.fret, note.ends_at()]).map(i16::from);
    let (low, high) = (frets().min().unwrap_or(0), frets().max().unwrap_or(0));
    let closed = lick.is_closed();
    [up - 12, up, up + 12]
        .into_iter()
        .filter(move |up| if closed { low + up >= 1 && high + up <= HIGHEST } else { *up == 0 })
}

/// True if what is written over one chord may be played over another of the same root: a plain triad over all that
/// have its third and fifth, another over those that have all its tones.
pub(super) fn covers(written: Quality, played: Quality) -> bool {
    written.intervals().iter().all(|tone| played.intervals().contains(tone))
}

/// True if a lick that leads from one chord to another does so from and to these.
pub(super) fn leads_on(lick: &Lick, from: &Chord, to: &Chord) -> bool {
    let Some(own) = &lick.to else { return false };
    let step = |a: &Chord, b: &Chord| (b.root.pitch_class() + 12 - a.root.pitch_class()) % 12;
    step(&lick.chord, own) == step(from, to)
        && own.quality.third_or_suspended() == to.quality.third_or_suspended()
}
