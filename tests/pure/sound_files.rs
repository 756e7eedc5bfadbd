//! Sound files as phones, recorders and programs write them: heard at the right time whatever they were coded in, and
//! harmless however damaged. `tests/sounds/make.py` made those that are read here.

use std::fs;
use std::io::Cursor;
use std::panic;
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use crate::common::effort::effort;
use openchair::hear::{RATE, Sound};
use openchair::input::{SoundFile, TakeError, read_take_sound};
use proptest::prelude::*;

const GOOD: [&str; 9] = [
    "plucks.flac",
    "plucks.mp3",
    "plucks-stereo.mp3",
    "plucks.ogg",
    "plucks.m4a",
    "plucks-stereo.m4a",
    "plucks-alac.m4a",
    "plucks.aiff",
    "two-tracks.m4a",
];

const OTHERS: [&str; 4] = ["plucks.aac", "opus.ogg", "opus.m4a", "silent-film.mp4"];

fn file(name: &str) -> Vec<u8> {
    fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/sounds").join(name)).unwrap()
}

fn read(bytes: impl AsRef<[u8]> + Send + Sync) -> Result<SoundFile, TakeError> {
    read_take_sound(Cursor::new(bytes))
}

/// What was coded: the sum that `tests/sounds/make.py` has.
fn plucks() -> Sound {
    let mut sound = vec![0.0_f64; 35_280];
    for k in 0..8_usize {
        let turn = std::f64::consts::TAU * (300.0 + 170.0 * k as f64) / 44_100.0;
        for (i, sample) in sound.iter_mut().skip(2_205 + k * 3_900 + k * k * 31).enumerate() {
            *sample += 0.4 * (-(i as f64) / 900.0).exp() * (turn * i as f64).sin();
        }
    }
    Sound::new(sound.iter().map(|x| *x as f32).collect(), 1, 44_100)
}

/// How many samples later one sound is than another, by where they agree best, and how well they do there, to 1.
fn later(sound: &[f32], than: &[f32]) -> (i64, f64) {
    let power = |x: &[f32]| x.iter().map(|x| f64::from(*x).powi(2)).sum::<f64>().sqrt();
    let agree = |lag: i64| -> f64 {
        let (a, b) = (lag.max(0) as usize, (-lag).max(0) as usize);
        let pairs = sound.iter().skip(a).zip(than.iter().skip(b));
        pairs.map(|(x, y)| f64::from(*x) * f64::from(*y)).sum()
    };
    let best = (-1_600..=1_600).max_by(|a, b| agree(*a).total_cmp(&agree(*b))).unwrap();
    (best, agree(best) / (power(sound) * power(than)))
}

#[test]
fn every_kind_keeps_its_times() {
    let plucks = plucks();
    for name in GOOD {
        let SoundFile { sound, tracks } = read(file(name)).unwrap();
        assert_eq!(
            (sound.rate, tracks),
            (RATE, if name.starts_with("two") { 2 } else { 1 }),
            "{name}"
        );
        let (late, alike) = later(&sound.samples, &plucks.samples);
        // Two samples are an eighth of a millisecond.
        assert!(late.abs() <= 2, "{name}: {late} samples late");
        let least = if name.starts_with("two") { 0.5 } else { 0.98 };
        assert!(alike > least, "{name}: {alike}");
        if !name.starts_with("two") {
            let off = sound.samples.len().abs_diff(plucks.samples.len());
            assert!(off <= 2, "{name}: {off} samples too long or short");
        }
        // One channel as two has each 3 dB softer.
        let level = if name.contains("stereo") { 0.5_f32.sqrt() } else { 1.0 };
        assert!((sound.peak - level * plucks.peak).abs() < 0.05, "{name}: {}", sound.peak);
    }
    // A bare stream does not say what the coder put before it: a block of 1,024, 23 ms.
    let (late, alike) = later(&read(file("plucks.aac")).unwrap().sound.samples, &plucks.samples);
    assert!((late - 372).abs() <= 2 && alike > 0.98, "{late} {alike}");
}

