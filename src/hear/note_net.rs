//! The net that tells which notes a stroke begins, run as `net` is. Its weights were learnt and written by
//! `tests/outside/ear/notes.py`, which tells its shape and where it comes from.

use std::sync::LazyLock;

use super::by_note::{HEARD, HEARD_FOR, Lasted, NOTES, Spectra, look, partials};
use super::weights::{Layer, Reader};

/// Semitones to the notes that are looked at for a note: those that share partials with it, and those beside it.
const OTHERS: [isize; 19] =
    [-24, -19, -16, -12, -7, -5, -4, -3, -1, 0, 1, 3, 4, 5, 7, 12, 16, 19, 24];

const WIDE: usize = 32;
const NARROW: usize = 12;
const NARROWER: usize = 8;
const LAST: usize = 16;

static WEIGHTS: &[u8] = include_bytes!("note_weights.bin");

/// The net's weights.
pub(super) struct NoteNet {
    partials: Layer<WIDE>,
    /// What is added for each note: how likely it is at all.
    place: Vec<[f32; WIDE]>,
    narrow: Layer<NARROW>,
    others: Layer<WIDE>,
    narrower: Layer<NARROWER>,
    last: Layer<LAST>,
    told: Layer<1>,
}

/// Unpacked once, as `net` is.
pub(super) static NOTE_NET: LazyLock<NoteNet> = LazyLock::new(NoteNet::new);

impl NoteNet {
    fn new() -> Self {
        let mut reader = Reader::new(WEIGHTS);
        Self {
            partials: Layer::read(&mut reader, HEARD + HEARD_FOR),
            place: reader.rows(NOTES),
            narrow: Layer::read(&mut reader, WIDE),
            others: Layer::read(&mut reader, NARROW * OTHERS.len() + WIDE),
            narrower: Layer::read(&mut reader, WIDE),
            last: Layer::read(&mut reader, NARROWER * OTHERS.len() + WIDE),
            told: Layer::read(&mut reader, LAST),
        }
    }

    /// How likely each note begins, from the lowest on.
    pub fn run(&self, spectra: &Spectra, lasted: Lasted) -> [f32; NOTES] {
        let mut wide = [[0.0; WIDE]; NOTES];
        for ((note, wide), place) in wide.iter_mut().enumerate().zip(&self.place) {
            let sums = self.partials.sums(partials(spectra, note).chain(lasted));
            wide.iter_mut()
                .zip(sums.iter().zip(place))
                .for_each(|(wide, (sum, place))| *wide = (sum + place).max(0.0));
        }
        let wide = look(&wide, &self.narrow, &OTHERS, &self.others);
        let last = look(&wide, &self.narrower, &OTHERS, &self.last);
        last.map(|last| {
            let [sum] = self.told.sums(last.into_iter());
            1.0 / (1.0 + libm::expf(-sum))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::super::weights::{layer, rows};
    use super::*;

    #[test]
    fn every_weight_is_read_and_none_is_missing() {
        let partials = layer(HEARD + HEARD_FOR, WIDE) + rows(NOTES, WIDE);
        let others = layer(WIDE, NARROW) + layer(NARROW * OTHERS.len() + WIDE, WIDE);
        let last = layer(WIDE, NARROWER) + layer(NARROWER * OTHERS.len() + WIDE, LAST);
        assert_eq!(WEIGHTS.len(), partials + others + last + layer(LAST, 1));
    }
}
