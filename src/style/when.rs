use std::ops::Range;

use super::{Condition, Term};
use crate::text::{Problems, Text, list, nearest};

/// More terms than this are refused unread: there are some fifteen, each of which is asked once.
const MOST_TERMS: usize = 20;

/// Reads `"change next and not phrase end"`. `None`, with its problems, if a term is unknown or two
/// contradict each other.
pub(super) fn read_when(text: &Text, problems: &mut Problems) -> Option<Condition> {
    let before = problems.len();
    let all = text.span(0..text.value.len());
    if text.value.trim().is_empty() {
        problems.add(
            all,
            "this `when` is empty",
            "leave `when` out for a bar that always fits, or write when = \"change next\"",
        );
        return None;
    }
    let parts = split_at_and(&text.value);
    if parts.len() > MOST_TERMS {
        problems.add(
            all,
            format!("this `when` asks for {} things at once", parts.len()),
            format!("ask each thing once; a `when` has at most {MOST_TERMS}"),
        );
        return None;
    }
    let mut terms: Vec<(bool, Term)> = Vec::new();
    for range in parts {
        let words = text.value.get(range.clone()).unwrap_or_default();
        match read_term(words) {
            Ok((denied, term)) if terms.contains(&(!denied, term)) => problems.add(
                text.span(range),
                format!("this bar is never played: it asks for `{0}` and `not {0}`", term.as_str()),
                "remove one of the two",
            ),
            Ok(term) => terms.push(term),
            Err((message, help)) => problems.add(text.span(range), message, help),
        }
    }
    (problems.len() == before).then(|| Condition::new(terms))
}

/// The trimmed parts between the words `and`.
fn split_at_and(value: &str) -> Vec<Range<usize>> {
    let mut parts: Vec<Option<Range<usize>>> = vec![None];
    let mut last_and = 0..0;
    for word in words(value) {
        if value.get(word.clone()) == Some("and") {
            // An `and` with nothing before it is reported in its own place.
            if let Some(part) = parts.last_mut() {
                part.get_or_insert(word.clone());
            }
            last_and = word;
            parts.push(None);
        } else if let Some(part) = parts.last_mut() {
            let start = part.as_ref().map_or(word.start, |part| part.start);
            *part = Some(start..word.end);
        }
    }
    parts.into_iter().map(|part| part.unwrap_or_else(|| last_and.clone())).collect()
}

/// The words of a text, by where they stand.
fn words(value: &str) -> impl Iterator<Item = Range<usize>> {
    let base = value.as_ptr() as usize;
    value.split_whitespace().map(move |word| {
        let start = word.as_ptr() as usize - base;
        start..start + word.len()
    })
}

/// One term with its `not`, or the message and the help.
fn read_term(text: &str) -> Result<(bool, Term), (String, String)> {
    let words: Vec<&str> = text.split_whitespace().collect();
    let (denied, words) = match words.as_slice() {
        ["not", rest @ ..] => (true, rest),
        all => (false, all),
    };
    let phrase = words.join(" ");
    if let Some(term) = Term::parse(&phrase) {
        return Ok((denied, term));
    }
    let known = Term::ALL.map(Term::as_str);
    let not = if denied { "not " } else { "" };
    Err(if phrase.is_empty() || phrase == "and" {
        let here =
            if denied { "`not` has nothing after it" } else { "`and` has nothing to join here" };
        (here.to_owned(), format!("write one of {}", list(&known, "or")))
    } else if words.contains(&"or") || phrase.contains(',') {
        (
            format!("`{phrase}` is joined by something other than `and`"),
            "join conditions that must all hold with `and`; for `or`, write the bar twice"
                .to_owned(),
        )
    } else if let Some(near) = nearest(&phrase, known) {
        (format!("there is no condition `{phrase}`"), format!("did you mean `{not}{near}`?"))
    } else {
        (
            format!("there is no condition `{phrase}`"),
            format!("write {}; `not` before one turns it round", list(&known, "or")),
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::{Item, Source, parse_toml};

    fn read(when: &str) -> (Option<Condition>, Vec<(String, String)>) {
        let source = Source::new("t", format!("when = '{when}'")).unwrap();
        let mut problems = Problems::new();
        let table = parse_toml(&source, &mut problems);
        let Item::Text(text) = &table.get("when").unwrap().item else { panic!("no text") };
        let condition = read_when(text, &mut problems);
        let found = problems
            .in_order()
            .iter()
            .map(|p| (source.text[p.span.clone()].to_owned(), p.help.clone()))
            .collect();
        (condition, found)
    }

    #[test]
    fn terms_are_joined_and_denied() {
        let (condition, problems) = read(" change next  and not  phrase end");
        assert_eq!(problems, []);
        let expected = [(false, Term::ChangeNext), (true, Term::PhraseEnd)];
        assert_eq!(condition, Some(Condition::new(expected)));
    }

    #[test]
    fn each_slip_is_pointed_at() {
        let at = |when| read(when).1.into_iter().map(|(at, _)| at).collect::<Vec<_>>();
        assert_eq!(at("changes next and braek"), ["changes next", "braek"]);
        assert_eq!(at("break and"), ["and"]);
        assert_eq!(at("and break"), ["and"]);
        assert_eq!(at("not"), ["not"]);
        assert_eq!(at("break, last bar"), ["break, last bar"]);
        assert_eq!(at("break and not break"), ["not break"]);
        assert_eq!(read("not phrase ends").1[0].1, "did you mean `not phrase end`?");
    }
}
