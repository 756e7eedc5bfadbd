use std::ops::Range;

use super::chord_row::ChordRow;
use super::limits::{MOST_BARS, thousands};
use super::mark_row::MarkRow;
use super::melody_row::MelodyRow;
use super::read_pickup::{self, Along};
use super::stop_row::STOPS;
use super::unroll::unroll;
use super::voice_row::VOICE;
use super::words::known_word;
use super::{Dynamic, Given, Pickup, Section, SectionDraft, Stop};
use crate::text::{Problems, Text};
use crate::theory::Key;
use crate::time::Meter;

/// A section whose rows were read and are not yet unrolled.
#[derive(Debug)]
pub(super) struct SectionRows {
    pub name: String,
    pickup: Option<Pickup>,
    /// `None` if it has no chords that could be read.
    chords: Option<ChordRow>,
    voice: Option<MarkRow<bool>>,
    stops: Option<MarkRow<Stop>>,
    dynamics: Dynamic,
    melody: Option<MelodyRow>,
}

impl SectionRows {
    /// True if its tune is written out, or meant to be.
    pub const fn has_melody(&self) -> bool {
        self.melody.is_some()
    }
}

/// What the sections of a song are read with, one after the other.
pub(super) struct SectionReader {
    /// The song's key, if it could be read.
    pub key: Option<Key>,
    /// The song's meter, if it could be read.
    pub meter: Option<Meter>,
    /// How a row is written, with an example.
    pub example: fn(&str) -> String,
    /// Counts down the bars that the file may still hold; `None` once there were too many, and the rest of
    /// the chords is not read.
    left: Option<usize>,
}

impl SectionReader {
    pub const fn new(key: Option<Key>, meter: Option<Meter>, example: fn(&str) -> String) -> Self {
        Self { key, meter, example, left: Some(MOST_BARS) }
    }

    /// Reads a section's rows.
    pub fn read(&mut self, draft: &SectionDraft, problems: &mut Problems) -> SectionRows {
        let name = &draft.name.value;
        let mut rows = SectionRows {
            name: name.clone(),
            pickup: None,
            chords: None,
            voice: None,
            stops: None,
            melody: None,
            dynamics: Dynamic::default(),
        };
        check_name(name, &draft.name.span, problems);
        rows.dynamics = dynamics(&draft.dynamics, problems).unwrap_or_default();
        if draft.chords.is_missing() {
            problems.add(
                draft.name.span.clone(),
                format!("section {name} has no chords"),
                format!("write {} under its heading", (self.example)("chords")),
            );
        }
        let text = self.row(&draft.chords, "chords", problems);
        let Some(most) = self.left else { return rows };
        let led = text
            .zip(self.meter)
            .and_then(|(text, meter)| read_pickup::of_chords(text, self.key, meter, problems));
        let (head, text) = match led {
            Some((head, rest)) => (Some(head), Some(rest)),
            None => (None, text.cloned()),
        };
        rows.chords = text.map(|text| ChordRow::read(&text, self.key, self.meter, most, problems));
        self.left = most
            .checked_sub(rows.length().unwrap_or(0))
            .filter(|_| !rows.chords.as_ref().is_some_and(|chords| chords.too_long));
        if self.left.is_none() {
            problems.add(
                draft.name.span.clone(),
                format!(
                    "with section {name} the song's sections have more than {} bars, \
                         repeats played",
                    thousands(MOST_BARS)
                ),
                "write fewer bars, and let the form repeat the section",
            );
            rows.chords = None;
            return rows;
        }
        let chords = rows.chords.as_ref();
        let voice = self.row(&draft.voice, VOICE.row, problems);
        let stops = self.row(&draft.stops, STOPS.row, problems);
        let melody = self.row(&draft.melody, "melody", problems);
        // Each row that runs along the chords has a bar for the pickup too.
        let along = |text: Option<&Text>| text.filter(|_| head.is_some()).map(Along::of);
        let (voice_along, stops_along, melody_along) = (along(voice), along(stops), along(melody));
        let rest = |along: &'_ Option<Along>, text: Option<&Text>| {
            along.as_ref().map(|along| along.rest.clone()).or_else(|| text.cloned())
        };
        rows.voice =
            rest(&voice_along, voice).map(|text| MarkRow::read(&text, &VOICE, chords, problems));
        rows.stops =
            rest(&stops_along, stops).map(|text| MarkRow::read(&text, &STOPS, chords, problems));
        rows.melody = rest(&melody_along, melody)
            .map(|text| MelodyRow::read(&text, self.key, chords, problems));
        rows.pickup = head.map(|head| {
            let (voice, melody) =
                (voice.zip(voice_along.as_ref()), melody.zip(melody_along.as_ref()));
            head.finish(voice, melody, self.key, problems)
        });
        rows
    }

    /// The text of a row, if it is there and holds something.
    fn row<'a>(
        &self,
        given: &'a Given<Text>,
        key: &str,
        problems: &mut Problems,
    ) -> Option<&'a Text> {
        let text = given.here()?;
        // Signs between bars are no bars.
        if !text.value.contains(|c: char| !c.is_whitespace() && !['|', ':', ']'].contains(&c)) {
            let help = format!("write its bars, as in {}", (self.example)(key));
            problems.add(text.whole(), format!("`{key}` has no bars"), help);
            return None;
        }
        Some(text)
    }
}

impl SectionRows {
    /// How many bars it plays, if its chords could be read.
    pub fn length(&self) -> Option<usize> {
        self.chords.as_ref().map(ChordRow::length)
    }

    /// Its bars as played, once the whole song is without problems.
    pub fn finish(self) -> Section {
        let bars = match &self.chords {
            Some(chords) => {
                unroll(chords, self.voice.as_ref(), self.stops.as_ref(), self.melody.as_ref())
            }
            None => Vec::new(),
        };
        Section { name: self.name, dynamics: self.dynamics, pickup: self.pickup, bars }
    }
}

/// The section's dynamic mark, if it has one.
fn dynamics(given: &Given<Text>, problems: &mut Problems) -> Option<Dynamic> {
    let text = given.here()?;
    let known = Dynamic::ALL.map(Dynamic::as_str);
    known_word(&text.value, text.inside(), "dynamic mark", &known, Dynamic::parse, problems)
}

/// A name that the form can call: not empty, no colon, no blank at an end, all on one line.
fn check_name(name: &str, span: &Range<usize>, problems: &mut Problems) {
    let message = if name.trim().is_empty() {
        "this section's name is empty"
    } else if name.contains([':', '@']) {
        "a section's name can't hold `:` or `@`, which set off a lead or a role"
    } else if name.trim() != name || name.contains(char::is_control) {
        "a section's name can't begin or end with a blank, or hold a tab or a line break"
    } else {
        return;
    };
    problems.add(
        span.clone(),
        message,
        "name it in plain words, as in [section.chorus] or [section.\"high part\"]",
    );
}
