use std::ops::Range;

use super::bar_row::BarRow;
use super::chord_row::ChordRow;
use super::limits::MOST_BARS;
use super::split::{Subject, check_split};
use crate::text::{Problems, Text};

/// The marks that a row is written in.
pub(super) struct Alphabet<T: 'static> {
    /// The row's key.
    pub row: &'static str,
    /// Each mark and what it means.
    pub marks: &'static [(char, T)],
    /// How to write them.
    pub help: &'static str,
    /// What to write for a bar of nothing special.
    pub plain: char,
}

/// A `voice` or a `stops` row: for each bar as written, the marks that share it equally.
#[derive(Debug)]
pub(super) struct MarkRow<T> {
    marks: Vec<T>,
    bars: Vec<Range<usize>>,
}

impl<T: Copy> MarkRow<T> {
    /// The marks of a bar as written.
    pub fn bar(&self, written: usize) -> &[T] {
        self.bars.get(written).and_then(|bar| self.marks.get(bar.clone())).unwrap_or_default()
    }

    /// Reads a row that runs along `chords`, if they could be read. Repeat signs are plain bar lines
    /// here.
    pub fn read(
        text: &Text,
        alphabet: &Alphabet<T>,
        chords: Option<&ChordRow>,
        problems: &mut Problems,
    ) -> Self {
        let row = BarRow::read(text, MOST_BARS, problems);
        // Bars that run apart from the chords' would be measured against the wrong meters.
        let even = chords.filter(|c| {
            let is_mark = |c| alphabet.marks.iter().any(|(mark, _)| *mark == c);
            same_length(&row, text, alphabet.row, is_mark, c, problems)
        });
        let (marks, bars, foreign) = (Vec::new(), Vec::new(), Vec::new());
        let mut reader = Reader { text, alphabet, problems, marks, bars, foreign };
        for (at, cell) in row.cells.iter().enumerate() {
            let content = if cell.empty { cell.span.end..cell.span.end } else { cell.span.clone() };
            let (again, bar) = reader.bar(&cell.span, content);
            if let Some(meter) = even.and_then(|chords| chords.bars.get(at)?.meter) {
                let subject = if again { Subject::Again } else { Subject::Marks };
                let span = text.span(cell.span.clone());
                check_split(subject, bar.len(), meter, span, reader.problems);
            }
            reader.bars.push(bar);
        }
        reader.tell_foreign();
        Self { marks: reader.marks, bars: reader.bars }
    }
}

struct Reader<'a, T: 'static> {
    text: &'a Text,
    alphabet: &'a Alphabet<T>,
    problems: &'a mut Problems,
    marks: Vec<T>,
    bars: Vec<Range<usize>>,
    /// What is no mark of this row: where it stands first, and how often it comes again.
    foreign: Vec<(Range<usize>, usize)>,
}

