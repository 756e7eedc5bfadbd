use super::decimate::decimate;
use super::harmonics::NewSound;
use super::spectrum::Spectrum;
use crate::theory::MidiNote;

/// Seconds after the attack in which the pick's noise is over.
const NOISE: f64 = 0.006;

/// Seconds before an attack, the next or the stroke's own, at which is stopped listening.
const MARGIN: f64 = 0.003;

/// Seconds that are listened to: the longest of these that there is room for. A roll of 12 notes a second
/// leaves 83 ms.
const LENGTHS: [f64; 5] = [0.045, 0.06, 0.08, 0.105, 0.14];

/// Seconds that are transformed, with silence after what is heard: lines 5 Hz apart.
const TRANSFORMED: f64 = 0.186;

/// How much of what rang before is taken to ring on, in magnitude.
const RINGS_ON: f32 = 0.8;

/// Strokes by which the tuning is found at most, and at least for it to be told.
const TUNING: (usize, usize) = (200, 8);

/// What sounds with each stroke, and how far off 440 Hz the strings are in cents. `starts` are the strokes in
/// samples, by time.
///
/// A stroke's own sound is what is in the spectrum after it and was not there before it.
pub(super) fn notes(sound: &[f32], rate: u32, starts: &[f64]) -> (Vec<Vec<MidiNote>>, Option<f64>) {
    let scale = f64::from(rate);
    let end = sound.len() as f64 / scale;
    let mut ear = Ear::new(sound, rate);
    let start = |n: usize| starts.get(n).map(|start| start / scale);
    let sounds: Vec<Option<NewSound>> = starts
        .iter()
        .enumerate()
        .map(|(n, at)| {
            let last = n.checked_sub(1).and_then(start).unwrap_or(0.0);
            ear.new_sound(last, at / scale, start(n + 1).unwrap_or(end))
        })
        .collect();
    let heard: Vec<&NewSound> = sounds.iter().flatten().take(TUNING.0).collect();
    // As far as the strings can be off before they are nearer to the next semitone.
    let fits = |cents: f64| -> f32 {
        heard.iter().filter_map(|sound| sound.best(cents)).map(|best| best.score).sum()
    };
    let steps = (-4..=5).map(|n| f64::from(n) * 10.0).map(|cents| (fits(cents), cents));
    let tuning = steps.max_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, cents)| cents);
    let tuning = tuning.filter(|_| heard.len() >= TUNING.1);
    let told = |sound: Option<NewSound>| {
        sound.map_or_else(Vec::new, |sound| sound.notes(tuning.unwrap_or(0.0)))
    };
    (sounds.into_iter().map(told).collect(), tuning)
}

/// Listens before and after strokes.
struct Ear {
    sound: Vec<f32>,
    rate: f64,
    spectra: [Spectrum; LENGTHS.len()],
    before: Vec<f32>,
    new: Vec<f32>,
}

impl Ear {
    fn new(sound: &[f32], rate: u32) -> Self {
        let (sound, rate) = decimate(sound, rate);
        let size = (TRANSFORMED * rate) as usize;
        let spectra = LENGTHS.map(|length| Spectrum::new((length * rate) as usize, size, rate));
        Self { sound, rate, spectra, before: Vec::new(), new: Vec::new() }
    }

    /// What is new after a stroke at `at` seconds, the others beside it at `last` and `next`; `None` if the
    /// next comes too soon.
    fn new_sound(&mut self, last: f64, at: f64, next: f64) -> Option<NewSound> {
        let fitting = |room: f64| LENGTHS.iter().rposition(|length| *length <= room);
        let after = fitting(next - MARGIN - at - NOISE)?;
        // As long before, or as much of it as belongs to the last stroke alone.
        let before = fitting(at - MARGIN - last - NOISE).unwrap_or(0).min(after);
        let length = LENGTHS.get(before)?;
        let from = ((at - MARGIN - length) * self.rate) as isize;
        let lines = self.spectra.get_mut(before)?.at(&self.sound, from);
        self.before.clear();
        self.before.extend_from_slice(lines);
        let spectrum = self.spectra.get_mut(after)?;
        let step = spectrum.step();
        let lines = spectrum.at(&self.sound, ((at + NOISE) * self.rate) as isize);
        let new = |(after, before): (&f32, &f32)| {
            // What got no louder rings on from before.
            if after < before {
                return 0.0;
            }
            let rings = RINGS_ON * before;
            (after * after - rings * rings).sqrt()
        };
        self.new.clear();
        self.new.extend(lines.iter().zip(&self.before).map(new));
        Some(NewSound::new(&self.new, step))
    }
}
