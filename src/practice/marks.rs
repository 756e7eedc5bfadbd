use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};
use thiserror::Error;

use super::{Change, Day};
use crate::hash::fnv1a;
use crate::theory::Chord;

/// The version of the file that is read and written.
const VERSION: u64 = 1;

/// No practice speed is faster, in percent; a file that says so is none of ours.
const FASTEST: f64 = 1000.0;

/// How far a player has come with the changes of one song: what its file holds.
///
/// The file is JSON. Changes that the song no longer has stay in it, and so does whatever else it
/// holds, so that nothing is lost when a chart is mended.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Marks {
    version: u64,
    title: String,
    changes: Vec<Row>,
    #[serde(flatten)]
    other: Map<String, Value>,
}

/// One change, as the file has it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct Row {
    from: String,
    to: String,
    #[serde(flatten)]
    mark: Mark,
    #[serde(flatten)]
    other: Map<String, Value>,
}

/// How far a player has come with one change.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Mark {
    /// The best speed in percent at which the player called it learnt.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub learnt: Option<f64>,
    /// The last speed in percent at which it was practised.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reached: Option<f64>,
    /// When it was practised last.
    #[serde(default, skip_serializing_if = "Option::is_none", with = "day")]
    pub practised: Option<Day>,
}

/// Why a file holds no marks that can be used.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
pub enum MarksError {
    /// It is of a later version of the program.
    #[error("it was written by a later openchair (marks of version {0}, known is {VERSION})")]
    Newer(u64),
    /// It is no such file, or a damaged one.
    #[error("it is damaged: {0}")]
    Damaged(String),
    /// It is another song's.
    #[error("it is of another song, {0:?}")]
    OtherSong(String),
}

impl Marks {
    /// Of a song that was never practised.
    pub fn new(title: &str) -> Self {
        Self { version: VERSION, title: title.to_owned(), changes: Vec::new(), other: Map::new() }
    }

    /// Reads the file of the song of that title.
    ///
    /// # Errors
    /// [`MarksError`]. Such a file must be left as it is.
    pub fn read(text: &str, title: &str) -> Result<Self, MarksError> {
        let damaged = |what: &dyn std::fmt::Display| MarksError::Damaged(what.to_string());
        let value: Value = serde_json::from_str(text).map_err(|error| damaged(&error))?;
        // First, since whatever else it holds may be of another kind in a later version.
        match value.get("version").and_then(Value::as_u64) {
            Some(VERSION) => {}
            Some(version) if version > VERSION => return Err(MarksError::Newer(version)),
            _ => return Err(damaged(&"it has no version")),
        }
        let mut marks: Self = serde_json::from_value(value).map_err(|error| damaged(&error))?;
        let is_speed = |speed: f64| speed > 0.0 && speed <= FASTEST;
        for Row { from, to, mark, .. } in &marks.changes {
            for speed in [mark.learnt, mark.reached].into_iter().flatten() {
                if !is_speed(speed) {
                    return Err(damaged(&format!("{from} to {to} has a speed of {speed} %")));
                }
            }
        }
        if title_key(&marks.title) != title_key(title) {
            return Err(MarksError::OtherSong(marks.title));
        }
        marks.title = title.to_owned();
        Ok(marks)
    }

    /// The file's text.
    pub fn write(&self) -> String {
        // Maps with text for keys and numbers that are read or checked: nothing that JSON has not.
        let mut text = serde_json::to_string_pretty(self).unwrap_or_default();
        text.push('\n');
        text
    }

    /// How far the player has come with a change, however its chords are spelled.
    pub fn of(&self, change: &Change) -> Mark {
        self.changes.iter().find(|row| row.is_of(change)).map_or(Mark::default(), |row| row.mark)
    }

    /// A change was practised on that day, at last at `speed` percent.
    pub fn practised(&mut self, change: &Change, speed: f64, day: Day) {
        let Some(speed) = usable(speed) else { return };
        let mark = self.mark(change);
        mark.reached = Some(speed);
        mark.practised = mark.practised.max(Some(day));
    }

