use std::borrow::Cow;
use std::ops::Range;

use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet, normalize_untrusted_str};

use super::{Problems, Source, inert};

/// The widest line that a report draws; a report is read in a terminal of 80 columns or more.
const COLUMNS: usize = 100;

/// The most bytes of lines that a report draws: a file of one endless line with a thousand mistakes
/// would otherwise be drawn a thousand times. A thousand lines of a chart are less than a tenth
/// of it.
const MOST_DRAWN: usize = 2 << 20;

/// Shows every problem of `source`: the message, file, line and column, the text itself under a
/// caret, and what to write instead.
pub fn report(source: &Source, problems: &Problems, colour: bool) -> String {
    let renderer = if colour { Renderer::styled() } else { Renderer::plain() }.term_width(COLUMNS);
    let lines = Lines::of(&source.text);
    let mut out = String::new();
    let mut more = problems.not_kept();
    let mut drawn = 0;
    for problem in problems.in_order() {
        if drawn > MOST_DRAWN {
            more += 1;
            continue;
        }
        let (number, line, span) = lines.around(&problem.span);
        drawn += line.len();
        let snippet = Snippet::source(line)
            .line_start(number)
            .path(inert(&source.name))
            .annotation(AnnotationKind::Primary.span(span));
        let group = Level::ERROR
            .primary_title(inert(&problem.message))
            .element(snippet)
            .element(Level::HELP.message(normalize_untrusted_str(&problem.help)));
        out.push_str(&renderer.render(&[group]));
        out.push_str("\n\n");
    }
    match more {
        0 => {}
        1 => out.push_str("and one more problem\n\n"),
        _ => out.push_str(&format!("and {more} more problems\n\n")),
    }
    out
}

/// `1 problem in 2 files`, or that all is well.
pub fn summary(problems: usize, files: usize) -> String {
    let plural =
        |n: usize, word: &str| if n == 1 { format!("1 {word}") } else { format!("{n} {word}s") };
    if problems == 0 {
        format!("{} checked, no problems", plural(files, "file"))
    } else {
        format!("{} in {}", plural(problems, "problem"), plural(files, "file"))
    }
}

/// A text cut into lines once, so that each problem costs no more than its own line.
struct Lines<'a> {
    text: &'a str,
    /// The first byte of each line.
    starts: Vec<usize>,
}

impl<'a> Lines<'a> {
    fn of(text: &'a str) -> Self {
        let breaks = text.bytes().enumerate().filter(|(_, b)| *b == b'\n').map(|(at, _)| at + 1);
        Self { text, starts: std::iter::once(0).chain(breaks).collect() }
    }

    /// The number (from 1) and the text of the line in which `span` begins, and where in that line
    /// `span` stands. Whatever the span was made from, the result lies inside the line and on
    /// character boundaries.
    fn around(&self, span: &Range<usize>) -> (usize, Cow<'a, str>, Range<usize>) {
        let start = span.start.min(self.text.len());
        let number = self.starts.partition_point(|&line| line <= start).max(1);
        let first = self.starts.get(number - 1).copied().unwrap_or_default();
        let rest = &self.text[first..];
        let line = rest.split('\n').next().unwrap_or(rest);
        let line = line.strip_suffix('\r').unwrap_or(line);
        let mut from = (start - first).min(line.len());
        while !line.is_char_boundary(from) {
            from -= 1;
        }
        let mut to = span.end.saturating_sub(first).clamp(from, line.len());
        while !line.is_char_boundary(to) {
            to += 1;
        }
        // Some terminals obey U+0080 to U+009F; the dot takes two bytes as they do.
        let obeyed = |c: char| ('\u{80}'..='\u{9f}').contains(&c);
        let line =
            if line.contains(obeyed) { line.replace(obeyed, "·").into() } else { line.into() };
        (number, line, from..to)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_report_has_place_caret_and_help() {
        let source = Source::new("songs/a.toml", "key = \"H\"\n").unwrap();
        let mut problems = Problems::new();
        problems.add(6..9, "there is no key `H`", "write a letter from A to G");
        let text = report(&source, &problems, false);
        assert!(text.contains("songs/a.toml:1:7"), "{text}");
        assert!(text.contains("^^^"), "{text}");
        assert!(text.contains("help: write a letter"), "{text}");
    }

    #[test]
    fn spans_off_the_text_do_no_harm() {
        let source = Source::new("x", "ä").unwrap();
        let mut problems = Problems::new();
        problems.add(1..1, "a", "b");
        problems.add(50..90, "a", "b");
        assert!(!report(&source, &problems, false).is_empty());
    }

    #[test]
    fn a_span_over_several_lines_is_shown_where_it_begins() {
        let source = Source::new("x", "one\r\ntwo\u{9b}\r\nthree").unwrap();
        let mut problems = Problems::new();
        problems.add(5..14, "a", "b");
        let text = report(&source, &problems, false);
        assert!(text.contains("x:2:1"), "{text}");
        assert!(text.contains("two·\n") && text.contains("^^^^"), "{text}");
        assert!(!text.contains("three"), "{text}");
    }
}