#[test]
fn a_file_cut_off_in_the_middle_is_heard_as_far_as_it_goes() {
    let plucks = plucks();
    for name in ["plucks.flac", "plucks.mp3", "plucks.ogg", "plucks-stereo.m4a", "plucks.aiff"] {
        let whole = file(name);
        let cut = &whole[..whole.len() * 6 / 10];
        let sound = read(cut).unwrap().sound.samples;
        let share = sound.len() as f64 / plucks.samples.len() as f64;
        assert!((0.2..0.8).contains(&share), "{name}: {share}");
        let (late, alike) = later(&sound, &plucks.samples[..sound.len()]);
        assert!(late.abs() <= 2 && alike > 0.95, "{name}: {late} {alike}");
    }
}

#[test]
fn a_packet_that_is_lost_moves_nothing() {
    let mut bytes = file("plucks.mp3");
    let frame =
        (bytes.len() / 2..).find(|at| bytes[*at] == 0xFF && bytes[*at + 1] == 0xFB).unwrap();
    bytes[frame + 4..frame + 200].fill(0x55);
    let (late, _) = later(&read(bytes).unwrap().sound.samples, &plucks().samples);
    assert!(late.abs() <= 2, "{late}");
}

#[test]
fn what_is_not_read_says_what_to_save() {
    let told = |bytes: &[u8]| read(bytes).unwrap_err().to_string();
    for name in ["opus.ogg", "opus.m4a"] {
        let told = told(&file(name));
        assert!(
            told.contains("Opus sound, which is not read; save or convert it as .wav"),
            "{told}"
        );
    }
    assert!(told(&file("silent-film.mp4")).contains("no sound track; was the microphone on"));
    // Without its end, where an M4A file has its table of contents.
    let m4a = file("plucks.m4a");
    assert!(told(&m4a[..m4a.len() / 2]).contains("never finished"));
    // As shops write it that sell what can't be copied.
    let mut sold = m4a.clone();
    let at = sold.windows(4).rposition(|four| four == b"mp4a").unwrap();
    sold[at..at + 4].copy_from_slice(b"drms");
    assert!(told(&sold).contains("protected against copying"), "{}", told(&sold));
    for name in ["plucks.flac", "plucks.ogg", "plucks.aiff"] {
        let told = told(&file(name)[..30]);
        assert!(told.contains("is damaged") || told.contains("holds no sound"), "{name}: {told}");
    }
    for (bytes, looks) in [
        (&b""[..], "an empty file"),
        (b"\x1A\x45\xDF\xA3", "a WebM or Matroska file"),
        (b"#!AMR\n", "an AMR file, a phone's own for speech"),
        (b"title = \"A song\"", "no sound file of a kind that is read, and no MIDI file"),
    ] {
        assert_eq!(read(bytes).unwrap_err(), TakeError::Neither { looks });
    }
}

/// A file with damage that hangs on the seed alone: bits and bytes changed, cut, repeated, filled from another.
fn damaged(files: &[Vec<u8>], seed: u64) -> Vec<u8> {
    let mut state = seed;
    let mut chance = |below: usize| {
        // SplitMix64.
        state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mixed = (state ^ state >> 30).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        let mixed = (mixed ^ mixed >> 27).wrapping_mul(0x94D0_49BB_1331_11EB);
        (mixed >> 32) as usize % below.max(1)
    };
    let mut bytes = files[chance(files.len())].clone();
    for _ in 0..=chance(6) {
        // Where the headers are more often than elsewhere, and the table at the end of an M4A file.
        let length = bytes.len();
        let at = match chance(4) {
            0 => chance(length),
            1 => length - chance(length.min(1_500)).min(length),
            2 => chance(length.min(1_500)),
            _ => chance(length.min(200)),
        };
        let count = [1, 2, 4, 8, 40, 1_000][chance(6)].min(length - at);
        match chance(7) {
            0 => {
                if let Some(byte) = bytes.get_mut(at) {
                    *byte ^= 1 << chance(8);
                }
            }
            1 => bytes[at..at + count].iter_mut().for_each(|byte| *byte = chance(256) as u8),
            2 => bytes[at..at + count].fill([0, 0xFF, 0x7F, 0x80, 1][chance(5)]),
            3 => bytes.truncate(at),
            4 => {
                let again = bytes[at..at + count].to_vec();
                let to = chance(bytes.len() + 1);
                bytes.splice(to..to, again);
            }
            5 => {
                let other = &files[chance(files.len())];
                let from = chance(other.len());
                bytes.truncate(at);
                bytes.extend(&other[from..]);
            }
            _ => {
                bytes.drain(at..at + count);
            }
        }
    }
    bytes
}

