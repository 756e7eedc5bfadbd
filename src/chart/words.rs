use std::ops::Range;

use super::{Role, RoleSet};
use crate::text::{Item, Node, Problems, list, nearest};

/// Finds `word` with `parse`; reports it otherwise, with the nearest of `known` or all of them.
/// `what` is the kind of word: `lead`.
pub(super) fn known_word<T>(
    word: &str,
    span: Range<usize>,
    what: &str,
    known: &[&str],
    parse: impl Fn(&str) -> Option<T>,
    problems: &mut Problems,
) -> Option<T> {
    if let Some(value) = parse(word) {
        return Some(value);
    }
    let message = if word.is_empty() {
        format!("a {what} is missing here")
    } else {
        format!("there is no {what} `{word}`")
    };
    problems.add(span, message, suggestion(word, what, known));
    None
}

/// The nearest of `known` to `word`, or all of them.
pub(super) fn suggestion(word: &str, what: &str, known: &[&str]) -> String {
    match (nearest(word, known.iter().copied()), known) {
        (Some(near), _) => format!("did you mean `{near}`?"),
        (None, [one]) => format!("the only {what} is {one}"),
        (None, _) => format!("the {what}s are {}", list(known, "and")),
    }
}

/// A list of roles, each once and at least one.
pub(crate) fn roles(node: &Node, key: &str, problems: &mut Problems) -> RoleSet {
    let example = format!("{key} = [\"bass\", \"guitar\"]");
    let Item::Array(items) = &node.item else {
        problems.add(
            node.span.clone(),
            format!("`{key}` is {} where a list of roles belongs", node.kind()),
            format!("write {example}"),
        );
        return RoleSet::EMPTY;
    };
    if items.is_empty() {
        problems.add(
            node.span.clone(),
            format!("`{key}` names nobody"),
            format!("name roles, as in {example}, or leave `{key}` out"),
        );
    }
    let known = Role::ALL.map(Role::as_str);
    let mut set = RoleSet::EMPTY;
    for item in items {
        let Some(text) = item.text(key, &format!("[\"{}\"]", known.join("\", \"")), problems)
        else {
            continue;
        };
        let span = text.span(0..text.value.len());
        let role = known_word(&text.value, span.clone(), "role", &known, Role::parse, problems);
        if let Some(role) = role {
            if set.contains(role) {
                problems.add(span, format!("`{key}` names {role} twice"), "name each role once");
            }
            set = set.with(role);
        }
    }
    set
}