    /// A change was learnt on that day, at `speed` percent. A better speed of before stays.
    pub fn learnt(&mut self, change: &Change, speed: f64, day: Day) {
        self.practised(change, speed, day);
        let Some(speed) = usable(speed) else { return };
        let mark = self.mark(change);
        mark.learnt = Some(mark.learnt.map_or(speed, |best| best.max(speed)));
    }

    fn mark(&mut self, change: &Change) -> &mut Mark {
        let at = self.changes.iter().position(|row| row.is_of(change));
        let at = at.unwrap_or_else(|| {
            let (from, to) = (change.from.to_string(), change.to.to_string());
            self.changes.push(Row { from, to, mark: Mark::default(), other: Map::new() });
            self.changes.len() - 1
        });
        // It is there: found, or just pushed.
        #[allow(clippy::indexing_slicing)]
        &mut self.changes[at].mark
    }
}

impl Row {
    fn is_of(&self, change: &Change) -> bool {
        let (Ok(from), Ok(to)) = (Chord::parse(&self.from), Chord::parse(&self.to)) else {
            return false; // Kept as it stands.
        };
        change.is_same(&Change { from, to, count: 0 })
    }
}

/// A speed as the file has it: to a tenth of a percent. `None` for what is none.
fn usable(speed: f64) -> Option<f64> {
    let rounded = (speed * 10.0).round() / 10.0;
    (rounded > 0.0 && rounded <= FASTEST).then_some(rounded)
}

