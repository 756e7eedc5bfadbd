use super::chord_row::ChordRow;
use super::limits::{MOST_BARS, thousands};
use super::mark_row::{Alphabet, MarkRow};
use super::melody_row::MelodyRow;
use super::stop_row::STOPS;
use super::unroll::unroll;
use super::voice_row::VOICE;
use super::words::known_word;
use super::{Dynamic, Section, Stop};
use crate::text::{Field, Item, Problems, Table, Text, nearest};
use crate::theory::Key;
use crate::time::Meter;

/// A section whose rows were read and are not yet unrolled.
#[derive(Debug)]
pub(super) struct SectionDraft {
    pub name: String,
    /// `None` if it has no chords that could be read.
    chords: Option<ChordRow>,
    voice: Option<MarkRow<bool>>,
    stops: Option<MarkRow<Stop>>,
    dynamics: Dynamic,
    melody: Option<MelodyRow>,
}

/// The rows of a section.
pub(super) const ROWS: [&str; 4] = ["chords", "voice", "stops", "melody"];

/// What else a section can hold.
pub(super) const OTHER_KEYS: [&str; 1] = ["dynamics"];

const CHORDS_EXAMPLE: &str = "\"| G | C | D7 | G |\"";

impl SectionDraft {
    /// Reads `[section.NAME]`. `left` counts down the bars that the file may still hold; it is `None`
    /// once there were too many, and the rest of the chords is not read.
    pub fn read(
        field: &Field,
        key: Option<Key>,
        meter: Option<Meter>,
        left: &mut Option<usize>,
        problems: &mut Problems,
    ) -> Self {
        let mut draft = Self {
            name: field.key.clone(),
            chords: None,
            voice: None,
            stops: None,
            melody: None,
            dynamics: Dynamic::default(),
        };
        check_name(field, problems);
        let Item::Table(table) = &field.node.item else {
            problems.add(
                field.key_span.clone(),
                format!("section {} is {} where a table belongs", field.key, field.node.kind()),
                format!("write [section.{}] and under it chords = {CHORDS_EXAMPLE}", field.key),
            );
            return draft;
        };
        let known = [&ROWS[..], &OTHER_KEYS[..]].concat();
        table.only(&known, &format!("section {}", field.key), problems);
        draft.dynamics = dynamics(table, problems).unwrap_or_default();
        let text = row(table, "chords", CHORDS_EXAMPLE, problems);
        let misspelt = |field: &Field| {
            !ROWS.contains(&field.key.as_str()) && nearest(&field.key, ROWS) == Some("chords")
        };
        if table.lacks("chords") && !table.fields.iter().any(misspelt) {
            problems.add(
                field.key_span.clone(),
                format!("section {} has no chords", field.key),
                format!("write chords = {CHORDS_EXAMPLE} under its heading"),
            );
        }
        let Some(most) = *left else { return draft };
        draft.chords = text.map(|text| ChordRow::read(text, key, meter, most, problems));
        let chords = draft.chords.as_ref();
        *left = most
            .checked_sub(draft.length().unwrap_or(0))
            .filter(|_| !chords.is_some_and(|chords| chords.too_long));
        if left.is_none() {
            problems.add(
                field.key_span.clone(),
                format!(
                    "with section {} the song's sections have more than {} bars, \
                         repeats played",
                    field.key,
                    thousands(MOST_BARS)
                ),
                "write fewer bars, and let the form repeat the section",
            );
            draft.chords = None;
            return draft;
        }
        draft.voice = marks(table, &VOICE, "\"| ==== | ==-- |\"", chords, problems);
        draft.stops = marks(table, &STOPS, "\"| . | x--- |\"", chords, problems);
        draft.melody = row(table, "melody", "\"| G A B d | g / - - |\"", problems)
            .map(|text| MelodyRow::read(text, key, chords, problems));
        draft
    }

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
        Section { name: self.name, dynamics: self.dynamics, bars }
    }
}

/// The section's dynamic mark, if it has one.
fn dynamics(table: &Table, problems: &mut Problems) -> Option<Dynamic> {
    let text = table.text("dynamics", "\"mp\"", problems)?;
    let known = Dynamic::ALL.map(Dynamic::as_str);
    let span = text.span(0..text.value.len());
    known_word(&text.value, span, "dynamic mark", &known, Dynamic::parse, problems)
}

/// A name that the form can call: not empty, no colon, no blank at an end, all on one line.
fn check_name(field: &Field, problems: &mut Problems) {
    let name = &field.key;
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
        field.key_span.clone(),
        message,
        "name it in plain words, as in [section.chorus] or [section.\"high part\"]",
    );
}

/// The text of a row, if it is there and holds something.
fn row<'a>(
    table: &'a Table,
    key: &str,
    example: &str,
    problems: &mut Problems,
) -> Option<&'a Text> {
    let text = table.text(key, example, problems)?;
    // Signs between bars are no bars.
    if !text.value.contains(|c: char| !c.is_whitespace() && !['|', ':', ']'].contains(&c)) {
        let span = table.get(key).map_or(0..0, |node| node.span.clone());
        problems.add(span, format!("`{key}` has no bars"), format!("write {key} = {example}"));
        return None;
    }
    Some(text)
}

fn marks<T: Copy>(
    table: &Table,
    alphabet: &Alphabet<T>,
    example: &str,
    chords: Option<&ChordRow>,
    problems: &mut Problems,
) -> Option<MarkRow<T>> {
    let text = row(table, alphabet.row, example, problems)?;
    Some(MarkRow::read(text, alphabet, chords, problems))
}
