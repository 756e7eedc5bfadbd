//! The net that tells which notes a stroke begins, run as `net` is. Its weights were learnt and written by
//! `tests/outside/ear/notes.py`, which tells its shape and where it comes from.

use super::weights::{Reader, weigh};

/// The notes that are told: from E2, a guitar's lowest string, to E6, as high as a banjo's neck goes.
pub(super) const LOW: u8 = 40;
pub(super) const NOTES: usize = 49;

/// Bands of a spectrum by pitch, and how many make an octave.
pub(super) const BANDS: usize = 292;
pub(super) const OCTAVE: f64 = 36.0;

/// The band of the lowest note's fundamental, and bands to a semitone.
pub(super) const FIRST: usize = 60;
const SEMITONE: usize = 3;

/// Bands from a note's fundamental to that of the twelfth and the octave below it, whose partial it may be, to its own,
/// and to its partials up to the eighth.
const PARTIALS: [isize; 10] = [-57, -36, 0, 36, 57, 72, 84, 93, 101, 108];

/// And the bands beside each.
const BESIDE: [isize; 3] = [-1, 0, 1];

/// Semitones to the notes that are looked at for a note: those that share partials with it, and those beside it.
const OTHERS: [isize; 19] =
    [-24, -19, -16, -12, -7, -5, -4, -3, -1, 0, 1, 3, 4, 5, 7, 12, 16, 19, 24];

const WIDE: usize = 28;
const NARROW: usize = 8;
const LAST: usize = 16;

/// What is heard around a stroke: by pitch before it, after it, and after it for longer.
pub(super) type Spectra = [[f32; BANDS]; 3];

static WEIGHTS: &[u8] = include_bytes!("note_weights.bin");

/// The net's weights.
pub(super) struct NoteNet {
    partials: Vec<[f32; WIDE]>,
    partials_bias: [f32; WIDE],
    /// What is added for each note: how likely it is at all.
    place: Vec<[f32; WIDE]>,
    narrow: Vec<[f32; NARROW]>,
    narrow_bias: [f32; NARROW],
    others: Vec<[f32; LAST]>,
    others_bias: [f32; LAST],
    told: [f32; LAST],
    told_bias: f32,
}

impl NoteNet {
    pub fn new() -> Self {
        let mut reader = Reader::new(WEIGHTS);
        Self {
            partials: reader.rows(3 * PARTIALS.len() * BESIDE.len()),
            partials_bias: reader.row(),
            place: reader.rows(NOTES),
            narrow: reader.rows(WIDE),
            narrow_bias: reader.row(),
            others: reader.rows(NARROW * OTHERS.len() + WIDE),
            others_bias: reader.row(),
            told: reader.row(),
            told_bias: reader.one(),
        }
    }

    /// How likely each note from [`LOW`] on begins.
    pub fn run(&self, spectra: &Spectra) -> [f32; NOTES] {
        let mut wide = [self.partials_bias; NOTES];
        for ((note, sums), place) in wide.iter_mut().enumerate().zip(&self.place) {
            sums.iter_mut().zip(place).for_each(|(sum, place)| *sum += place);
            let bands = PARTIALS.iter().flat_map(|partial| BESIDE.map(|beside| partial + beside));
            let bands = bands.map(|off| (FIRST + SEMITONE * note).checked_add_signed(off));
            let heard = spectra.iter().flat_map(|spectrum| {
                bands
                    .clone()
                    .map(|band| band.and_then(|band| spectrum.get(band)).copied().unwrap_or(0.0))
            });
            for (x, weights) in heard.zip(&self.partials) {
                weigh(x, weights, sums);
            }
            *sums = sums.map(|sum| sum.max(0.0));
        }
        let narrow = wide.map(|wide| {
            let mut sums = self.narrow_bias;
            for (x, weights) in wide.iter().zip(&self.narrow) {
                weigh(*x, weights, &mut sums);
            }
            sums.map(|sum| sum.max(0.0))
        });
        let mut told = [0.0; NOTES];
        for ((note, told), wide) in told.iter_mut().enumerate().zip(&wide) {
            let mut sums = self.others_bias;
            let others = OTHERS.iter().flat_map(|other| {
                let other = note.checked_add_signed(*other).and_then(|note| narrow.get(note));
                other.copied().unwrap_or_default()
            });
            for (x, weights) in others.chain(wide.iter().copied()).zip(&self.others) {
                weigh(x, weights, &mut sums);
            }
            let sum = sums
                .iter()
                .zip(&self.told)
                .fold(self.told_bias, |sum, (x, weight)| sum + x.max(0.0) * weight);
            *told = 1.0 / (1.0 + libm::expf(-sum));
        }
        told
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_weight_is_read_and_none_is_missing() {
        let partials = (3 * PARTIALS.len() * BESIDE.len() + 1 + NOTES) * WIDE;
        let others = (WIDE + 1) * NARROW + (NARROW * OTHERS.len() + WIDE + 1) * LAST;
        assert_eq!(WEIGHTS.len(), 4 * (partials + others + LAST + 1));
    }
}