/// What tells a song from others: its title, without regard to capitals and spaces. The title moves
/// with the song when its file is moved or renamed, and stays when its chords are mended. Two charts
/// of one tune share their marks, which is right: a change is the same hand's way in both.
pub fn title_key(title: &str) -> String {
    title.to_lowercase().split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The file's name, without an ending: words of the title to know it by, and a number made of all of it.
pub fn file_name(title: &str) -> String {
    /// Enough to know a title by, and far below what any system takes.
    const LONGEST: usize = 40;
    let key = title_key(title);
    let hash = fnv1a(&key);
    let words: Vec<&str> =
        key.split(|c: char| !c.is_ascii_alphanumeric()).filter(|word| !word.is_empty()).collect();
    let words: String = words.join("-").chars().take(LONGEST).collect();
    format!("{words}-{hash:016x}").trim_start_matches('-').to_owned()
}

mod day {
    use serde::de::Error;
    use serde::{Deserialize, Deserializer, Serializer};

    use super::Day;

    #[allow(clippy::ref_option, clippy::trivially_copy_pass_by_ref)] // As serde calls it.
    pub(super) fn serialize<S: Serializer>(day: &Option<Day>, to: S) -> Result<S::Ok, S::Error> {
        match day {
            Some(day) => to.collect_str(day),
            None => to.serialize_none(),
        }
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Day>, D::Error> {
        let Some(text) = Option::<String>::deserialize(from)? else { return Ok(None) };
        let day = Day::parse(&text);
        day.map(Some).ok_or_else(|| D::Error::custom(format!("{text:?} is no day")))
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const TITLE: &str = "Rope and Pulley";

    fn change(from: &str, to: &str) -> Change {
        Change { from: Chord::parse(from).unwrap(), to: Chord::parse(to).unwrap(), count: 0 }
    }

    fn day(text: &str) -> Day {
        Day::parse(text).unwrap()
    }

    #[test]
    fn what_is_marked_is_read_back() {
        let mut marks = Marks::new(TITLE);
        marks.practised(&change("G", "C"), 72.04, day("2024-03-09"));
        marks.learnt(&change("C", "D7"), 100.0, day("2024-03-09"));
        marks.learnt(&change("C", "D7"), 92.0, day("2024-03-10"));
        marks.practised(&change("C", "D7"), f64::NAN, day("2024-03-10"));
        let text = marks.write();
        insta::assert_snapshot!(text, @r#"
        {
          "version": 1,
          "title": "Rope and Pulley",
          "changes": [
            {
              "from": "G",
              "to": "C",
              "reached": 72.0,
              "practised": "2024-03-09"
            },
            {
              "from": "C",
              "to": "D7",
              "learnt": 100.0,
              "reached": 92.0,
              "practised": "2024-03-10"
            }
          ]
        }
        "#);
        let back = Marks::read(&text, "rope and  PULLEY ").unwrap();
        assert_eq!(back.of(&change("C", "D7")).learnt, Some(100.0));
        assert_eq!(back.of(&change("D", "G")), Mark::default());
    }

    #[test]
    fn what_the_song_has_no_more_stays_and_so_does_what_others_wrote() {
        let text = r#"{"version": 1, "title": "Rope and Pulley", "teacher": ["Thursday"],
            "changes": [{"from": "Z", "to": "C", "learnt": 80, "hint": {"thumb": 1}},
                        {"from": "F#", "to": "B", "reached": 60, "practised": null}]}"#;
        let mut marks = Marks::read(text, TITLE).unwrap();
        marks.learnt(&change("Gb", "B"), 64.0, day("2024-03-09"));
        let written = marks.write();
        let value: Value = serde_json::from_str(&written).unwrap();
        assert_eq!(value["teacher"][0], "Thursday");
        assert_eq!(value["changes"][0]["hint"]["thumb"], 1);
        assert_eq!(value["changes"][0]["from"], "Z");
        assert_eq!(value["changes"][1]["learnt"], 64.0, "the same change, spelled otherwise");
        assert_eq!(value["changes"].as_array().unwrap().len(), 2);
        assert_eq!(Marks::read(&written, TITLE), Ok(marks));
    }

    #[test]
    fn files_that_cannot_be_used_say_why() {
        for (text, said) in [
            ("", "damaged"),
            ("{", "damaged"),
            ("[]", "no version"),
            (r#"{"version": 0, "title": "x", "changes": []}"#, "no version"),
            (r#"{"version": 2, "pages": 7}"#, "later openchair (marks of version 2"),
            (r#"{"version": 1, "title": "Rope and Pulley"}"#, "missing field `changes`"),
            (r#"{"version": 1, "title": "Rope and Bucket", "changes": []}"#, "\"Rope and Bucket\""),
            (
                r#"{"version": 1, "title": "Rope and Pulley", "changes": [{"from": "G", "to": "C", "reached": -4}]}"#,
                "G to C has a speed of -4 %",
            ),
            (
                r#"{"version": 1, "title": "Rope and Pulley", "changes": [{"from": "G", "to": "C", "practised": "soon"}]}"#,
                "\"soon\" is no day",
            ),
        ] {
            let error = Marks::read(text, TITLE).unwrap_err().to_string();
            assert!(error.contains(said), "{text}: {error}");
        }
    }

    #[test]
    fn a_title_names_its_file() {
        let name = file_name(TITLE);
        assert!(name.starts_with("rope-and-pulley-"), "{name}");
        assert_eq!(file_name(" Rope  and pulley"), name);
        assert_ne!(file_name("Rope & Pulley"), file_name("Rope + Pulley"));
        // The published hash of nothing is its offset basis (RFC 9923, from memory).
        assert_eq!(file_name(""), "cbf29ce484222325");
    }

    proptest! {
        #[test]
        fn any_title_is_a_plain_name(title in "\\PC{0,200}") {
            let name = file_name(&title);
            prop_assert!(name.len() <= 57 && name.len() >= 16);
            prop_assert!(name.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-'));
        }

        #[test]
        fn no_file_is_too_strange(text in "\\PC{0,80}") {
            let _ = Marks::read(&text, TITLE);
        }
    }
}
