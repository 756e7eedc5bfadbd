use std::io::Cursor;
use std::num::NonZeroU32;
use std::panic;
use std::sync::{LazyLock, Once};

use openchair::hear::hear;
use openchair::input::{read_recorded, read_take_midi, read_take_sound};
use openchair::page::html;
use openchair::rehearsal::{Rehearsal, Rendition, Shipped, Wishes};
use openchair::review::{Anchor, Review};
use openchair::sink::SoundFont;
use openchair::sink::smf::recorded_to_bytes;
use openchair::synth::Renderer;

/// Longer sounds are not listened to: that takes seconds, and shows nothing new.
const MOST_SAMPLES: usize = 1 << 16;

/// Longer takes are read, and not held against the song: what goes round is laid out as long as they last.
const MOST_STROKES: usize = 400;
const MOST_NANOS: i64 = 120_000_000_000;

static SONG: LazyLock<(Rehearsal, Rendition)> = LazyLock::new(|| {
    let song = Shipped::song("one-plank-short").expect("it is shipped");
    let song = Rehearsal::read(&song, &Shipped, Wishes::default()).expect("it can be played");
    let band = song.perform(song.arrangement().expect("the whole song")).expect("its own style");
    (song, band)
});

fn reviewed(review: &Review) {
    assert!(!html(review).is_empty());
    serde_json::to_string(review).expect("a review is data");
}

/// A take as a MIDI file: played by somebody, recorded by a program, or by this one.
pub fn take_midi(bytes: &[u8]) {
    if let Some(recorded) = read_recorded(bytes) {
        let again = recorded_to_bytes(&recorded).expect("written to memory");
        assert!(read_recorded(&again).is_some(), "what is written is read again");
        let _ = SONG.0.agrees(&recorded);
    }
    let Ok(take) = read_take_midi(bytes) else { return };
    assert!(take.hits.iter().all(|hit| hit.at <= take.length), "{take:?}");
}

/// Such a take held against the song. That takes a thousand times as long as reading it.
pub fn reviews(bytes: &[u8]) {
    let (song, band) = &*SONG;
    if let Some(recorded) = read_recorded(bytes) {
        if let Ok(review) = song.review_recorded(&recorded, true, NonZeroU32::MIN, "song.toml") {
            reviewed(&review);
        }
    }
    let Ok(take) = read_take_midi(bytes) else { return };
    if take.hits.len() > MOST_STROKES || take.length.0 > MOST_NANOS {
        return;
    }
    let _ = song.recorded_how(band, &take);
    let _ = song.went_round(band, &take);
    for anchor in [Anchor::Find, Anchor::Begins(openchair::time::Nanos(2_000_000_000))] {
        if let Ok(review) = song.review(band, &take, anchor, "song.toml") {
            reviewed(&review);
        }
    }
}

/// A library that breaks off within what catches it says nothing, and is no crash.
fn caught_is_no_crash() {
    static QUIET: Once = Once::new();
    QUIET.call_once(|| panic::set_hook(Box::new(|_| ())));
}

/// A take as a sound file of any kind.
pub fn take_sound(bytes: &[u8]) {
    caught_is_no_crash();
    let Ok(file) = read_take_sound(Cursor::new(bytes)) else { return };
    let sound = file.sound;
    assert!(sound.samples.iter().all(|sample| sample.is_finite()));
}

/// What a microphone may hear, four bytes at a time: what kind of sound, how long, how high and how loud. Bytes taken for
/// samples would be a moment's noise, however they are mixed.
pub fn hears(bytes: &[u8]) {
    let Some((first, told)) = bytes.split_first() else { return };
    let rate = [8_000, 16_000, 22_050, 44_100, 48_000][usize::from(*first) % 5];
    let mut samples: Vec<f32> = Vec::new();
    for told in told.chunks_exact(4) {
        let left = MOST_SAMPLES.saturating_sub(samples.len());
        if left == 0 {
            break;
        }
        let length = (usize::from(told[1]) + 1) * rate as usize / 256;
        sounded(told, rate, length.min(left), &mut samples);
    }
    let Ok(heard) = hear(&samples, rate) else { return };
    let in_it = |nanos: i64| (0..=heard.take.length.0).contains(&nanos);
    assert!(heard.take.hits.iter().all(|hit| in_it(hit.at.0)), "{:?}", heard.take);
}

/// Some of it: a string, two, noise, a click, a steady tone, what is too loud for the microphone, its own offset, nothing.
fn sounded(told: &[u8], rate: u32, length: usize, samples: &mut Vec<f32>) {
    let [kind, _, height, force] = [told[0], told[1], told[2], told[3]];
    // From a bass's lowest string up to what only a whistle reaches.
    let hertz = 30.0 * (f32::from(height) / 32.0).exp2();
    let force = f32::from(force) / 255.0;
    let mut noise = u32::from(height) | 1;
    for n in 0..length {
        let at = n as f32 / rate as f32;
        let wave = |hertz: f32| (std::f32::consts::TAU * hertz * at).sin();
        let string = |hertz: f32| {
            (1_u8..6).map(|part| wave(hertz * f32::from(part)) / f32::from(part)).sum::<f32>()
        };
        // Marsaglia's xorshift, 13 17 5: any noise does.
        noise ^= noise << 13;
        noise ^= noise >> 17;
        noise ^= noise << 5;
        let sample = match kind % 8 {
            0 => force * (-5.0 * at).exp() * string(hertz),
            1 => force * (-3.0 * at).exp() * (string(hertz) + string(hertz * 1.5)),
            2 => force * (noise as f32 / u32::MAX as f32 - 0.5),
            3 => force * f32::from(u8::from(n == 0)),
            4 => force * wave(hertz),
            5 => (20.0 * force * (-2.0 * at).exp() * string(hertz)).clamp(-1.0, 1.0),
            6 => force,
            _ => 0.0,
        };
        samples.push(sample);
    }
}

/// A soundfont, and a moment of the band with it.
pub fn soundfont(bytes: &[u8]) {
    caught_is_no_crash();
    let Ok(font) = SoundFont::from_bytes(bytes) else { return };
    let Ok(mut band) = font.band(&SONG.1.performance, 22_050) else { return };
    let (mut left, mut right) = (vec![0.0; 2_205], vec![0.0; 2_205]);
    band.render(&mut left, &mut right);
}
