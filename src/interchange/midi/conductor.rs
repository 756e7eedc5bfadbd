//! What a file's first track says of the song: its bars, its passes, its chords.

use crate::interchange::tune::TimeSignature;
use crate::midi_file::{Event, MidiFile};
use crate::theory::Chord;

/// What stands in a file besides its notes, all times in ticks of the file.
#[derive(Debug, Default)]
pub(super) struct Conductor {
    pub title: Option<String>,
    /// Microseconds a quarter at the beginning.
    pub micros: Option<u32>,
    pub times: Vec<(u64, TimeSignature)>,
    /// Sharps, below 0 flats, and true for minor.
    pub signature: Option<(i8, bool)>,
    pub markers: Vec<(u64, String)>,
    pub cues: Vec<(u64, String)>,
    /// Chords, and `None` for N.C.
    pub chords: Vec<(u64, Option<Chord>)>,
    /// Words that are no chord, if there are any.
    pub other_words: usize,
}

impl Conductor {
    pub(super) fn of(file: &MidiFile<'_>) -> Self {
        let mut out = Self::default();
        for (number, track) in file.tracks.iter().enumerate() {
            for &(at, event) in track {
                out.take(number, at, event);
            }
        }
        // Tracks lie beside each other.
        out.times.sort_by_key(|(at, _)| *at);
        out.markers.sort_by_key(|(at, _)| *at);
        out.cues.sort_by_key(|(at, _)| *at);
        out.chords.sort_by_key(|(at, _)| *at);
        out
    }

    fn take(&mut self, track: usize, at: u64, event: Event<'_>) {
        let words = |bytes: &[u8]| crate::interchange::one_line(&String::from_utf8_lossy(bytes));
        match event {
            Event::TrackName(name) if track == 0 && self.title.is_none() => {
                self.title = Some(words(name)).filter(|title| !title.is_empty());
            }
            Event::Tempo(micros) => {
                self.micros.get_or_insert(micros);
            }
            Event::TimeSignature { numerator, power, .. } if power < 7 && numerator > 0 => {
                self.times.push((at, TimeSignature::new(u32::from(numerator), 1 << power)));
            }
            Event::KeySignature { accidentals, minor } => {
                self.signature.get_or_insert((accidentals, minor));
            }
            Event::Marker(name) => self.markers.push((at, words(name))),
            Event::CuePoint(name) => self.cues.push((at, words(name))),
            Event::Text(text) => match words(text).as_str() {
                "N.C." => self.chords.push((at, None)),
                text => match Chord::parse(text) {
                    Ok(chord) => self.chords.push((at, Some(chord))),
                    Err(_) => self.other_words += 1,
                },
            },
            _ => {}
        }
    }

    /// The time signature at a place.
    pub(super) fn time_at(&self, at: u64) -> TimeSignature {
        last_until(&self.times, at).copied().unwrap_or(TimeSignature::COMMON)
    }

    /// The chord that sounds at a place.
    pub(super) fn chord_at(&self, at: u64) -> Option<Chord> {
        last_until(&self.chords, at).copied().flatten()
    }

    /// The chords that begin after `from` and before `to`. They are in order, so that a bar looks at its own alone.
    pub(super) fn chords_within(&self, from: u64, to: u64) -> &[(u64, Option<Chord>)] {
        let start = self.chords.partition_point(|(at, _)| *at <= from);
        let end = self.chords.partition_point(|(at, _)| *at < to);
        self.chords.get(start..end).unwrap_or_default()
    }
}

/// What was said last at a place, of what is in order.
fn last_until<T>(said: &[(u64, T)], at: u64) -> Option<&T> {
    let after = said.partition_point(|(from, _)| *from <= at);
    said.get(after.checked_sub(1)?).map(|(_, what)| what)
}
