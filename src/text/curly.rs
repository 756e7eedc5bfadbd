//! Quotation marks that a word processor bent, where TOML has straight ones.

use super::toml_quotes::{Long, long, long_mark, short};
use super::{Problem, quoted};

/// More marks that nothing closes make another kind of file.
const MOST_ALONE: usize = 32;

/// A text whose curly marks around values were made straight, each byte beside them where it was; and
/// what is wrong with them. `None` if there are none.
pub(super) fn straighten(text: &str) -> Option<(String, Vec<Problem>)> {
    if !text.contains(is_curly) {
        return None;
    }
    let mut out = String::with_capacity(text.len());
    let mut problems = Vec::new();
    let (mut at, mut done) = (0, 0);
    let mut alone = 0;
    while let Some(next) = text.get(at..).and_then(|rest| rest.chars().next()) {
        let found = match next {
            '#' => {
                at += line_length(text, at);
                continue;
            }
            '"' | '\'' => match closed(text, at, next) {
                Some(end) => {
                    at = end;
                    continue;
                }
                // One that is straight where it opens may be curly where it closes.
                None => Pair::find(text, at, at + 1, next),
            },
            c if is_curly(c) => Pair::find(text, at, at + c.len_utf8(), straight(c)),
            c => {
                at += c.len_utf8();
                continue;
            }
        };
        let Some(pair) = found else {
            alone += 1;
            // Each was sought to the end of its line or of the file.
            if alone >= MOST_ALONE {
                break;
            }
            at += next.len_utf8();
            continue;
        };
        problems.push(pair.problem(text));
        out.push_str(&text[done..pair.open]);
        out.push_str(&format!("{:>1$}", pair.mark, pair.inside.start - pair.open));
        out.push_str(&text[pair.inside.clone()]);
        out.push_str(&format!("{:<1$}", pair.mark, pair.end - pair.inside.end));
        at = pair.end;
        done = pair.end;
    }
    out.push_str(&text[done..]);
    (!problems.is_empty()).then_some((out, problems))
}

/// Two marks around a value, of which at least one is curly.
struct Pair {
    open: usize,
    inside: std::ops::Range<usize>,
    end: usize,
    /// The straight mark that belongs there.
    mark: String,
}

impl Pair {
    /// What the mark at `open` encloses, which is one or three of its kind and ends at `inside` if it is
    /// one; `None` if nothing closes it.
    fn find(text: &str, open: usize, inside: usize, mark: char) -> Option<Self> {
        let rest = text.get(open..)?;
        let same = |c: char| c == mark || is_curly(c) && straight(c) == mark;
        let run = rest.chars().take(3).take_while(|&c| same(c)).count();
        let length = |marks: usize| rest.chars().take(marks).map(char::len_utf8).sum::<usize>();
        if run >= 3 {
            let start = open + length(3);
            let found = text.get(start..)?.char_indices().find(|(at, _)| {
                text[start + at..].chars().take(3).filter(|&c| same(c)).count() == 3
            })?;
            let close = start + found.0;
            let end = close + text[close..].chars().take(3).map(char::len_utf8).sum::<usize>();
            let mark = mark.to_string().repeat(3);
            return Some(Self { open, inside: start..close, end, mark });
        }
        let line = text.get(inside..inside + line_length(text, inside))?;
        // An apostrophe within a word closes nothing.
        let closes = |&(at, c): &(usize, char)| {
            let after = || line[at + c.len_utf8()..].trim_start();
            let ends =
                |after: &str| after.is_empty() || after.starts_with([',', ']', '}', '#', '=', '.']);
            same(c) && (mark == '"' || ends(after()))
        };
        let (at, c) = line.char_indices().find(closes)?;
        let end = inside + at + c.len_utf8();
        Some(Self { open, inside: inside..inside + at, end, mark: mark.to_string() })
    }

    fn problem(&self, text: &str) -> Problem {
        // Longer values are known by their beginning.
        const LONGEST: usize = 60;
        let value = &text[self.inside.clone()];
        let help = if self.mark.len() == 1 && value.len() <= LONGEST {
            format!("write {}", quoted(value))
        } else {
            format!("write {} before and after it", self.mark)
        };
        // The caret stands under the first mark that is curly.
        let curly = |from: usize, to: usize| text[from..to].contains(is_curly).then_some(from..to);
        let span = curly(self.open, self.inside.start)
            .or_else(|| curly(self.inside.end, self.end))
            .unwrap_or(self.open..self.end);
        let message = "this quotation mark is curly, and TOML has straight ones".to_owned();
        Problem { span, message, help }
    }
}

/// Where a straight text ends that is closed by a straight mark.
fn closed(text: &str, open: usize, quote: char) -> Option<usize> {
    match text.get(open..).and_then(long_mark) {
        Some(mark) => match long(text, open, mark) {
            Long::Closed(end) => Some(end),
            Long::Open(_) | Long::ToTheEnd => None,
        },
        None => short(text, open, if quote == '"' { b'"' } else { b'\'' }).ok(),
    }
}

fn line_length(text: &str, at: usize) -> usize {
    let rest = text.get(at..).unwrap_or_default();
    rest.find('\n').unwrap_or(rest.len())
}

fn is_curly(c: char) -> bool {
    matches!(c, '\u{201c}'..='\u{201f}' | '\u{2018}'..='\u{201b}' | '\u{ab}' | '\u{bb}')
}

/// The straight mark in place of a curly one.
fn straight(c: char) -> char {
    if matches!(c, '\u{2018}'..='\u{201b}') { '\'' } else { '"' }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::{Problems, Source, parse_toml};
    use super::*;

    #[test]
    fn marks_around_values_are_made_straight() {
        let helps = |text: &str| {
            let (straight, problems) = straighten(text).unwrap();
            assert_eq!(straight.len(), text.len());
            let source = Source::new("t", straight).unwrap();
            let mut left = Problems::new();
            parse_toml(&source, &mut left);
            assert!(left.is_empty(), "{text}: {left:?}");
            problems.into_iter().map(|p| (text[p.span].to_owned(), p.help)).collect::<Vec<_>>()
        };
        let one = |at: &str, help: &str| vec![(at.to_owned(), help.to_owned())];
        assert_eq!(helps("a = “G”\n"), one("“", "write \"G\""));
        assert_eq!(helps("a = ‘Tobin’s Lamp’\n"), one("‘", "write \"Tobin’s Lamp\""));
        assert_eq!(helps("a = \"G”\nb = 1\n"), one("”", "write \"G\""));
        assert_eq!(
            helps("a = “””\n| G |\n“””\nb = 1\n"),
            one("“””", "write \"\"\" before and after it")
        );
        assert_eq!(helps("a = [„x“, “y”]\n[b.“c d”]\n").len(), 3);
    }

    #[test]
    fn marks_within_values_are_left_alone() {
        for text in ["a = \"“x”\"\n", "a = '''\n‘x’\n'''\n", "# “x”\n", "a = 1\n", "“\n"]
        {
            assert!(straighten(text).is_none(), "{text}");
        }
    }

    proptest! {
        #[test]
        fn no_text_is_too_strange(text in "(a = |\n|\\[|\\]|\"|'|\"\"\"|#|\\\\|é|b|,|“|”|‘|’|“””|«){0,30}") {
            if let Some((straight, problems)) = straighten(&text) {
                prop_assert_eq!(straight.len(), text.len());
                for problem in problems {
                    prop_assert!(text.get(problem.span).is_some());
                }
            }
        }
    }
}
