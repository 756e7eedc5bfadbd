use std::ops::Range;
use std::sync::LazyLock;

use super::by_note::{BANDS, FIRST, LOW, Lasted, NOTES, OCTAVE, Spectra};
use super::features::in_steps;
use super::note_net::NOTE_NET;
use super::resample::RATE;
use super::spectrum::{Spectrum, hann};
use super::tuning::{NewSound, tuning};
use crate::theory::MidiNote;

/// Samples from the end of what is heard before a stroke to it, and from it to what is heard after: 3 and 4 ms, in which
/// the pick's noise is over.
const MARGIN: isize = 48;
const NOISE: isize = 64;

/// Samples that are heard before a stroke; before it for longer; after it; after it for longer, as the lowest strings
/// need; and for longest. The first, third and fourth are at most so many, where there are as many from the last that
/// began, or to the next. The others go on over these: in them is seen what rings on.
const BEFORE: usize = 1_024;
const LONG_BEFORE: usize = 2_304;
const AFTER: usize = 1_024;
const LONG_AFTER: usize = 2_304;
const LONGEST_AFTER: usize = 4_096;

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
    /// Samples that may be heard before it, and after it.
    fn before(&self) -> isize {
        self.at - MARGIN - self.last - NOISE
    }

    fn after(&self) -> isize {
        self.next - MARGIN - self.at - NOISE
    }

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
    bands: Vec<Band>,
}

/// Windows by their length, [`STEP`] apart from [`LEAST`] on. Made once, which takes as long as hearing some strokes.
static WINDOWS: LazyLock<Vec<Vec<f32>>> =
    LazyLock::new(|| (LEAST..=LONGEST_AFTER).step_by(STEP).map(hann).collect());

/// Where a band lies among the lines of a spectrum.
struct Band {
    /// The line below it, and how far it lies from there to the next.
    below: usize,
    part: f32,
    /// The lines within it, where it is so wide.
    inside: Range<usize>,
}

impl Band {
    /// Of so many hertz; `None` beyond the last line.
    fn new(hertz: f64) -> Option<Self> {
        let place = hertz * SIZE as f64 / f64::from(RATE);
        let half = libm::exp2(0.5 / OCTAVE);
        let wide = place * (half - 1.0 / half) > 1.0;
        let last = SIZE / 2;
        let (low, high) = ((place / half).ceil() as usize, (place * half).floor() as usize);
        let inside = if wide { low..(high + 1).min(last + 1) } else { 0..0 };
        let below = place.floor();
        let band = Self { below: below as usize, part: (place - below) as f32, inside };
        (place <= last as f64).then_some(band)
    }

    /// Between the lines where they are far apart, the highest of them where they are close.
    fn of(&self, lines: &[f32]) -> f32 {
        let line = |n: usize| lines.get(n).copied().unwrap_or(0.0);
        let between = line(self.below) * (1.0 - self.part) + line(self.below + 1) * self.part;
        let inside = lines.get(self.inside.clone()).unwrap_or_default();
        inside.iter().copied().fold(between, f32::max)
    }
}

impl<'a> Ear<'a> {
    /// For a sound at [`RATE`].
    pub fn new(sound: &'a [f32]) -> Self {
        let mut ear = Self { sound, spectrum: Spectrum::new(SIZE), bands: Vec::new() };
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
        let octaves = (0..BANDS).map(|band| (band as f64 - FIRST as f64) / OCTAVE);
        self.bands = octaves.map_while(|octaves| Band::new(lowest * libm::exp2(octaves))).collect();
    }

    /// The magnitudes before and after a stroke.
    fn around(&mut self, begun: &Begun) -> (Vec<f32>, Vec<f32>) {
        let before = fitting(BEFORE, begun.before());
        let after = fitting(AFTER, begun.after());
        let from = begun.at - MARGIN - before.len() as isize;
        let lines = self.spectrum.two(self.sound, [(from, before), (begun.at + NOISE, after)]);
        lines.into_iter().map(|[before, after]| (before, after)).unzip()
    }

    /// The notes that begin, lowest first; none if it is not clear.
    pub fn notes(&mut self, begun: &Begun) -> Vec<MidiNote> {
        let (spectra, lasted) = self.spectra(begun);
        told(&NOTE_NET.run(&spectra, lasted))
    }

    /// What is heard by pitch around a stroke.
    pub fn spectra(&mut self, begun: &Begun) -> (Spectra, Lasted) {
        let (before, after) = self.around(begun);
        let whole = |most: usize| fitting(most, most as isize);
        let long_before = whole(LONG_BEFORE);
        let long_after = fitting(LONG_AFTER, begun.after());
        let longest = whole(LONGEST_AFTER);
        let lasted = [
            (fitting(BEFORE, begun.before()), BEFORE),
            (fitting(AFTER, begun.after()), AFTER),
            (long_after, LONG_AFTER),
        ];
        let lasted =
            lasted.map(|(window, most)| (window.len() - LEAST) as f32 / (most - LEAST) as f32);
        let from = begun.at - MARGIN - LONG_BEFORE as isize;
        let to = begun.at + NOISE;
        let long = self.spectrum.two(self.sound, [(from, long_before), (to, long_after)]);
        let (long_before, long_after): (Vec<f32>, Vec<f32>) =
            long.into_iter().map(|[before, after]| (before, after)).unzip();
        let longest = self.spectrum.two(self.sound, [(to, longest), (0, &[])]);
        let longest: Vec<f32> = longest.into_iter().map(|[line, _]| line).collect();
        let scale = SCALE / after.iter().copied().fold(1e-9, f32::max);
        let spectra = [before, long_before, after, long_after, longest];
        (spectra.map(|lines| self.by_pitch(&lines, scale)), lasted)
    }

    /// A spectrum by pitch.
    fn by_pitch(&self, lines: &[f32], scale: f32) -> [f32; BANDS] {
        let mut told = [0.0; BANDS];
        told.iter_mut()
            .zip(&self.bands)
            .for_each(|(told, band)| *told = in_steps(band.of(lines) * scale) / 2.0);
        told
    }
}

/// The longest window of `most` samples that there is room for.
fn fitting(most: usize, room: isize) -> &'static [f32] {
    let length = (usize::try_from(room).unwrap_or(0) / STEP * STEP).max(LEAST).min(most);
    WINDOWS.get((length - LEAST) / STEP).map_or(&[], Vec::as_slice)
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
