use std::ops::Range;

use super::number_in::number_in;
use super::{Problem, Problems, quoted};

/// A mistake in the TOML itself, in words for people who write songs and not parsers. The reader's
/// own words stand where none of ours fit.
pub(super) fn explain(text: &str, span: Range<usize>, message: &str) -> Problem {
    let message = message.lines().next().unwrap_or_default();
    let at = text.get(span.clone()).unwrap_or_default().trim();
    let mut span = span;
    let (start, head) = head_of_line(text, span.start);
    let (message, help) = if let Some(colon) = colon_after_key(head) {
        span = start + colon..start + colon + 1;
        let help = "write key = value, as in tempo = 108";
        ("a colon stands here where `=` belongs".to_owned(), help.to_owned())
    } else if message.contains("duplicate key") {
        let what = if at.is_empty() { "this key".to_owned() } else { format!("`{at}`") };
        (format!("{what} is here a second time"), "keep one of the two".to_owned())
    } else if message.contains("must be quoted") && at.is_empty() {
        let help = "write text in quotes, a number, or a list in [ ] after the `=`";
        ("a value is missing here".to_owned(), help.to_owned())
    } else if message.contains("must be quoted") {
        let help =
            number_in(at).map_or_else(|| format!("write {}", quoted(at)), |n| format!("write {n}"));
        ("this text stands without quotes".to_owned(), help)
    } else if message.contains("invalid multi-line") {
        let mark = if message.contains("literal") { "'''" } else { "\"\"\"" };
        // The reader stops at the end of the file; the fault lies where the text began.
        if let Some(open) = text.get(..span.start).and_then(|before| before.rfind(mark)) {
            span = open..open + mark.len();
        }
        let help = format!("close it with {mark} after its last line");
        ("this text of several lines is never closed".to_owned(), help)
    } else if message.contains("basic string") || message.contains("literal string") {
        let mark = if message.contains("literal") { "'" } else { "\"" };
        let help = format!(
            "close it with {mark} on the same line, or put text of several lines between \"\"\" and \
             \"\"\""
        );
        ("this text is not closed".to_owned(), help)
    } else if message.contains("escape") || message.contains("unicode") {
        if let Some(slash) = text.get(..span.end).and_then(|before| before.rfind('\\')) {
            let after = text.get(slash + 1..).and_then(|rest| rest.chars().next());
            span = slash..slash + 1 + after.map_or(0, char::len_utf8);
        }
        let help = "write \\\\ for a backslash, or put the text in single quotes";
        ("there is no such escape after a backslash".to_owned(), help.to_owned())
    } else if message.contains("unclosed table") || message.contains("unclosed array table") {
        let inside = head.trim().trim_start_matches('[').trim_end_matches(']');
        match inside.split_once(' ') {
            Some((table, name)) if head.contains(']') => {
                let help = format!(
                    "put a dot before the section's name: [{table}.{}]",
                    key_of(name.trim())
                );
                ("a blank stands in this heading".to_owned(), help)
            }
            _ => ("this heading is not closed".to_owned(), "write `]` after its name".to_owned()),
        }
    } else if message.contains("unclosed array") {
        ("this list is not closed".to_owned(), "write `]` after its last entry".to_owned())
    } else if message.contains("unclosed inline table") {
        ("this table is not closed".to_owned(), "write `}` after its last entry".to_owned())
    } else if message.contains("missing comma") {
        let help = "write a comma between one entry and the next";
        ("a comma is missing here".to_owned(), help.to_owned())
    } else if message.contains("key with no value") || message.contains("missing assignment") {
        let help = "write key = value, or put # before a remark";
        ("there is no `=` here after a key".to_owned(), help.to_owned())
    } else {
        let help = "write key = value, with text in quotes, lists in [ ] and tables under \
                    [headings]";
        let message = if message.is_empty() { "this can't be read" } else { message };
        (message.to_owned(), help.to_owned())
    };
    Problem { span, message, help }
}

