use std::io::Cursor;
use std::num::NonZeroU32;
use std::panic;
use std::sync::{LazyLock, Once};

use openchair::input::{read_recorded, read_take_midi, read_take_sound};
use openchair::page::html;
use openchair::rehearsal::{Rehearsal, Rendition, Shipped, Wishes};
use openchair::review::{Anchor, Review};
use openchair::sink::SoundFont;
use openchair::sink::smf::recorded_to_bytes;
use openchair::synth::Renderer;

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

/// A soundfont, and a moment of the band with it.
pub fn soundfont(bytes: &[u8]) {
    caught_is_no_crash();
    let Ok(font) = SoundFont::from_bytes(bytes) else { return };
    let Ok(mut band) = font.band(&SONG.1.performance, 22_050) else { return };
    let (mut left, mut right) = (vec![0.0; 2_205], vec![0.0; 2_205]);
    band.render(&mut left, &mut right);
}
