use std::ops::Range;

/// One thing wrong with a text: where, what, and what to write instead.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// The bytes of the source at fault; the caret stands under them.
    pub span: Range<usize>,
    /// What is wrong, as one sentence without a full stop.
    pub message: String,
    /// What to write instead.
    pub help: String,
}

/// All problems of one text, in the order found.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Problems {
    kept: Vec<Problem>,
    more: usize,
}

impl Problems {
    /// None so far.
    pub fn new() -> Self {
        Self::default()
    }

    /// How many are kept with their words; those past it are only counted. A text with so many is of
    /// another kind altogether, and no one reads on.
    pub const MOST_KEPT: usize = 1000;

    /// Adds one. `help` says what to write instead.
    pub fn add(&mut self, span: Range<usize>, message: impl Into<String>, help: impl Into<String>) {
        if self.kept.len() < Self::MOST_KEPT {
            let (message, help) = (printable(message.into()), printable(help.into()));
            self.kept.push(Problem { span, message, help });
        } else {
            self.more += 1;
        }
    }

    /// Adds all of `others`.
    pub fn append(&mut self, others: Self) {
        for problem in others.kept {
            self.add(problem.span, problem.message, problem.help);
        }
        self.more += others.more;
    }

    /// Widens every place to whole characters of `text`.
    pub(super) fn on_whole_characters(&mut self, text: &str) {
        for problem in &mut self.kept {
            problem.span = whole_characters(text, &problem.span);
        }
    }

    /// True when the text is sound.
    pub fn is_empty(&self) -> bool {
        self.kept.is_empty()
    }

    /// How many, those not kept among them.
    pub fn len(&self) -> usize {
        self.kept.len() + self.more
    }

    /// How many were counted and not kept.
    pub fn not_kept(&self) -> usize {
        self.more
    }

    /// The problems kept, from the top of the text to its end, each once.
    pub fn in_order(&self) -> Vec<&Problem> {
        let mut sorted: Vec<_> = self.kept.iter().collect();
        sorted.sort_by_key(|problem| (problem.span.start, problem.span.end));
        sorted.dedup();
        sorted
    }
}

/// The least range of whole characters of `text` in which `span` lies.
pub(super) fn whole_characters(text: &str, span: &Range<usize>) -> Range<usize> {
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

/// The words of a message, which quote the text: cut where no one reads on, and without characters
/// that a terminal would obey.
fn printable(words: String) -> String {
    /// About five lines of a terminal.
    const LONGEST: usize = 400;
    let long = words.char_indices().nth(LONGEST).is_some();
    if !long && !words.contains(char::is_control) {
        return words;
    }
    let shown = words.chars().take(LONGEST).map(|c| match c {
        c if c.is_whitespace() => ' ',
        c if c.is_control() => char::REPLACEMENT_CHARACTER,
        c => c,
    });
    let mut shown: String = shown.collect();
    if long {
        shown.push('…');
    }
    shown
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_flood_is_counted_and_not_kept() {
        let mut problems = Problems::new();
        for at in 0..5000 {
            problems.add(at..at, "a", "b");
        }
        assert_eq!((problems.len(), problems.not_kept()), (5000, 4000));
        assert_eq!(problems.in_order().len(), Problems::MOST_KEPT);
    }

    #[test]
    fn words_are_short_and_harmless() {
        let mut problems = Problems::new();
        problems.add(0..0, "x".repeat(1 << 20), "ring the bell\u{7} on\n\u{1b}[31m");
        let problem = problems.in_order()[0];
        assert!(problem.message.len() < 500 && problem.message.ends_with('…'));
        assert_eq!(problem.help, "ring the bell\u{fffd} on \u{fffd}[31m");
    }
}
