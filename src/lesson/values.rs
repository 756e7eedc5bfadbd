use std::ops::{Range, RangeInclusive};

use super::Placed;
use crate::text::{Item, Node, Problems, Table, Text};

/// A text that is not empty.
pub(super) fn words(
    table: &Table,
    key: &str,
    example: &str,
    problems: &mut Problems,
) -> Option<String> {
    let text = table.text(key, example, problems)?;
    if text.value.trim().is_empty() {
        problems.add(
            table.get(key).map_or(0..0, |node| node.span.clone()),
            format!("`{key}` is empty"),
            format!("write {key} = {example}"),
        );
        return None;
    }
    Some(text.value.clone())
}

/// A text on one line, without characters that a terminal obeys.
pub(super) fn line(
    table: &Table,
    key: &str,
    example: &str,
    problems: &mut Problems,
) -> Option<Placed<String>> {
    let value = words(table, key, example, problems)?;
    let text = table.text(key, example, problems)?;
    if let Some((at, bad)) = value.char_indices().find(|(_, c)| c.is_control()) {
        problems.add(
            text.span(at..at + bad.len_utf8()),
            format!("`{key}` holds a line break, a tab or another control character"),
            format!("write it on one line, as in {key} = {example}"),
        );
        return None;
    }
    Some(Placed { span: all(text), value: value.trim().to_owned() })
}

/// A text that is read by a rule of its own. `read` gives the value, or what is wrong.
pub(super) fn read<T>(
    table: &Table,
    key: &str,
    example: &str,
    problems: &mut Problems,
    read: impl Fn(&str) -> Result<T, Wrong>,
) -> Option<Placed<T>> {
    let text = table.text(key, example, problems)?;
    placed(text, problems, &read)
}

/// A list of texts that are each read by a rule; what is wrong is left out.
pub(super) fn list<T>(
    table: &Table,
    key: &str,
    example: &str,
    problems: &mut Problems,
    read: impl Fn(&str) -> Result<T, Wrong>,
) -> Vec<Placed<T>> {
    let mut found = Vec::new();
    for node in nodes(table, key, example, problems) {
        if let Some(text) = node.text(key, example, problems) {
            found.extend(placed(text, problems, &read));
        }
    }
    found
}

/// What is wrong with a text, and what to write instead.
pub(super) struct Wrong {
    /// The bytes of the text at fault; all if `None`.
    pub range: Option<Range<usize>>,
    pub message: String,
    pub help: String,
}

impl Wrong {
    pub fn all(message: impl Into<String>, help: impl Into<String>) -> Self {
        Self { range: None, message: message.into(), help: help.into() }
    }
}

fn placed<T>(
    text: &Text,
    problems: &mut Problems,
    read: &impl Fn(&str) -> Result<T, Wrong>,
) -> Option<Placed<T>> {
    match read(&text.value) {
        Ok(value) => Some(Placed { value, span: all(text) }),
        Err(Wrong { range, message, help }) => {
            problems.add(range.map_or_else(|| all(text), |at| text.span(at)), message, help);
            None
        }
    }
}

/// The entries of a list that is not empty; none where the key is missing or wrong.
pub(super) fn nodes<'a>(
    table: &'a Table,
    key: &str,
    example: &str,
    problems: &mut Problems,
) -> &'a [Node] {
    let Some(node) = table.get(key) else { return &[] };
    let Item::Array(items) = &node.item else {
        problems.add(
            node.span.clone(),
            format!("`{key}` is {} where a list belongs", node.kind()),
            node.as_list().map_or_else(
                || format!("write a list, as in {key} = {example}"),
                |list| format!("write {key} = {list}"),
            ),
        );
        return &[];
    };
    if items.is_empty() {
        problems.add(
            node.span.clone(),
            format!("`{key}` is empty"),
            format!("write something in it, as in {key} = {example}, or leave it out"),
        );
    }
    items
}

/// A whole number in a range.
pub(super) fn whole(
    table: &Table,
    key: &str,
    range: RangeInclusive<u32>,
    example: &str,
    problems: &mut Problems,
) -> Option<u32> {
    let node = table.get(key)?;
    let (least, most) = (f64::from(*range.start()), f64::from(*range.end()));
    let number = table.number(key, least..=most, example, problems)?;
    let Item::Integer(whole) = node.item else {
        problems.add(
            node.span.clone(),
            format!("`{key}` is {number}, and a whole number belongs here"),
            format!("write {key} = {example}"),
        );
        return None;
    };
    u32::try_from(whole).ok()
}

fn all(text: &Text) -> Range<usize> {
    text.span(0..text.value.len())
}