/// The beginning of the line that `at` stands in, and where that is; empty where the line is long: a
/// file of one endless line has a million mistakes, and none of them looks back over all of it.
fn head_of_line(text: &str, at: usize) -> (usize, &str) {
    /// Longer than a key or a heading.
    const LONGEST: usize = 80;
    let bytes = text.as_bytes();
    let at = at.min(bytes.len());
    let from = at.saturating_sub(LONGEST);
    let start = match bytes[from..at].iter().rposition(|&byte| byte == b'\n') {
        Some(before) => from + before + 1,
        None if from == 0 => 0,
        None => return (at, ""),
    };
    let rest = &bytes[start..bytes.len().min(start + LONGEST)];
    let length = rest.iter().position(|&byte| byte == b'\n').unwrap_or(rest.len());
    // A cut within a character leaves nothing that is looked for here.
    (start, text.get(start..start + length).unwrap_or_default())
}

/// Where the colon stands in a line such as `tempo: 108`.
fn colon_after_key(line: &str) -> Option<usize> {
    let (key, _) = line.split_once(':')?;
    let bare = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '-';
    let word = key.trim();
    (!word.is_empty() && word.chars().all(bare)).then_some(key.len())
}

/// A key as it stands in a heading.
fn key_of(name: &str) -> String {
    let bare = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '-';
    if name.chars().all(bare) || name.starts_with(['"', '\'']) {
        name.to_owned()
    } else {
        quoted(name)
    }
}

/// Where the mistakes of a file stand, to be asked many times.
#[derive(Default)]
pub(super) struct Broken(Vec<Range<usize>>);

impl Broken {
    /// Adds every mistake to `problems` and keeps its place beside the `places` of those told before.
    pub fn report(
        text: &str,
        mut places: Vec<Range<usize>>,
        mistakes: impl Iterator<Item = (Range<usize>, String)>,
        problems: &mut Problems,
    ) -> Self {
        for (span, message) in mistakes {
            places.push(span.clone());
            let Problem { span, message, help } = explain(text, span, &message);
            problems.add(span, message, help);
        }
        places.sort_by_key(|place| place.start);
        Self(places)
    }

    /// True if a mistake begins inside `span` or at its ends: what was read there was patched up.
    pub fn touches(&self, span: &Range<usize>) -> bool {
        let first = self.0.partition_point(|place| place.start < span.start);
        self.0.get(first).is_some_and(|place| place.start <= span.end)
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Source, parse_toml};
    use super::*;

    /// The message, the text under the caret, and whether the value was dropped.
    fn first(toml: &str) -> (String, String) {
        let source = Source::new("t.toml", toml).unwrap();
        let mut problems = Problems::new();
        parse_toml(&source, &mut problems);
        let problem = problems.in_order()[0].clone();
        (problem.message, source.text[problem.span].to_owned())
    }

    #[test]
    fn the_common_slips_have_plain_words() {
        for (toml, message, under) in [
            ("key = G\n", "this text stands without quotes", "G"),
            ("tempo =\n", "a value is missing here", ""),
            ("a = 1\na = 2\n", "`a` is here a second time", "a"),
            ("a = \"x\n", "this text is not closed", ""),
            ("a = 'x\n", "this text is not closed", ""),
            ("a = \"\"\"x\n|\n", "this text of several lines is never closed", "\"\"\""),
            ("a = '''x\n|\n", "this text of several lines is never closed", "'''"),
            ("a = [1, 2\n", "this list is not closed", "["),
            ("a = [\"1\" \"2\"]\n", "a comma is missing here", ""),
            ("a = {b = 1\n", "this table is not closed", "{"),
            ("[a\n", "this heading is not closed", ""),
            ("a b\n", "there is no `=` here after a key", ""),
            ("a: 1\n", "a colon stands here where `=` belongs", ":"),
            ("[section verse]\n", "a blank stands in this heading", ""),
            ("a = \"\\q\"\n", "there is no such escape after a backslash", "\\q"),
        ] {
            assert_eq!(first(toml), (message.to_owned(), under.to_owned()), "{toml}");
        }
    }

    #[test]
    fn a_broken_value_is_not_read() {
        let source = Source::new("t.toml", "a =\nb = 1\nc = [1 2]\n[d]\ne = \"\n").unwrap();
        let table = parse_toml(&source, &mut Problems::new());
        let keys: Vec<_> = table.fields.iter().map(|field| field.key.as_str()).collect();
        assert_eq!(keys, ["b", "d"]);
    }
}
