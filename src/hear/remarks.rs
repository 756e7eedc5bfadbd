use super::{Heard, Sound};

/// More than this share of the samples cut off is heard in every stroke.
const CLIPPED: f64 = 0.001;

/// A peak of fewer decibels is so soft that a microphone's own noise is not far below.
const FAINT: f64 = -40.0;

/// What makes hearing a recording hard, if anything does, and what to do about it: words that go on from what the
/// recording is called. Nothing was made out of it where `heard` is `None`.
pub fn remarks(sound: &Sound, heard: Option<&Heard>) -> Vec<String> {
    let mut told = Vec::new();
    if sound.clipped > CLIPPED {
        told.push(format!(
            "is clipped: {:.1} percent of it is cut off, and strokes there are hard to make out; record it with \
             the input turned down",
            sound.clipped * 100.0
        ));
    }
    if let Some(heard) = heard.filter(|heard| heard.peak < FAINT) {
        told.push(format!(
            "is very soft: its loudest moment is {:.0} dB below full scale; record it with the input turned up",
            -heard.peak
        ));
    }
    told
}