impl<T: Copy> Reader<'_, T> {
    /// Reads one bar: whether it is a `%`, and its marks.
    fn bar(&mut self, span: &Range<usize>, content: Range<usize>) -> (bool, Range<usize>) {
        let first = self.marks.len();
        let row = self.alphabet.row;
        let written = &self.text.value[content.clone()];
        if written == "%" {
            if let Some(before) = self.bars.last() {
                return (true, before.clone());
            }
            self.problem(
                content,
                "`%` repeats the bar before it, and this is the row's first bar".to_owned(),
                self.alphabet.help,
            );
            return (true, first..first);
        }
        if written.is_empty() {
            let help =
                format!("write `{}` there, or `%` for the bar before again", self.alphabet.plain);
            self.problem(span.clone(), format!("a bar of this `{row}` row is empty"), &help);
        }
        let mut bad: Option<Range<usize>> = None;
        for (at, mark) in written.char_indices().filter(|(_, c)| !c.is_whitespace()) {
            let here = content.start + at..content.start + at + mark.len_utf8();
            if let Some((_, value)) = self.alphabet.marks.iter().find(|(known, _)| *known == mark) {
                self.marks.push(*value);
                continue;
            }
            // Still a share of the bar, so that its count is judged as written.
            if let Some((_, value)) = self.alphabet.marks.first() {
                self.marks.push(*value);
            }
            match &mut bad {
                Some(bad) if bad.end == here.start => bad.end = here.end,
                _ => {
                    self.foreign(bad.take());
                    bad = Some(here);
                }
            }
        }
        self.foreign(bad);
        (false, first..self.marks.len())
    }

    /// Keeps characters that are no marks of this row. Who takes `x` for a mark writes it in every bar.
    fn foreign(&mut self, bad: Option<Range<usize>>) {
        let Some(bad) = bad else { return };
        let written = |at: &Range<usize>| self.text.value.get(at.clone());
        match self.foreign.iter_mut().find(|(first, _)| written(first) == written(&bad)) {
            Some((_, again)) => *again += 1,
            None => self.foreign.push((bad, 0)),
        }
    }

    /// Reports them, each once.
    fn tell_foreign(&mut self) {
        for (bad, again) in std::mem::take(&mut self.foreign) {
            let written = &self.text.value[bad.clone()];
            let more = match again {
                0 => String::new(),
                1 => ", here and once more".to_owned(),
                n => format!(", here and {n} times more"),
            };
            let (message, help) = if written.starts_with('%') {
                (
                    format!("`%` stands for a whole bar, so nothing can stand beside it{more}"),
                    "write `%` alone, or write the bar out",
                )
            } else {
                let row = self.alphabet.row;
                (format!("`{written}` is no mark of a `{row}` row{more}"), self.alphabet.help)
            };
            self.problem(bad, message, help);
        }
    }

    fn problem(&mut self, at: Range<usize>, message: String, help: &str) {
        self.problems.add(self.text.span(at), message, help);
    }
}

/// Checks that the row has as many bars as the chords have; says where they part if not.
pub(super) fn same_length(
    row: &BarRow,
    text: &Text,
    name: &str,
    is_mark: impl Fn(char) -> bool,
    chords: &ChordRow,
    problems: &mut Problems,
) -> bool {
    // What the chords' bars are is not known.
    if chords.unbarred {
        return false;
    }
    let bars = |n: usize| if n == 1 { "1 bar".to_owned() } else { format!("{n} bars") };
    let (have, want) = (row.cells.len(), chords.bars.len());
    if chords.too_long || (have == want && !row.too_long) {
        return !chords.too_long;
    }
    let count = if row.too_long { format!("more than {}", bars(want)) } else { bars(have) };
    let message = format!("this `{name}` row has {count} and its `chords` have {want}");
    let lines = row.lines.len().max(chords.lines.len());
    let at = (0..lines)
        .find(|&at| row.lines.get(at).map(|line| line.0) != chords.lines.get(at).copied())
        .unwrap_or_default();
    let mine = row.lines.get(at).map_or(0, |line| line.0);
    let theirs = chords.lines.get(at).copied().unwrap_or_default();
    // One bar where the chords have several, and no sign in the line.
    let bare = |at: usize| {
        let first = row.lines.iter().take(at).map(|line| line.0).sum();
        row.is_bare(first)
    };
    let span = row.lines.get(at).map_or(0..0, |line| line.1.clone());
    let marks = text.value[span.clone()].chars().all(|c| c.is_whitespace() || is_mark(c));
    if mine == 1 && theirs > 1 && marks && bare(at) {
        let words: Vec<&str> = text.value[span.clone()].split_whitespace().collect();
        let help = if words.len() == theirs {
            format!("write `| {} |`", words.join(" | "))
        } else {
            format!("put `|` around each of its {theirs} bars")
        };
        let message = format!("this line of the `{name}` row has no bar lines");
        problems.add(text.span(span), message, help);
        return false;
    }
    let part = match (mine, theirs) {
        (0, _) => format!("write line {} of the row, which has {}", at + 1, bars(theirs)),
        (_, 0) => format!("take out line {} of the row, or write its chords", at + 1),
        _ => format!("write {} in line {} as in the chords, not {mine}", bars(theirs), at + 1),
    };
    let end = text.value.trim_end().len();
    let span = row.lines.get(at).map_or(end..end, |line| line.1.clone());
    problems.add(text.span(span), message, part);
    false
}
