use super::features::in_steps;
use super::note_net::{BANDS, FIRST, LOW, NOTES, NoteNet, OCTAVE, Spectra};
use super::resample::RATE;
use super::spectrum::{Spectrum, hann};
use super::tuning::{NewSound, tuning};
use crate::theory::MidiNote;

/// Samples from the end of what is heard before a stroke to it, and from it to what is heard after: 3 and 4 ms, in which
/// the pick's noise is over.
const MARGIN: isize = 48;
const NOISE: isize = 64;

/// Samples that are heard before a stroke; after it; and after it for longer, as the lowest strings need: at most, where
/// there are as many from the last that began, or to the next.
const WINDOWS: [usize; 3] = [1_024, 1_024, 2_304];

/// Samples that are heard at least, and by which windows differ.
const LEAST: usize = 512;
const STEP: usize = 128;

/// Samples that are transformed, with silence after what is heard: lines 3.9 Hz apart.
const SIZE: usize = 4_096;

/// Magnitudes over the loudest after the stroke are multiplied by this before the logarithm is taken of one more.
const SCALE: f32 = 200.0;

/// Strokes by which the tuning is found at most.
const TUNED_BY: usize = 200;

/// How likely a note must be to be told. A wrong note is worse than none.
const LIKELY: f32 = 0.55;

/// As many notes as a guitar has strings.
const MOST: usize = 6;

/// Something that began, and what began before and after it: the samples where.
#[derive(Clone, Copy, Debug)]
pub(super) struct Begun {
    pub last: isize,
    pub at: isize,
    pub next: isize,
}

impl Begun {
    /// Of all that began in a sound of so many samples, by time.
    pub fn all(starts: &[f64], length: usize) -> Vec<Self> {
        let place = |n: Option<usize>| n.and_then(|n| starts.get(n)).map(|at| at.round() as isize);
        let one = |(n, at): (usize, &f64)| Self {
            last: place(n.checked_sub(1)).unwrap_or(0),
            at: at.round() as isize,
            next: place(n.checked_add(1)).unwrap_or(length as isize),
        };
        starts.iter().enumerate().map(one).collect()
    }
}

/// Hears which notes begin.
pub(super) struct Ear<'a> {
    sound: &'a [f32],
    spectrum: Spectrum,
    /// Windows by their length, [`STEP`] apart from [`LEAST`] on.
    windows: Vec<Vec<f32>>,
    net: NoteNet,
    /// Where the bands lie, in lines.
    places: [f64; BANDS],
}

impl<'a> Ear<'a> {
    /// For a sound at [`RATE`].
    pub fn new(sound: &'a [f32]) -> Self {
        let spectrum = Spectrum::new(SIZE);
        let most = WINDOWS.into_iter().max().unwrap_or(LEAST);
        let windows = (LEAST..=most).step_by(STEP).map(hann).collect();
        let mut ear = Self { sound, spectrum, windows, net: NoteNet::new(), places: [0.0; BANDS] };
        ear.tune(0.0);
        ear
    }

    /// How far off 440 Hz the strings are, in cents, by what began first; `None` where that is too little. From now on
    /// notes are told by it.
    pub fn tuning(&mut self, begun: &[Begun]) -> Option<f64> {
        let step = f64::from(RATE) / SIZE as f64;
        let sounds: Vec<NewSound> = begun
            .iter()
            .take(TUNED_BY)
            .map(|begun| {
                let (before, after) = self.around(begun);
                NewSound::new(&before, &after, step)
            })
            .collect();
        let tuning = tuning(&sounds);
        self.tune(tuning.unwrap_or(0.0));
        tuning
    }

    fn tune(&mut self, cents: f64) {
        // The bands go by the lowest note's.
        let lowest = MidiNote::clamped(LOW.into()).hertz() * libm::exp2(cents / 1_200.0);
        for (band, place) in self.places.iter_mut().enumerate() {
            let octaves = (band as f64 - FIRST as f64) / OCTAVE;
            *place = lowest * libm::exp2(octaves) * SIZE as f64 / f64::from(RATE);
        }
    }

    /// The magnitudes before and after a stroke.
    fn around(&mut self, begun: &Begun) -> (Vec<f32>, Vec<f32>) {
        let [before, after, _] = WINDOWS;
        let before = fitting(&self.windows, before, begun.at - MARGIN - begun.last - NOISE);
        let after = fitting(&self.windows, after, begun.next - MARGIN - begun.at - NOISE);
        let from = begun.at - MARGIN - before.len() as isize;
        let lines = self.spectrum.two(self.sound, [(from, before), (begun.at + NOISE, after)]);
        lines.into_iter().map(|[before, after]| (before, after)).unzip()
    }

    /// The notes that begin, lowest first; none if it is not clear.
    pub fn notes(&mut self, begun: &Begun) -> Vec<MidiNote> {
        let (before, after) = self.around(begun);
        let [_, _, long] = WINDOWS;
        let long = fitting(&self.windows, long, begun.next - MARGIN - begun.at - NOISE);
        let lines = self.spectrum.two(self.sound, [(begun.at + NOISE, long), (0, &[])]);
        let longer: Vec<f32> = lines.into_iter().map(|[line, _]| line).collect();
        let scale = SCALE / after.iter().copied().fold(1e-9, f32::max);
        let spectra: Spectra = [before, after, longer].map(|lines| self.bands(&lines, scale));
        told(&self.net.run(&spectra))
    }

    /// A spectrum by pitch: between its lines where they are far apart, the highest of them where they are close.
    fn bands(&self, lines: &[f32], scale: f32) -> [f32; BANDS] {
        let half = libm::exp2(0.5 / OCTAVE);
        let line = |n: usize| lines.get(n).copied().unwrap_or(0.0);
        self.places.map(|place| {
            if place > (lines.len() - 1) as f64 {
                return 0.0;
            }
            let whole = place.floor();
            let part = (place - whole) as f32;
            let between = line(whole as usize) * (1.0 - part) + line(whole as usize + 1) * part;
            let (low, high) = ((place / half).ceil() as usize, (place * half).floor() as usize);
            let wide = place * (half - 1.0 / half) > 1.0;
            let inside =
                lines.get(low..lines.len().min(high + 1)).filter(|_| wide).unwrap_or_default();
            in_steps(inside.iter().copied().fold(between, f32::max) * scale) / 2.0
        })
    }
}

/// The longest window of `most` samples that there is room for.
fn fitting(windows: &[Vec<f32>], most: usize, room: isize) -> &[f32] {
    let length = (usize::try_from(room).unwrap_or(0) / STEP * STEP).max(LEAST).min(most);
    windows.get((length - LEAST) / STEP).map_or(&[], Vec::as_slice)
}

/// The notes that are likely enough, lowest first.
fn told(likely: &[f32; NOTES]) -> Vec<MidiNote> {
    let mut notes: Vec<(f32, usize)> = likely.iter().copied().zip(0..).collect();
    notes.sort_unstable_by(|a, b| b.0.total_cmp(&a.0));
    notes.truncate(MOST);
    notes.retain(|note| note.0 > LIKELY);
    let mut notes: Vec<MidiNote> = notes
        .into_iter()
        .map(|(_, note)| MidiNote::clamped(i32::from(LOW) + note as i32))
        .collect();
    notes.sort_unstable();
    notes
}
