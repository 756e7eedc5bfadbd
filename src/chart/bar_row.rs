use std::ops::Range;

use super::sign::{self, Mark, Sign};
use crate::text::{Problems, Text};

/// A row of a section as it is written: bars between bar signs, in lines of text.
#[derive(Debug, Default)]
pub(super) struct BarRow {
    /// The bars in the order of the text.
    pub cells: Vec<Cell>,
    /// The repeat signs between them, in order.
    pub signs: Vec<Sign>,
    /// How many bars each line holds that holds any, and where its bars stand.
    pub lines: Vec<(usize, Range<usize>)>,
    /// The bar of each line that has no bar sign at all, and so is one bar.
    pub bare: Vec<usize>,
    /// True if there were more bars than asked for; the rest was not read.
    pub too_long: bool,
}

/// A bar as it is written.
#[derive(Debug)]
pub(super) struct Cell {
    /// What stands in it, or for an empty bar the signs around it.
    pub span: Range<usize>,
    /// True if nothing stands in it.
    pub empty: bool,
    /// True for the last bar of its line.
    pub ends_line: bool,
}

impl BarRow {
    /// True if a bar stands alone in its line, which has no bar sign at all.
    pub fn is_bare(&self, bar: usize) -> bool {
        self.bare.binary_search(&bar).is_ok()
    }

    /// Cuts a row into its bars, no more than `most` of them. The end of a line ends its last bar,
    /// with a bar sign or without.
    pub fn read(text: &Text, most: usize, problems: &mut Problems) -> Self {
        let mut row = Self::default();
        let mut start = 0;
        for line in text.value.split_inclusive('\n') {
            if row.too_long {
                break;
            }
            row.read_line(text, start..start + line.len(), most, problems);
            start += line.len();
        }
        row
    }

    fn read_line(&mut self, text: &Text, line: Range<usize>, most: usize, problems: &mut Problems) {
        let first = self.cells.len();
        let mut left: Option<Range<usize>> = None;
        let mut left_marks = Vec::new();
        let mut at = line.start;
        loop {
            let right = sign::find(&text.value, at..line.end);
            let content = trimmed(&text.value, at..right.as_ref().map_or(line.end, |s| s.start));
            let marks = right.as_ref().map(|span| sign::marks(&text.value, span));
            if !content.is_empty() {
                self.push(content, false, most);
            } else if let (Some(left), Some(right)) = (&left, &right)
                && is_a_bar(&left_marks, marks.as_ref())
            {
                self.push(left.start..right.end, true, most);
            }
            if self.too_long {
                break;
            }
            let Some(span) = right else {
                if left.is_none() && first < self.cells.len() {
                    self.bare.push(first);
                }
                break;
            };
            at = span.end;
            left_marks = match marks {
                Some(Some(marks)) => marks,
                _ => {
                    problems.add(
                        text.span(span.clone()),
                        format!("`{}` is no bar sign", &text.value[span.clone()]),
                        "the signs are `|`, `||` and `|]`, `|:` and `:|` around a repeat, and `|1` \
                         and `:|2` before its endings",
                    );
                    Vec::new()
                }
            };
            for &mark in &left_marks {
                self.mark(mark, span.clone());
            }
            left = Some(span);
        }
        if let (Some(head), Some(last)) =
            (self.cells.get(first).map(|c| c.span.start), self.cells.last_mut())
        {
            last.ends_line = true;
            let span = head..last.span.end;
            self.lines.push((self.cells.len() - first, span));
        }
    }

    fn push(&mut self, span: Range<usize>, empty: bool, most: usize) {
        if self.cells.len() < most {
            self.cells.push(Cell { span, empty, ends_line: false });
        } else {
            self.too_long = true;
        }
    }

    /// Notes a sign before the bar that comes next. The same sign again, at the end of one line and
    /// the head of the next, is one sign.
    fn mark(&mut self, mark: Mark, span: Range<usize>) {
        let at = self.cells.len();
        let again =
            self.signs.iter().rev().take_while(|sign| sign.at == at).any(|sign| sign.mark == mark);
        if !again {
            self.signs.push(Sign { at, mark, span });
        }
    }
}

/// Whether two signs with nothing between them enclose an empty bar. They don't where one closes a
/// repeat and the other opens the next, or where one is a bar line beside a repeat sign; they do
/// after the sign of an ending.
fn is_a_bar(left: &[Mark], right: Option<&Option<Vec<Mark>>>) -> bool {
    let Some(Some(right)) = right else { return false };
    let ending = |marks: &[Mark]| marks.iter().any(|mark| matches!(mark, Mark::Ending(_)));
    let repeat = |marks: &[Mark]| marks.iter().any(|mark| *mark != Mark::Double);
    ending(left) || !(repeat(left) || repeat(right))
}

fn trimmed(text: &str, range: Range<usize>) -> Range<usize> {
    let part = &text[range.clone()];
    let start = range.start + (part.len() - part.trim_start().len());
    start..(start + part.trim().len())
}

#[cfg(test)]
mod tests {
    use super::super::testing::text;
    use super::*;

    fn cells(row: &str) -> Vec<String> {
        let text = text(row);
        let mut problems = Problems::new();
        let read = BarRow::read(&text, 100, &mut problems);
        assert!(problems.is_empty(), "{problems:?}");
        read.cells.iter().map(|cell| text.value[cell.span.clone()].to_owned()).collect()
    }

    #[test]
    fn outer_bar_lines_may_be_left_out() {
        for row in ["| G | C |", "G | C", "| G | C", "G | C |", "|G|C|]", "G\nC", "\n | G |\r\n\nC"]
        {
            assert_eq!(cells(row), ["G", "C"], "{row}");
        }
    }

    #[test]
    fn repeat_signs_side_by_side_hold_no_bar() {
        assert_eq!(cells("|: G :| |: C :|"), ["G", "C"]);
        assert_eq!(cells("| |: G :||: C :|:D:|"), ["G", "C", "D"]);
        assert_eq!(cells("| G | | C |"), ["G", "| |", "C"]);
    }

    #[test]
    fn a_digit_is_an_ending_only_when_it_stands_alone_at_the_sign() {
        assert_eq!(cells("| 1 | 4 |1 5 :|2 1 |"), ["1", "4", "5", "1"]);
        assert_eq!(cells("|1m|57|4/5|b7|"), ["1m", "57", "4/5", "b7"]);
    }

    #[test]
    fn lines_are_counted() {
        let text = text("| G | C |\n\n| D |\n");
        let row = BarRow::read(&text, 100, &mut Problems::new());
        assert_eq!(row.lines.iter().map(|line| line.0).collect::<Vec<_>>(), [2, 1]);
        assert_eq!(
            row.cells.iter().map(|cell| cell.ends_line).collect::<Vec<_>>(),
            [false, true, true]
        );
    }

    #[test]
    fn reading_stops_at_the_limit() {
        let text = text(&"%|".repeat(1000));
        let row = BarRow::read(&text, 10, &mut Problems::new());
        assert!(row.too_long);
        assert_eq!(row.cells.len(), 10);
    }
}
