//! The net that looks closer at what the first one holds for a beginning, and tells whether it is a stroke, a slur, or
//! neither: by what sounds before and after, how loud it is from moment to moment, and in which bands. Its weights were
//! learnt and written by `tests/outside/ear/closer.py`, which tells its shape.

use std::sync::LazyLock;

use super::by_note::{HEARD, HEARD_FOR, Lasted, NOTES, Spectra, look, partials};
use super::flashes::{AFTER, BEFORE, FLASHES, MOMENT};
use super::net::Told;
use super::weights::{Layer, Reader};

/// Frames on either side of a place that count of what the first net told.
pub(super) const AROUND: usize = 3;

/// What it told there: of strokes, then of slurs.
pub(super) type Near = [[f32; 2 * AROUND + 1]; 2];

/// What is this far below the loudest moment, as a share of its energy, counts as silent: 40 dB.
const SILENT: f64 = 1e-4;

/// Semitones to the notes that are looked at for a note: those that a finger reaches on its string, and octaves.
const NEAR: [isize; 15] = [-12, -7, -5, -4, -3, -2, -1, 0, 1, 2, 3, 4, 5, 7, 12];

const EACH: usize = 16;
const NARROW: usize = 6;
const WIDE: usize = 48;
const LAST: usize = 16;

static WEIGHTS: &[u8] = include_bytes!("closer_weights.bin");

/// The net's weights.
pub(super) struct Closer {
    partials: Layer<EACH>,
    narrow: Layer<NARROW>,
    near: Layer<EACH>,
    wide: Layer<WIDE>,
    last: Layer<LAST>,
    told: Layer<2>,
}

/// Unpacked once.
pub(super) static CLOSER: LazyLock<Closer> = LazyLock::new(Closer::new);

impl Closer {
    fn new() -> Self {
        let mut reader = Reader::new(WEIGHTS);
        Self {
            partials: Layer::read(&mut reader, HEARD),
            narrow: Layer::read(&mut reader, EACH),
            near: Layer::read(&mut reader, NARROW * NEAR.len() + EACH),
            wide: Layer::read(&mut reader, BESIDE),
            last: Layer::read(&mut reader, WIDE),
            told: Layer::read(&mut reader, LAST),
        }
    }

    /// How likely a stroke, and a slur, begins at the sample `at`.
    pub fn run(
        &self,
        spectra: &Spectra,
        lasted: Lasted,
        near: &Near,
        flashes: &[f32; FLASHES],
        sound: &[f32],
        at: isize,
    ) -> Told {
        let mut notes = [[0.0; EACH]; NOTES];
        for (note, found) in notes.iter_mut().enumerate() {
            *found = self.partials.run(partials(spectra, note));
        }
        let notes = look(&notes, &self.narrow, &NEAR, &self.near);
        let (mut most, mut sums) = ([0.0_f32; EACH], [0.0_f32; EACH]);
        for note in &notes {
            most.iter_mut().zip(note).for_each(|(most, x)| *most = most.max(*x));
            sums.iter_mut().zip(note).for_each(|(sum, x)| *sum += x);
        }
        let mean = sums.map(|sum| sum / NOTES as f32);
        let inputs = most.into_iter().chain(mean).chain(lasted);
        let inputs = inputs.chain(near.iter().flatten().copied()).chain(moments(sound, at));
        let inputs = inputs.chain(flashes.iter().copied());
        let wide = self.wide.run(inputs);
        let [stroke, slur] = self.told.sums(self.last.run(wide.into_iter()).into_iter());
        // The logarithm of how much likelier each is than neither.
        let [stroke, slur] = [stroke, slur].map(|sum| libm::expf(sum.min(50.0)));
        [stroke, slur].map(|one| one / (1.0 + stroke + slur))
    }
}

/// What stands beside what was found for the notes, and that: the most and the mean of all.
const BESIDE: usize = 2 * EACH + HEARD_FOR + 2 * (2 * AROUND + 1) + 2 * (BEFORE + AFTER) + FLASHES;

/// How loud it is in each moment around a sample, 1 in the loudest: of all, then of what each sample differs from the
/// one before, which is the high of it.
fn moments(sound: &[f32], at: isize) -> impl Iterator<Item = f32> {
    let sample = |n: isize| {
        let sample = usize::try_from(n).ok().and_then(|n| sound.get(n));
        f64::from(sample.copied().unwrap_or(0.0))
    };
    let start = at - (BEFORE * MOMENT) as isize;
    let mut levels = [[0.0_f64; BEFORE + AFTER]; 2];
    let [all, high] = &mut levels;
    for (from, (all, high)) in (start..).step_by(MOMENT).zip(all.iter_mut().zip(high)) {
        for n in from..from + MOMENT as isize {
            let (here, before) = (sample(n), sample(n - 1));
            *all += here * here;
            *high += (here - before) * (here - before);
        }
    }
    levels.into_iter().flat_map(|levels| {
        let most = levels.iter().copied().fold(1e-12, f64::max);
        levels.map(|level| (libm::log10(level / most + SILENT) / 4.0 + 1.0) as f32)
    })
}

#[cfg(test)]
mod tests {
    use super::super::weights::layer;
    use super::*;

    #[test]
    fn every_weight_is_read_and_none_is_missing() {
        let notes =
            layer(HEARD, EACH) + layer(EACH, NARROW) + layer(NARROW * NEAR.len() + EACH, EACH);
        let rest = layer(BESIDE, WIDE) + layer(WIDE, LAST) + layer(LAST, 2);
        assert_eq!(WEIGHTS.len(), notes + rest);
    }

    #[test]
    fn moments_are_told_against_the_loudest() {
        let mut sound = vec![0.0; 4_000];
        sound[2_000..2_064].fill(0.1);
        let told: Vec<f32> = moments(&sound, 2_000).collect();
        assert_eq!(told.len(), 2 * (BEFORE + AFTER));
        assert!(told[BEFORE] > 0.999 && told[BEFORE - 1] < 0.001, "{told:?}");
        // It jumps up in its first moment and down in the next.
        let high = &told[BEFORE + AFTER..];
        assert!(high[BEFORE] > 0.999 && high[BEFORE + 1] > 0.999, "{told:?}");
        assert_eq!(moments(&[], -9_000).filter(|x| *x > 0.001).count(), 0);
    }
}
