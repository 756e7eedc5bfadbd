use super::leader::{Leader, leader};
use crate::arrange::Arrangement;
use crate::chart::Lead;
use crate::theory::MidiNote;

/// How a written tune is brought to an instrument: all of a pass by so many octaves, and what still
/// lies outside by itself.
#[derive(Clone, Debug)]
pub(super) struct Shift {
    by: i32,
    leader: Leader,
}

impl Shift {
    pub(super) fn apply(&self, note: MidiNote) -> MidiNote {
        MidiNote::clamped(self.leader.fold(i32::from(note.get()) + self.by))
    }
}

/// The shift of the pass last asked for.
#[derive(Debug, Default)]
pub(super) struct TuneShift(Option<(usize, Shift)>);

impl TuneShift {
    /// That of a bar's pass: into the instrument's own register, a voice's as it is written.
    pub(super) fn of(&mut self, song: &Arrangement, index: usize) -> Shift {
        let of_pass = song.bars.get(index..).unwrap_or_default();
        let pass = of_pass.first().map_or(0, |bar| bar.pass);
        if let Some((last, shift)) = &self.0
            && *last == pass
        {
            return shift.clone();
        }
        let lead = of_pass.first().and_then(|bar| leader(song, bar)).flatten();
        let leader = Leader::of(lead, song.capo);
        let notes: Vec<i32> = of_pass
            .iter()
            .take_while(|bar| bar.pass == pass)
            .filter_map(|bar| song.melody.get(bar.melody.clone()?))
            .flatten()
            .map(|note| i32::from(note.pitch.get()))
            .collect();
        let sum: i32 = notes.iter().sum();
        let count = i32::try_from(notes.len()).unwrap_or(i32::MAX).max(1);
        let centre = leader.home + leader.rise / 2;
        let has_own = !matches!(lead, None | Some(Lead::Voice));
        let outside = |by: i32| {
            let misses = notes.iter().filter(|&&note| leader.fold(note + by) != note + by);
            let far = if has_own { (sum / count + by - centre).abs() } else { 0 };
            (misses.count(), far, by.abs())
        };
        let by = (-4..=4).map(|octaves| octaves * 12).min_by_key(|&by| outside(by)).unwrap_or(0);
        let shift = Shift { by, leader };
        self.0 = Some((pass, shift.clone()));
        shift
    }
}