fn all_files() -> Vec<Vec<u8>> {
    let mut files: Vec<Vec<u8>> = GOOD.iter().chain(&OTHERS).map(|name| file(name)).collect();
    // A WAV file too: its header, and a little noise.
    let mut wav = b"RIFF\x24\x10\0\0WAVEfmt \x10\0\0\0\x01\0\x02\0\x44\xAC\0\0\x10\xB1\x02\0\x04\0\x10\0data\0\x10\0\0".to_vec();
    wav.extend((0..4_096_u32).map(|n| ((n * 7_919) >> 3) as u8));
    files.push(wav);
    files
}

fn harmless(bytes: Vec<u8>) -> Result<(), String> {
    let before = effort();
    let sound = read(bytes).map(|file| file.sound.samples).unwrap_or_default();
    if !sound.iter().all(|sample| sample.is_finite()) {
        return Err("what is no number".to_owned());
    }
    let took = effort() - before;
    // A few kilobytes: milliseconds, and tens of them unoptimised.
    if took > Duration::from_secs(5) { Err(format!("{took:?}")) } else { Ok(()) }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn no_sound_file_does_any_harm(seed in any::<u64>()) {
        static FILES: std::sync::OnceLock<Vec<Vec<u8>>> = std::sync::OnceLock::new();
        prop_assert_eq!(harmless(damaged(FILES.get_or_init(all_files), seed)), Ok(()));
    }
}

/// The same for as many seconds as `SECONDS` says (a minute, if nothing), from the seed `SEED` on: also no panic within
/// a decoder, which is caught and never told elsewhere.
///
///     SECONDS=3600 cargo test --release --test pure damaged_for_long -- --ignored --nocapture
#[test]
#[ignore = "as long as one likes"]
fn damaged_for_long() {
    static PANICS: AtomicU64 = AtomicU64::new(0);
    static SEED: AtomicU64 = AtomicU64::new(0);
    let number = |name: &str| std::env::var(name).ok().and_then(|text| text.parse::<u64>().ok());
    let seconds = Duration::from_secs(number("SECONDS").unwrap_or(60));
    let first = number("SEED").unwrap_or(0);
    let files = all_files();
    // From the first file on a decoder's panics are told to nobody but whoever asks from then on.
    files.iter().for_each(|file| harmless(file.clone()).unwrap());
    let report = panic::take_hook();
    panic::set_hook(Box::new(move |info| {
        PANICS.fetch_add(1, Ordering::Relaxed);
        println!("seed {}: {info}", SEED.load(Ordering::Relaxed));
    }));
    let begun = Instant::now();
    let (mut slowest, mut faults, mut seed) = (Duration::ZERO, 0, first);
    while begun.elapsed() < seconds {
        SEED.store(seed, Ordering::Relaxed);
        let before = effort();
        if let Err(fault) = harmless(damaged(&files, seed)) {
            println!("seed {seed}: {fault}");
            faults += 1;
        }
        if effort() - before > slowest {
            slowest = effort() - before;
            println!("seed {seed}: {slowest:?}");
        }
        seed += 1;
        if seed.is_multiple_of(10_000) {
            println!("{} files in {:?}", seed - first, begun.elapsed());
        }
    }
    panic::set_hook(report);
    let status = fs::read_to_string("/proc/self/status").unwrap_or_default();
    let most = status.lines().find(|line| line.starts_with("VmHWM")).unwrap_or_default();
    println!("{} files, slowest {slowest:?}, {most}", seed - first);
    assert_eq!((faults, PANICS.load(Ordering::Relaxed)), (0, 0));
}
