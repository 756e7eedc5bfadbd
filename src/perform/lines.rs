use crate::arrange::Bar;

/// Counts the lines of the chart as they are played, from 0 in each pass.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Lines {
    pass: Option<usize>,
    line: usize,
}

impl Lines {
    /// The line that the next bar belongs to.
    pub(super) fn of(&mut self, bar: &Bar) -> usize {
        if self.pass != Some(bar.pass) {
            (self.pass, self.line) = (Some(bar.pass), 0);
        } else if bar.facts.phrase_start {
            self.line += 1;
        }
        self.line
    }
}

/// Which idea a line of a break is made of: the second line answers the first with the same, the third
/// brings another, the fourth comes back to the first (common practice, no source: the A A B A of
/// songs). Lines of the same number are alike.
pub(super) const fn theme(line: usize) -> usize {
    line / 4 * 2 + (line % 4 == 2) as usize
}
