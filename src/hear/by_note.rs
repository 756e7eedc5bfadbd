//! How both nets that go by notes look at what is heard: each note by the same weights, at its partials, and then at what
//! was found for other notes.

use super::weights::Layer;

/// The notes that are told: from E2, a guitar's lowest string, to E6, as high as a banjo's neck goes.
pub(super) const LOW: u8 = 40;
pub(super) const NOTES: usize = 49;

/// Bands of a spectrum by pitch, and how many make an octave.
pub(super) const BANDS: usize = 292;
pub(super) const OCTAVE: f64 = 36.0;

/// The band of the lowest note's fundamental, and bands to a semitone.
pub(super) const FIRST: usize = 60;
const SEMITONE: usize = 3;

/// Bands from a note's fundamental to those of the notes a twelfth and an octave below it, whose partial it may be, to
/// its own, to the third partial of the octave below it, and to its partials up to the tenth.
const PARTIALS: [isize; 12] = [-57, -36, 0, 21, 36, 57, 72, 84, 93, 101, 108, 120];

/// And the bands beside each.
const BESIDE: [isize; 3] = [-1, 0, 1];

/// What is heard around a stroke: by pitch before it, before it for longer, after it, after it for longer and for
/// longest.
pub(super) type Spectra = [[f32; BANDS]; SPECTRA];
const SPECTRA: usize = 5;

/// How long the first, the third and the fourth of these were heard, from 0 for the shortest to 1 for the longest.
pub(super) type Lasted = [f32; HEARD_FOR];
pub(super) const HEARD_FOR: usize = 3;

/// What is heard of each partial of a note in each spectrum.
pub(super) fn partials(spectra: &Spectra, note: usize) -> impl Iterator<Item = f32> {
    let bands = PARTIALS.iter().flat_map(|partial| BESIDE.map(|beside| partial + beside));
    let bands = bands.map(move |off| (FIRST + SEMITONE * note).checked_add_signed(off));
    spectra.iter().flat_map(move |spectrum| {
        bands.clone().map(|band| band.and_then(|band| spectrum.get(band)).copied().unwrap_or(0.0))
    })
}

/// How many they are.
pub(super) const HEARD: usize = SPECTRA * PARTIALS.len() * BESIDE.len();

/// For each note what is made of what was found for it and, made fewer, for the others so many semitones off.
pub(super) fn look<const IN: usize, const FEW: usize, const OUT: usize>(
    notes: &[[f32; IN]; NOTES],
    fewer: &Layer<FEW>,
    others: &[isize],
    layer: &Layer<OUT>,
) -> [[f32; OUT]; NOTES] {
    let few = notes.each_ref().map(|note| fewer.run(note.iter().copied()));
    let mut made = [[0.0; OUT]; NOTES];
    for ((n, made), note) in made.iter_mut().enumerate().zip(notes) {
        let others = others.iter().flat_map(|other| {
            n.checked_add_signed(*other).and_then(|n| few.get(n)).copied().unwrap_or([0.0; FEW])
        });
        *made = layer.run(others.chain(note.iter().copied()));
    }
    made
}
