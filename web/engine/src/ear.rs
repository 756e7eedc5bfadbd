//! A player who is heard: what a microphone or a file gives, and the review of it.

use openchair::hear::{Cancelled, Mixer, Passing, Sound, Unheard, hear, remarks};
use openchair::input::loop_back;
use openchair::live::{Status, Tape};
use openchair::perform::Swing;
use openchair::progress::{Entry, by_song, read_entries, words as progress_words};
use openchair::rehearsal::Rehearsal;
use openchair::review::{Review, words};
use openchair::screen::heard_words;
use openchair::take::{Hit, Take};
use openchair::time::Nanos;
use serde_json::{Value, json};

use crate::table::Table;

/// Sound that comes in blocks.
pub struct Ear {
    mixer: Mixer,
    /// Seconds of the sound, and when in the band's time what was played then was heard.
    marks: Vec<(f64, Nanos)>,
}

impl Ear {
    /// For so many channels at so many samples a second. One channel `alone`, if they cancel each other out.
    pub fn new(channels: u32, rate: u32, alone: Option<u32>) -> Self {
        let mixer = Mixer::new(channels as usize, rate, alone.map(|number| number as usize));
        Self { mixer, marks: Vec::new() }
    }

    /// Takes whole frames, as bytes of floats.
    pub fn take(&mut self, bytes: &[u8]) {
        let samples: Vec<f32> = bytes
            .chunks_exact(4)
            .filter_map(|four| four.try_into().ok().map(f32::from_le_bytes))
            .collect();
        self.mixer.push(&samples);
    }

    /// What sounded that many seconds into the recording is the band's at that time.
    pub fn mark(&mut self, seconds: f64, now: Nanos) {
        self.marks.push((seconds, now));
    }

    fn sound(self) -> Result<Sound, Cancelled> {
        self.mixer.finish()
    }
}

/// A moment of a recording on the band's time, by the mark before it, or by the first.
fn placed(marks: &[(f64, Nanos)], seconds: f64) -> Option<Nanos> {
    let next = marks.partition_point(|(at, _)| *at <= seconds);
    let (at, now) = marks.get(next.saturating_sub(1))?;
    Some(Nanos(now.0 + ((seconds - at) * 1e9).round() as i64))
}

/// The delay of clicks that were played at these seconds of the recording, as JSON.
pub fn delay(ear: Ear, clicks: &str) -> Result<Vec<u8>, String> {
    let clicks: Vec<f64> = serde_json::from_str(clicks).map_err(|why| why.to_string())?;
    let sound = ear.sound().unwrap_or_else(|cancelled| cancelled.sound);
    let told = loop_back(&sound.samples, &clicks).map_err(|why| why.to_string())?;
    let round = |millis: f64| (millis * 100.0).round() / 100.0;
    bytes(&json!({
        "milliseconds": round(told.delay), "spread": round(told.spread), "heard": told.heard,
    }))
}

/// The review of a recording by itself, as JSON; or `{"alone": 1}` where the channels cancel each other out, and the
/// recording has to be taken once more, that channel alone. `delay` is by how much it was delayed, where it begins with
/// the count-in.
pub fn review_sound(
    ear: Ear,
    rehearsal: Rehearsal,
    delay: Option<Nanos>,
    song: &str,
) -> Result<Vec<u8>, String> {
    let sound = match ear.sound() {
        Ok(sound) => sound,
        Err(Cancelled { loudest, .. }) => return bytes(&json!({ "alone": loudest })),
    };
    let (take, notes) = heard(&sound)?;
    let told = rehearsal.review_take(&take, None, delay, song).map_err(|why| why.by_hand())?;
    bytes(&shown(&told, &notes))
}

/// The strokes, and what there is to be said of the recording.
fn heard(sound: &Sound) -> Result<(Take, Vec<String>), String> {
    let heard = hear(&sound.samples, sound.rate);
    let mut notes: Vec<String> =
        remarks(sound, heard.as_ref().ok()).iter().map(|it| format!("The take {it}.")).collect();
    match heard {
        Ok(heard) => Ok((heard.take, notes)),
        Err(why @ (Unheard::Silent { .. } | Unheard::NoStrokes)) => {
            notes.push(why.to_string());
            Ok((sound.unheard_take(), notes))
        }
        Err(why) => Err(why.to_string()),
    }
}

