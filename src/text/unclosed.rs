//! Lists, tables and texts of several lines that a file of broken TOML never closes.
//!
//! A parser reads on into such a value to the end of the file, and takes all that follows for a
//! mistake. Here the lines of the file tell more than its brackets: a heading, or a key with a value,
//! does not belong to the list above it.

use std::ops::Range;

use super::Problem;
use super::toml_line::{assignment, is_heading, line_at};
use super::toml_quotes::{Long, long, long_mark, short};

/// A file with its broken values taken out.
pub(super) struct Mended {
    /// The text, each byte where it was; a `0` stands where a value was taken out.
    pub text: String,
    /// Where each of those stands.
    pub places: Vec<Range<usize>>,
    /// What is wrong with them.
    pub problems: Vec<Problem>,
}

/// More of them than a slip or two make another kind of file, and each may be read to its end.
const MOST: usize = 16;

/// Finds what is not closed in a text that is no TOML. A list, table or text of sound TOML may look
/// like one, so this is not for sound files.
pub(super) fn mend(text: &str) -> Mended {
    let mut values = Vec::new();
    let mut problems = Vec::new();
    let mut at = 0;
    while at < text.len() && values.len() < MOST {
        let line = line_at(text, at);
        let next = at + line.len() + 1;
        let value = assignment(line).map(|value| at + value);
        at = match value.map(|value| (value, &text[value..])) {
            Some((open, value)) if value.starts_with(['[', '{']) => {
                let list = List::read(text, open);
                if !list.faults.is_empty() {
                    problems.extend(list.faults.iter().map(|fault| fault.problem()));
                    values.push(open..list.end);
                }
                list.end.max(open + 1)
            }
            Some((open, value)) => {
                match long_mark(value).map(|mark| (mark, long(text, open, mark))) {
                    Some((_, Long::Closed(end))) => end,
                    Some((mark, Long::Open(end))) => {
                        problems.push(Fault::Long(open, mark).problem());
                        values.push(open..end);
                        end
                    }
                    Some((_, Long::ToTheEnd)) => break,
                    None => next,
                }
            }
            None => next,
        };
        // On with the line after a value that ends within one.
        if at > 0 && text.as_bytes().get(at - 1) != Some(&b'\n') {
            at += line_at(text, at).len() + 1;
        }
    }
    Mended { text: without(text, &values), places: values, problems }
}

/// The text with each of `values` replaced by a `0` and blanks.
fn without(text: &str, values: &[Range<usize>]) -> String {
    let mut out = String::with_capacity(text.len());
    let mut done = 0;
    for value in values {
        out.push_str(&text[done..value.start]);
        let blanks = text[value.clone()].bytes().map(|b| if b == b'\n' { '\n' } else { ' ' });
        out.push('0');
        out.extend(blanks.skip(1));
        done = value.end;
    }
    out.push_str(&text[done..]);
    out
}

/// What is not closed, and where it begins.
#[derive(Clone, Copy, Debug)]
enum Fault {
    List(usize),
    Table(usize),
    /// A text on one line, and the quote it begins with.
    Text(usize, u8),
    /// A text of several lines.
    Long(usize, &'static str),
}

impl Fault {
    fn problem(self) -> Problem {
        let (span, message, help) = match self {
            Self::List(at) => {
                (at..at + 1, "this list is not closed", "write `]` after its last entry".to_owned())
            }
            Self::Table(at) => (
                at..at + 1,
                "this table is not closed",
                "write `}` after its last entry".to_owned(),
            ),
            Self::Text(at, quote) => {
                let help = format!("close it with {} on the same line", char::from(quote));
                (at..at + 1, "this text is not closed", help)
            }
            Self::Long(at, mark) => (
                at..at + mark.len(),
                "this text of several lines is never closed",
                format!("close it with {mark} after its last line"),
            ),
        };
        Problem { span, message: message.to_owned(), help }
    }
}

/// A list or a table in braces.
struct List {
    /// The first byte after it.
    end: usize,
    /// What is not closed in it, or all of it.
    faults: Vec<Fault>,
}

impl List {
    fn read(text: &str, open: usize) -> Self {
        let bytes = text.as_bytes();
        // What is open.
        let mut inside: Vec<Fault> = Vec::new();
        // How many of those are lists, and how many tables.
        let mut open_now = [0_usize; 2];
        // Where that line begins, what was open there, and how many faults were found by then.
        let mut left: Option<(usize, Vec<Fault>, usize)> = None;
        let mut faults: Vec<Fault> = Vec::new();
        let mut at = open;
        while let Some(&byte) = bytes.get(at) {
            if at > open && bytes[at - 1] == b'\n' {
                let line = line_at(text, at);
                let in_list = matches!(inside.last(), Some(Fault::List(_)));
                if is_heading(line) {
                    return Self::unclosed(at, left, inside, faults);
                }
                // Whether a key's line is still in the list shows only where the list ends.
                if in_list && left.is_none() && assignment(line).is_some() {
                    left = Some((at, inside.clone(), faults.len()));
                }
            }
            at = match byte {
                b'#' => at + line_at(text, at).len(),
                b'"' | b'\'' => match long_mark(&text[at..]) {
                    Some(mark) => {
                        let end = match long(text, at, mark) {
                            Long::Closed(end) => {
                                at = end;
                                continue;
                            }
                            Long::Open(end) => end,
                            Long::ToTheEnd => text.len(),
                        };
                        // Where the list ends is past telling.
                        faults.push(Fault::Long(at, mark));
                        return Self { end, faults };
                    }
                    None => short(text, at, byte).unwrap_or_else(|end| {
                        faults.push(Fault::Text(at, byte));
                        end
                    }),
                },
                b'[' | b'{' => {
                    inside.push(if byte == b'[' { Fault::List(at) } else { Fault::Table(at) });
                    open_now[usize::from(byte == b'{')] += 1;
                    at + 1
                }
                b']' | b'}' => {
                    let own = |fault: &Fault| match fault {
                        Fault::List(_) => byte == b']',
                        _ => byte == b'}',
                    };
                    // Not sought where there is none: all would be gone through each time.
                    let kind = usize::from(byte == b'}');
                    if open_now[kind] > 0
                        && let Some(depth) = inside.iter().rposition(own)
                    {
                        for fault in inside.drain(depth + 1..) {
                            open_now[usize::from(matches!(fault, Fault::Table(_)))] -= 1;
                            faults.push(fault);
                        }
                        inside.pop();
                        open_now[kind] -= 1;
                    }
                    if inside.is_empty() {
                        return Self { end: at + 1, faults };
                    }
                    at + 1
                }
                _ => at + 1,
            };
        }
        Self::unclosed(text.len(), left, inside, faults)
    }

