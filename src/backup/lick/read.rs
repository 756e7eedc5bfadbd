use std::ops::{Range, RangeInclusive};

use super::super::Level;
use super::lick::{Lick, LickSlot, Purpose};
use super::playable::faults;
use super::word::read_word;
use crate::text::{
    Field, Item, Node, Problems, Source, Table, Text, list, meant, nearest, parse_toml,
};
use crate::theory::Chord;
use crate::time::{Meter, Tempo};

/// The keys of a file of licks.
const KEYS: [&str; 2] = ["about", "lick"];

/// The keys of a lick.
const LICK: [&str; 9] =
    ["name", "for", "chord", "to", "meters", "level", "tempo", "tab", "arrives"];

/// Four bars of eighths: longer is a tune.
const MOST_SLOTS: usize = 32;

/// More than any player knows; past this a file is a mistake or a trick.
const MOST_LICKS: usize = 512;

const BEATS_A_MINUTE: RangeInclusive<f64> = Tempo::SLOWEST..=Tempo::FASTEST;
const HEADING_HELP: &str = "write a heading [[lick]], in double brackets, over each lick";
const TAB_EXAMPLE: &str = "\"t3:2 m1:0 i2:0 m1:0\"";
const METERS_HELP: &str = "write meters = [\"4/4\", \"2/2\"]";
const TEMPO_HELP: &str = "write the slowest and the fastest, as in tempo = [60, 140]";

/// What meters a lick is for that names none: those that count in four.
const IN_FOUR: [Meter; 3] = [Meter::FourFour, Meter::TwoTwo, Meter::TwoFour];

/// Reads a file of licks. Everything that is wrong with it is added to `problems`, and then there are none.
pub fn read_licks(source: &Source, problems: &mut Problems) -> Option<Vec<Lick>> {
    let before = problems.len();
    let root = parse_toml(source, problems);
    let broken = problems.len() > before;
    root.only(&KEYS, "a file of licks", problems);
    root.text("about", "\"Fills down the neck\"", problems);
    let licks = match root.get("lick").map(|node| (node, &node.item)) {
        Some((_, Item::Array(nodes))) => {
            if let Some(extra) = nodes.get(MOST_LICKS) {
                let message = format!("the file has {} licks", nodes.len());
                let help = format!("keep {MOST_LICKS} in a file, and the rest in another");
                problems.add(extra.span.clone(), message, help);
                return None;
            }
            nodes.iter().filter_map(|node| read_lick(node, broken, problems)).collect()
        }
        Some((node, _)) => {
            let message = format!("`lick` is {} where a list of licks belongs", node.kind());
            problems.add(node.span.clone(), message, HEADING_HELP);
            Vec::new()
        }
        None if broken => Vec::new(),
        None => {
            problems.add(0..0, "there is no lick in this file", HEADING_HELP);
            Vec::new()
        }
    };
    (problems.len() == before).then_some(licks)
}

/// Reads a lick; `None` where something is wrong with it. `broken` says that the file's TOML is: what seems to be
/// missing may be there.
fn read_lick(node: &Node, broken: bool, problems: &mut Problems) -> Option<Lick> {
    let Item::Table(table) = &node.item else {
        let message = format!("this lick is {} where a table belongs", node.kind());
        problems.add(node.span.clone(), message, HEADING_HELP);
        return None;
    };
    let before = problems.len();
    table.only(&LICK, "a lick", problems);
    let needed = |key: &str, example: &str, problems: &mut Problems| -> Option<Text> {
        let meant = |other: &Field| {
            !LICK.contains(&other.key.as_str()) && nearest(&other.key, LICK) == Some(key)
        };
        if table.lacks(key) && !broken && !table.fields.iter().any(meant) {
            let message = format!("this lick has no `{key}`");
            problems.add(head(node), message, format!("add {key} = {example}"));
        }
        table.text(key, example, problems).cloned()
    };
    let name = needed("name", "\"Slide into home\"", problems);
    let purpose = needed("for", "\"fill\"", problems).and_then(|text| purpose(&text, problems));
    let chord = needed("chord", "\"G\"", problems).and_then(|text| chord(&text, problems));
    let tab = needed("tab", TAB_EXAMPLE, problems);
    let to = table.text("to", "\"C\"", problems).and_then(|text| self::chord(text, problems));
    let arrives = table.text("arrives", "\"t2:1\"", problems).cloned();
    let level = table.text("level", "\"full\"", problems).and_then(|text| level(text, problems));
    let meters = meters(table, problems);
    let tempo = tempo(table, problems);
    let mut words: Vec<Range<usize>> = Vec::new();
    let slots = tab.map(|tab| slots(&tab, &mut words, problems));
    let arrival = arrives.map(|text| {
        let mut found = slots_of_one(&text, &mut words, problems);
        found.pop()
    });
    if problems.len() > before {
        return None;
    }
    let (name, purpose, chord, slots) = (name?, purpose?, chord?, slots?);
    if name.value.trim().is_empty() {
        problems.add(name.span(0..name.value.len()), "`name` is empty", "call it something");
        return None;
    }
    let lick = Lick {
        name: name.value.trim().to_owned(),
        purpose,
        chord,
        to,
        meters,
        level: level.unwrap_or(purpose.level()),
        tempo,
        slots,
        arrives: arrival.flatten(),
    };
    for fault in faults(&lick) {
        let first = words.get(fault.slots.start);
        let last = fault.slots.end.checked_sub(1).and_then(|last| words.get(last));
        let span = match (first, last) {
            (Some(first), Some(last)) if first.start <= last.start => first.start..last.end,
            (Some(one), _) | (None, Some(one)) => one.clone(),
            (None, None) => head(node),
        };
        problems.add(span, fault.message, fault.help);
    }
    (problems.len() == before).then_some(lick)
}

