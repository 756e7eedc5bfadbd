use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};

use super::{Problems, Source};

/// The widest line that a report draws; a report is read in a terminal of 80 columns or more.
const COLUMNS: usize = 100;

/// Shows every problem of `source`: the message, file, line and column, the text itself under a
/// caret, and what to write instead.
pub fn report(source: &Source, problems: &Problems, colour: bool) -> String {
    let renderer = if colour { Renderer::styled() } else { Renderer::plain() }.term_width(COLUMNS);
    let mut out = String::new();
    for problem in problems.in_order() {
        let snippet = Snippet::source(&source.text)
            .path(&source.name)
            .annotation(AnnotationKind::Primary.span(within(&source.text, &problem.span)));
        let group = Level::ERROR
            .primary_title(&problem.message)
            .element(snippet)
            .element(Level::HELP.message(&problem.help));
        out.push_str(&renderer.render(&[group]));
        out.push_str("\n\n");
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

/// A span that lies inside the text and on character boundaries, whatever it was made from.
fn within(text: &str, span: &std::ops::Range<usize>) -> std::ops::Range<usize> {
    let mut start = span.start.min(text.len());
    while !text.is_char_boundary(start) {
        start -= 1;
    }
    let mut end = span.end.clamp(start, text.len());
    while !text.is_char_boundary(end) {
        end += 1;
    }
    start..end
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
}
