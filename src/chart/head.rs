use std::ops::Range;

use super::words::{known_word, roles};
use super::{Ending, Kickoff, Role, RoleSet};
use crate::text::{Item, Node, Problems, Table, Text, list};
use crate::theory::Key;
use crate::time::{Meter, Tempo};

/// What stands above the sections; `None` where a value is missing or could not be read.
#[derive(Debug, Default)]
pub(super) struct Head {
    pub title: Option<String>,
    pub composer: Option<String>,
    pub notes: Option<String>,
    pub key: Option<(Key, Range<usize>)>,
    pub meter: Option<(Meter, Range<usize>)>,
    pub tempo: Option<f64>,
    pub style: Option<(String, Range<usize>)>,
    pub swing: Option<f64>,
    pub capo: Option<u8>,
    pub band: RoleSet,
    pub kickoff: Option<(Kickoff, Range<usize>)>,
    pub ending: Ending,
}

/// Every key of a song that needs one, with an example.
pub(super) const REQUIRED: [(&str, &str); 6] = [
    ("title", "\"Lantern on the Landing\""),
    ("key", "\"G\""),
    ("meter", "\"4/4\""),
    ("tempo", "108"),
    ("style", "\"boom-chick\""),
    ("form", "[\"verse: voice\", \"chorus: voice\"]"),
];

/// Every other key of a song.
pub(super) const OPTIONAL: [&str; 8] =
    ["section", "composer", "notes", "swing", "capo", "band", "kickoff", "ending"];

impl Head {
    pub fn read(table: &Table, problems: &mut Problems) -> Self {
        Self {
            title: line(table, "title", "\"Lantern on the Landing\"", problems),
            composer: line(table, "composer", "\"a name\"", problems),
            notes: words(table, "notes", "\"a word to the player\"", problems)
                .map(|text| text.value.clone()),
            key: words(table, "key", "\"G\"", problems).and_then(|text| key(text, problems)),
            meter: words(table, "meter", "\"4/4\"", problems)
                .and_then(|text| meter(text, problems)),
            tempo: table.number("tempo", Tempo::SLOWEST..=Tempo::FASTEST, "108", problems),
            style: line(table, "style", "\"boom-chick\"", problems)
                .zip(table.get("style").map(inside)),
            swing: table.number("swing", 0.5..=0.75, "0.58", problems),
            capo: table.get("capo").and_then(|node| capo(node, table, problems)),
            band: table.get("band").map_or_else(
                || Role::BAND.into_iter().collect(),
                |node| roles(node, "band", problems),
            ),
            kickoff: words(table, "kickoff", "\"pickup\"", problems)
                .and_then(|text| kickoff(text, problems)),
            ending: words(table, "ending", "\"hit\"", problems)
                .and_then(|text| ending(text, problems))
                .unwrap_or_default(),
        }
    }
}

/// A text that is not empty.
fn words<'a>(
    table: &'a Table,
    key: &str,
    example: &str,
    problems: &mut Problems,
) -> Option<&'a Text> {
    let text = table.text(key, example, problems)?;
    if text.value.trim().is_empty() {
        let span = table.get(key).map_or(0..0, |node| node.span.clone());
        problems.add(span, format!("`{key}` is empty"), format!("write {key} = {example}"));
        return None;
    }
    Some(text)
}

/// A text that is not empty and stands on one line, without characters that a terminal obeys.
fn line(table: &Table, key: &str, example: &str, problems: &mut Problems) -> Option<String> {
    let text = words(table, key, example, problems)?;
    if let Some((at, bad)) = text.value.char_indices().find(|(_, c)| c.is_control()) {
        problems.add(
            text.span(at..at + bad.len_utf8()),
            format!("`{key}` holds a line break, a tab or another control character"),
            format!("write it on one line, as in {key} = {example}"),
        );
        return None;
    }
    Some(text.value.clone())
}

fn all(text: &Text) -> Range<usize> {
    text.span(0..text.value.len())
}

/// A value without its quotes.
fn inside(node: &Node) -> Range<usize> {
    match &node.item {
        Item::Text(text) => all(text),
        _ => node.span.clone(),
    }
}

fn key(text: &Text, problems: &mut Problems) -> Option<(Key, Range<usize>)> {
    match Key::parse(&text.value) {
        Ok(key) => Some((key, all(text))),
        Err(error) => {
            problems.add(text.span(error.range()), error.to_string(), error.help());
            None
        }
    }
}

fn meter(text: &Text, problems: &mut Problems) -> Option<(Meter, Range<usize>)> {
    let meter = Meter::parse(&text.value);
    if meter.is_none() {
        let known = Meter::ALL.map(|meter| format!("\"{meter}\""));
        problems.add(
            all(text),
            format!("the band does not play a meter of `{}`", text.value),
            format!("write {}", list(&known, "or")),
        );
    }
    meter.map(|meter| (meter, all(text)))
}

fn capo(node: &Node, table: &Table, problems: &mut Problems) -> Option<u8> {
    let fret = table.number("capo", 0.0..=11.0, "2", problems)?;
    if let Item::Integer(fret) = node.item {
        return u8::try_from(fret).ok();
    }
    problems.add(
        node.span.clone(),
        format!("`capo` is {fret}, which is no fret"),
        "write a whole number from 0 to 11, as in capo = 2",
    );
    None
}

fn kickoff(text: &Text, problems: &mut Problems) -> Option<(Kickoff, Range<usize>)> {
    let parse = |word: &str| match word {
        "none" => Some(Kickoff::None),
        "pickup" => Some(Kickoff::Pickup),
        "shuffles" => Some(Kickoff::Shuffles),
        _ => None,
    };
    let known = ["none", "pickup", "shuffles"];
    let kickoff = known_word(&text.value, all(text), "kickoff", &known, parse, problems)?;
    Some((kickoff, all(text)))
}

fn ending(text: &Text, problems: &mut Problems) -> Option<Ending> {
    let parse = |word: &str| match word {
        "hit" => Some(Ending::Hit),
        "tag" => Some(Ending::Tag),
        "none" => Some(Ending::None),
        _ => None,
    };
    known_word(&text.value, all(text), "ending", &["hit", "tag", "none"], parse, problems)
}
