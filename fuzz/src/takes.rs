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

/// Longer sounds are read, and not listened to: that takes seconds, and it goes by what is heard, not by the file.
const MOST_SAMPLES: usize = 1 << 15;

/// Longer takes are read, and not held against the song: what goes round is laid out as long as they last.
const MOST_STROKES: usize = 2_000;
const MOST_NANOS: i64 = 600_000_000_000;

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
    let (song, band) = &*SONG;
    if let Some(recorded) = read_recorded(bytes) {
        recorded_to_bytes(&recorded).expect("written to memory");
        let _ = song.agrees(&recorded);
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
    if sound.samples.len() <= MOST_SAMPLES
        && let Ok(heard) = hear(&sound.samples, sound.rate)
    {
        let in_it = |nanos: i64| (0..=heard.take.length.0).contains(&nanos);
        assert!(heard.take.hits.iter().all(|hit| in_it(hit.at.0)), "{:?}", heard.take);
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
