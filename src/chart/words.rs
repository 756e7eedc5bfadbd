use std::ops::Range;

use super::examples::{example, written};
use super::{Role, RoleSet};
use crate::text::{Item, Node, Placed, Problems, Text, list, meant};

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
    meant(word, known.iter().copied()).unwrap_or_else(|| match known {
        [one] => format!("the only {what} is {one}"),
        _ => format!("the {what}s are {}", list(known, "and")),
    })
}

/// A list of roles, each once and at least one. `key` is the table's own.
pub(crate) fn roles(node: &Node, key: &str, problems: &mut Problems) -> RoleSet {
    match role_list(node, key, problems) {
        Some(list) => check_roles(&list, key, &written(key), problems),
        None => RoleSet::EMPTY,
    }
}

/// The words of a list of roles, as far as they are text.
pub(super) fn role_list(
    node: &Node,
    key: &str,
    problems: &mut Problems,
) -> Option<Placed<Vec<Text>>> {
    let Item::Array(items) = &node.item else {
        let help = node.as_list().map_or_else(
            || format!("write a list, as in {}", written(key)),
            |list| format!("write {key} = {list}"),
        );
        problems.add(
            node.span.clone(),
            format!("`{key}` is {} where a list of roles belongs", node.kind()),
            help,
        );
        return None;
    };
    let words = items.iter().filter_map(|item| item.text(key, example(key), problems)).cloned();
    Some(Placed::new(words.collect(), node.span.clone()))
}

/// The roles of a list: each once and at least one.
pub(super) fn check_roles(
    words: &Placed<Vec<Text>>,
    key: &str,
    example: &str,
    problems: &mut Problems,
) -> RoleSet {
    if words.value.is_empty() {
        problems.add(
            words.span.clone(),
            format!("`{key}` names nobody"),
            format!("name roles, as in {example}, or leave `{key}` out"),
        );
    }
    let known = Role::ALL.map(Role::as_str);
    let mut set = RoleSet::EMPTY;
    for text in &words.value {
        let span = text.inside();
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