/// What of a review is for the page.
fn shown(review: &Review, notes: &[String]) -> Value {
    json!({
        "text": words(review, usize::MAX),
        "notes": notes,
        "bars": review.advice.bars,
        "speed": review.advice.speed,
        "entry": Entry::of(review, String::new()),
    })
}

fn bytes(value: &Value) -> Result<Vec<u8>, String> {
    serde_json::to_vec(value).map_err(|why| why.to_string())
}

/// Takes over days in words, from their lines.
pub fn progress(lines: &str) -> Vec<u8> {
    progress_words(&by_song(&read_entries(lines).0), usize::MAX).into_bytes()
}

/// What is kept of a player while the band plays.
pub(crate) struct Kept {
    ear: Ear,
    tape: Tape,
    passing: Passing,
}

impl Table {
    /// Begins to keep what a player does beside the band.
    pub fn listen(&mut self, ear: Ear) {
        let tape = Tape::new(self.desk.song().title.clone(), None);
        self.kept = Some(Kept { ear, tape, passing: Passing::default() });
        let status = self.status;
        self.keep(&status);
    }

    /// Takes in how the band stands, for where the song is while the player plays.
    pub(crate) fn keep(&mut self, status: &Status) {
        if let (Some(kept), Some(song)) = (&mut self.kept, self.desk.arrangement(status.score)) {
            kept.tape.follow(status, song);
        }
    }

    /// What is kept of the player's sound.
    pub fn ear(&mut self) -> Option<&mut Ear> {
        self.kept.as_mut().map(|kept| &mut kept.ear)
    }

    /// How the player does, who is heard so much late, as the line of `openchair play --listen-mic`; as JSON.
    pub fn noticed(&mut self, late: Nanos) -> Result<Vec<u8>, String> {
        let (song, swing) = (self.song(), self.desk.swing(self.status.score));
        let kept = self.kept.as_mut().ok_or("nobody is heard")?;
        let song = song.ok_or("nothing is played")?;
        for hit in kept.passing.fresh(kept.ear.mixer.so_far()) {
            let seconds = (hit.at.0 - late.0) as f64 / 1e9;
            if let Some(at) = placed(&kept.ear.marks, seconds) {
                kept.tape.strike(Hit { at, ..hit });
            }
        }
        let noticed = kept.tape.noticed(&song, swing.unwrap_or(Swing::EVEN));
        let chords = self.desk.shown().chords;
        let words = heard_words(noticed.as_ref(), &song, self.status.tempo, chords);
        bytes(&json!({ "line": words.line, "missed": words.missed.trim() }))
    }

    /// The review of what was kept until `now`, by who hears a player so much late, as JSON.
    pub fn review(&mut self, late: Nanos, now: Nanos, song: &str) -> Result<Vec<u8>, String> {
        let Kept { ear: Ear { mixer, marks }, mut tape, .. } =
            self.kept.take().ok_or("nobody is heard")?;
        tape.forget_strokes();
        let sound = mixer.finish().unwrap_or_else(|cancelled| cancelled.sound);
        let (take, notes) = heard(&sound)?;
        for hit in take.hits {
            let seconds = (hit.at.0 - late.0) as f64 / 1e9;
            if let Some(at) = placed(&marks, seconds) {
                tape.strike(Hit { at, ..hit });
            }
        }
        tape.stop(now);
        let told = self.asked.review_recorded(&tape.recorded(), false, self.desk.times(), song);
        let why = |why: &dyn std::fmt::Display| {
            [notes.as_slice(), &[format!("no review: {why}")]].concat().join("\n")
        };
        told.map_err(|error| why(&error)).and_then(|told| bytes(&shown(&told, &notes)))
    }
}