/// Where a lick's heading stands.
fn head(node: &Node) -> Range<usize> {
    node.span.start..node.span.start
}

/// The words of a text and where each stands. Bar lines are for the eye.
fn slots(text: &Text, words: &mut Vec<Range<usize>>, problems: &mut Problems) -> Vec<LickSlot> {
    let mut slots = Vec::new();
    let mut at = 0;
    for word in text.value.split_whitespace() {
        let start = text.value.get(at..).and_then(|rest| rest.find(word)).unwrap_or(0) + at;
        at = start + word.len();
        if word == "|" {
            continue;
        }
        let span = text.span(start..at);
        match read_word(word) {
            Ok(slot) => {
                words.push(span);
                slots.push(slot);
            }
            Err(wrong) => problems.add(span, wrong.message, wrong.help),
        }
    }
    let whole = text.span(0..text.value.len());
    if text.value.trim().is_empty() {
        problems.add(
            whole,
            "there is nothing to play",
            format!("write its steps, as in tab = {TAB_EXAMPLE}"),
        );
    } else if slots.len() > MOST_SLOTS {
        let message = format!("the lick has {} steps", slots.len());
        problems.add(whole, message, format!("keep {MOST_SLOTS} at most"));
    }
    slots
}

/// The same where one word belongs.
fn slots_of_one(
    text: &Text,
    words: &mut Vec<Range<usize>>,
    problems: &mut Problems,
) -> Vec<LickSlot> {
    let found = slots(text, words, problems);
    if found.len() > 1 {
        let span = text.span(0..text.value.len());
        problems.add(
            span,
            "it arrives in one step",
            "write that step alone, as in arrives = \"t2:1\"",
        );
    }
    found
}

fn purpose(text: &Text, problems: &mut Problems) -> Option<Purpose> {
    let word = text.value.trim();
    let found = Purpose::ALL.into_iter().find(|purpose| purpose.as_str() == word);
    if found.is_none() {
        let words = Purpose::ALL.map(Purpose::as_str);
        let help = meant(&word.replace(' ', "-"), words)
            .unwrap_or_else(|| format!("write {}", list(&words, "or")));
        problems.add(text.span(0..text.value.len()), format!("no lick is for `{word}`"), help);
    }
    found
}

fn level(text: &Text, problems: &mut Problems) -> Option<Level> {
    let word = text.value.trim();
    let found = Level::parse(word);
    if found.is_none() {
        let words = Level::ALL.map(Level::as_str);
        let help = meant(&word.replace(' ', "-"), words)
            .unwrap_or_else(|| format!("write {}", list(&words, "or")));
        problems.add(text.span(0..text.value.len()), format!("there is no level `{word}`"), help);
    }
    found
}

fn chord(text: &Text, problems: &mut Problems) -> Option<Chord> {
    match Chord::parse(text.value.trim()) {
        Ok(chord) => Some(chord),
        Err(_) => {
            problems.add(
                text.span(0..text.value.len()),
                format!("`{}` is no chord", text.value.trim()),
                "write the chord as it is fretted without a capo: G, C, D7, Em",
            );
            None
        }
    }
}

fn meters(table: &Table, problems: &mut Problems) -> Vec<Meter> {
    let Some(node) = table.get("meters") else { return IN_FOUR.to_vec() };
    let Item::Array(nodes) = &node.item else {
        let message = format!("`meters` is {} where a list belongs", node.kind());
        problems.add(node.span.clone(), message, METERS_HELP);
        return Vec::new();
    };
    if nodes.is_empty() {
        problems.add(node.span.clone(), "`meters` is empty", METERS_HELP);
    }
    let read = nodes.iter().filter_map(|node| {
        let text = node.text("meters", "[\"4/4\", \"2/2\"]", problems)?;
        let meter = Meter::parse(&text.value);
        if meter.is_none() {
            let all = Meter::ALL.map(Meter::as_str);
            let message = format!("the band does not play in `{}`", text.value);
            let help = format!("write {}", list(&all, "or"));
            problems.add(text.span(0..text.value.len()), message, help);
        }
        meter
    });
    read.collect()
}

fn tempo(table: &Table, problems: &mut Problems) -> RangeInclusive<f64> {
    let Some(node) = table.get("tempo") else { return BEATS_A_MINUTE };
    let number = |node: &Node| match node.item {
        Item::Integer(number) => Some(number as f64),
        Item::Float(number) => Some(number),
        _ => None,
    };
    let pair = match &node.item {
        Item::Array(nodes) => match nodes.as_slice() {
            [slow, fast] => number(slow).zip(number(fast)),
            _ => None,
        },
        _ => None,
    };
    match pair {
        Some((slow, fast))
            if slow <= fast && BEATS_A_MINUTE.contains(&slow) && BEATS_A_MINUTE.contains(&fast) =>
        {
            slow..=fast
        }
        Some((slow, fast)) if slow > fast => {
            let message = format!("`tempo` runs backwards, from {slow} to {fast}");
            problems.add(node.span.clone(), message, format!("write tempo = [{fast}, {slow}]"));
            BEATS_A_MINUTE
        }
        _ => {
            let message = format!(
                "`tempo` is not two numbers of beats a minute from {} to {}",
                Tempo::SLOWEST,
                Tempo::FASTEST
            );
            problems.add(node.span.clone(), message, TEMPO_HELP);
            BEATS_A_MINUTE
        }
    }
}
