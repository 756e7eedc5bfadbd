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
pub struct Problems(Vec<Problem>);

impl Problems {
    /// None so far.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds one. `help` says what to write instead.
    pub fn add(&mut self, span: Range<usize>, message: impl Into<String>, help: impl Into<String>) {
        self.0.push(Problem { span, message: message.into(), help: help.into() });
    }

    /// True when the text is sound.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// How many.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// The problems from the top of the text to its end, each once.
    pub fn in_order(&self) -> Vec<&Problem> {
        let mut sorted: Vec<_> = self.0.iter().collect();
        sorted.sort_by_key(|problem| (problem.span.start, problem.span.end));
        sorted.dedup();
        sorted
    }
}