    fn unclosed(
        mut end: usize,
        left: Option<(usize, Vec<Fault>, usize)>,
        mut inside: Vec<Fault>,
        mut faults: Vec<Fault>,
    ) -> Self {
        if let Some((at, open, found)) = left {
            (end, inside) = (at, open);
            faults.truncate(found);
        }
        // A text that is not closed may have swallowed the bracket.
        if !faults.iter().any(|fault| matches!(fault, Fault::Text(..) | Fault::Long(..))) {
            // Thousands of brackets are one mistake.
            inside.truncate(MOST);
            faults.extend(inside);
        }
        Self { end, faults }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// What is reported, each with the text from there on up to the end of the line.
    fn found(text: &str) -> Vec<(String, &str)> {
        let mended = mend(text);
        assert_eq!(mended.text.len(), text.len());
        let lines = |text: &str| text.bytes().filter(|&b| b == b'\n').count();
        assert_eq!(lines(&mended.text), lines(text));
        let shown = |problem: Problem| (problem.message, line_at(text, problem.span.start));
        mended.problems.into_iter().map(shown).collect()
    }

    #[test]
    fn each_is_told_where_it_begins() {
        for (text, message, at) in [
            ("a = [\n 'x',\n\n[b]\nc = 1\n", "this list is not closed", "["),
            ("a = ['x'\nb = 1\nc = ['y']\n[d]\n", "this list is not closed", "['x'"),
            ("a = ['x'\nb = 1\n", "this list is not closed", "['x'"),
            ("a = [{ b = ['x' },\n]\n[b]\n", "this list is not closed", "['x' },"),
            ("a = [{ b = 'x',\n]\n[b]\n", "this table is not closed", "{ b = 'x',"),
            ("a = ['x', 'y]\n[b]\n", "this text is not closed", "'y]"),
            (
                "a = '''\nx\n[b]\nc = '''\ny\n'''\n",
                "this text of several lines is never closed",
                "'''",
            ),
            (
                "a = \"\"\"\nx\nb = \"\"\"\ny\n\"\"\"\n",
                "this text of several lines is never closed",
                "\"\"\"",
            ),
        ] {
            assert_eq!(found(text), [(message.to_owned(), at)], "{text}");
        }
    }

    #[test]
    fn what_follows_stays_as_it_is() {
        let mended = mend("a = [\n 'é', # x\n\n[b]\nc = 1\n");
        assert_eq!(mended.text, format!("a = 0\n{}\n\n[b]\nc = 1\n", " ".repeat(10)));
        let mended = mend("a = ['x'\nb = 1\n[c]\nd = \"\"\"\ne\n[f]\ng = \"\"\"\nh\"\"\"\n");
        assert_eq!(mended.text, "a = 0   \nb = 1\n[c]\nd = 0  \n \n[f]\ng = \"\"\"\nh\"\"\"\n");
    }

    #[test]
    fn what_is_closed_is_left_alone() {
        for text in [
            "a = [\n [100, 0.6],\n [200, 0.5],\n]\nb = '[x'\n",
            "a = [\n { b = 'x',\n   c = 'y' },\n]\n[d]\n",
            "a = [\n b = 'x'\n]\n[d]\n",
            "a = [ # ]\n 'x]', \"\\\"]\",\n '''\n]\n'''\n]\n[d]\n",
            "a = '''\nplay [b]\nc = 1\n'''\n[d]\n",
            "a = \"\"\"x\\\"\"\"\" \"\"\"\"\"\n[d]\n",
            "a = 1 = 2\n]\n[b\n",
        ] {
            assert_eq!(found(text), [], "{text}");
        }
    }

    proptest! {
        #[test]
        fn no_text_is_too_strange(text in "(a = |\n|\r|\\[|\\]|\\{|\\}|\"|'|\"\"\"|'''|#|\\\\|é|b|,|\\[c\\]){0,40}") {
            let text = format!("a = {text}");
            let mended = mend(&text);
            prop_assert_eq!(mended.text.len(), text.len());
            prop_assert_eq!(mended.places.is_empty(), mended.problems.is_empty());
            for problem in mended.problems {
                prop_assert!(text.get(problem.span).is_some());
            }
        }
    }
}
