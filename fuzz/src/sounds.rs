use std::f32::consts::TAU;
use std::sync::LazyLock;

use openchair::hear::{Passing, Sound, hear, remarks};

/// Rates that recorders have. Those that divide what is heard, or are a multiple of it, come more often: for the others
/// a table is worked out, which takes as long as hearing does.
const RATES: [u32; 8] = [16_000, 8_000, 48_000, 16_000, 32_000, 8_000, 44_100, 22_050];

/// Milliseconds that a take lasts: from what is too short to be heard to a few strokes. Time goes into the nets, frame
/// by frame, and what a longer take has more of shows nothing new.
const SHORTEST: u32 = 400;
const STEP: u32 = 3;

/// Milliseconds that one of its sounds lasts at most.
const RINGS: u32 = 400;

/// Bytes that say what the take is like, what one of its sounds is like, and the samples of a wave of its own.
const HEAD: usize = 5;
const EACH: usize = 4;
const OWN: usize = 16;

/// Points of a wave: as many as make the error less than what 8 bits tell.
const POINTS: usize = 1_024;

/// A string's wave: five partials, each weaker than the one below it.
static STRING: LazyLock<Vec<f32>> = LazyLock::new(|| {
    let partial = |turn: f32, part: u8| (turn * f32::from(part)).sin() / f32::from(part);
    points().map(|turn| (1..6).map(|part| partial(turn, part)).sum()).collect()
});
static SINE: LazyLock<Vec<f32>> = LazyLock::new(|| points().map(f32::sin).collect());

fn points() -> impl Iterator<Item = f32> {
    (0..POINTS).map(|n| TAU * n as f32 / POINTS as f32)
}

/// What a microphone may hear: five bytes that say how it is recorded (the rate, one channel or two, how long, how loud,
/// noise, an offset), then four for each sound in it (what it is, how long to the next, how high, how loud). Bytes taken
/// for samples would be a moment's noise, however they are mixed.
pub fn hears(bytes: &[u8]) {
    let Some((head, told)) = bytes.split_first_chunk::<HEAD>() else { return };
    let [how, lasts, gain, floor, offset] = *head;
    let rate = RATES[usize::from(how) % RATES.len()];
    let channels = 1 + usize::from(how >> 3) % 2;
    let length = (SHORTEST + STEP * u32::from(lasts)) * rate / 1_000;
    let mut samples = vec![0.0; length as usize];
    sounded(told, rate, &mut samples);
    // From what no converter tells from nothing to what is far too loud for it.
    let gain = (f32::from(gain) / 16.0 - 12.0).exp2();
    let (floor, offset) = (f32::from(floor) / 1_024.0, (f32::from(offset) - 128.0) / 512.0);
    let mut noise = Noise(u32::from_le_bytes([how, lasts, 1, 1]));
    for sample in &mut samples {
        *sample = (*sample * gain + noise.next() * floor + offset).clamp(-1.0, 1.0);
    }
    if channels == 2 {
        // The other microphone, which may be wired the wrong way round.
        let other = if how >> 4 & 1 == 1 { -1.0 } else { 0.5 };
        samples = samples.into_iter().flat_map(|sample| [sample, other * sample]).collect();
    }
    let sound = Sound::new(samples, channels, rate);
    if how >> 5 == 7 {
        in_passing(&sound);
        return;
    }
    let heard = hear(&sound.samples, sound.rate);
    assert!(remarks(&sound, heard.as_ref().ok()).iter().all(|remark| !remark.is_empty()));
    let heard = match heard {
        Ok(heard) => heard,
        Err(why) => return assert!(!why.to_string().is_empty()),
    };
    let in_it = |nanos: i64| (0..=heard.take.length.0).contains(&nanos);
    let all = || heard.take.hits.iter().chain(&heard.slurs);
    assert!(all().all(|hit| in_it(hit.at.0)), "{:?}", heard.take);
    assert!(all().all(|hit| hit.pitches.is_sorted()), "{:?}", heard.take);
    assert!(heard.take.hits.is_sorted_by_key(|hit| hit.at), "{:?}", heard.take);
    assert!(heard.peak.is_finite() && heard.loud.is_finite() && heard.floor.is_finite());
    assert!(heard.tuning.is_none_or(|cents| cents.abs() <= 50.0), "{:?}", heard.tuning);
}

/// As it comes: half of it first.
fn in_passing(sound: &Sound) {
    let mut passing = Passing::default();
    let mut told = Vec::new();
    for end in [sound.samples.len() / 2, sound.samples.len()] {
        told.extend(passing.fresh(&sound.samples[..end]));
    }
    assert!(told.is_sorted_by_key(|hit| hit.at), "{told:?}");
}

/// Marsaglia's xorshift, 13 17 5: any noise does.
struct Noise(u32);

impl Noise {
    fn next(&mut self) -> f32 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 17;
        self.0 ^= self.0 << 5;
        self.0 as f32 / u32::MAX as f32 - 0.5
    }
}

/// Puts one sound after the other into the take, each from its time on.
fn sounded(mut told: &[u8], rate: u32, samples: &mut [f32]) {
    let mut at = 0;
    while let Some((one, rest)) = told.split_first_chunk::<EACH>() {
        let [kind, wait, height, force] = *one;
        let own = rest.get(..OWN).unwrap_or(rest);
        let Some(from) = samples.get_mut(at..) else { return };
        let rings = from.len().min((RINGS * rate / 1_000) as usize);
        one_more(kind, height, force, own, rate, &mut from[..rings]);
        told = if kind % KINDS == OF_ITS_OWN { &rest[own.len()..] } else { rest };
        at += usize::from(wait) * rate as usize / 512;
    }
}

const KINDS: u8 = 8;
const OF_ITS_OWN: u8 = 7;

/// A string, two, one that is damped at once, noise, a click, a steady tone, a sound that swells, or a wave of its own.
fn one_more(kind: u8, height: u8, force: u8, own: &[u8], rate: u32, into: &mut [f32]) {
    // From a bass's lowest string up to what only a whistle reaches.
    let hertz = 30.0 * (f32::from(height) / 32.0).exp2();
    let force = f32::from(force) / 255.0;
    let mut noise = Noise(u32::from(height) | 1);
    let step = POINTS as f32 * hertz / rate as f32;
    let wave = |wave: &[f32], n: usize, by: f32| wave[(n as f32 * step * by) as usize % POINTS];
    let (string, sine) = (&*STRING, &*SINE);
    // How much is left of it after a sample.
    let left = |seconds: f32| (-1.0 / (seconds * rate as f32)).exp();
    let (mut level, fades) = match kind % KINDS {
        0 | 1 | OF_ITS_OWN => (force, left(0.25)),
        2 => (force, left(0.02)),
        3 => (force, left(0.1)),
        6 => (force / 64.0, 1.0 / left(0.08)),
        _ => (force, 1.0),
    };
    for (n, into) in into.iter_mut().enumerate() {
        *into += level
            * match kind % KINDS {
                0 | 2 | 6 => wave(string, n, 1.0),
                1 => wave(string, n, 1.0) + wave(string, n, 1.5),
                3 => noise.next(),
                4 => f32::from(u8::from(n == 0)),
                5 => wave(sine, n, 1.0),
                _ if own.is_empty() => 0.0,
                _ => {
                    let point = (n as f32 * step) as usize * own.len() / POINTS;
                    f32::from(own[point % own.len()]) / 128.0 - 1.0
                }
            };
        level *= fades;
    }
}
