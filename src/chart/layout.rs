use std::ops::Range;

use super::ChartBar;

/// The fewest bars that are worth a repeat sign.
const FEWEST: usize = 4;

/// The most phrases that are sought again at once; a part of a tune has two to eight.
const MOST_PHRASES: usize = 32;

/// How the bars of a section stand on the page: a phrase a line, with the signs between them.
#[derive(Debug)]
pub(crate) struct Layout {
    lines: Vec<Line>,
}

/// A line of text.
#[derive(Debug)]
struct Line {
    /// For each bar the sign before it, and which of the bars as played is written there.
    bars: Vec<(&'static str, usize)>,
    close: &'static str,
}

impl Line {
    fn new(bars: Range<usize>) -> Self {
        Self { bars: bars.map(|at| ("|", at)).collect(), close: "|" }
    }

    /// Puts `sign` before the bar at `index` of the line.
    fn sign(&mut self, index: usize, sign: &'static str) {
        if let Some((before, _)) = self.bars.get_mut(index) {
            *before = sign;
        }
    }
}

impl Layout {
    /// The lines: for each bar the sign before it and which of the bars as played it is, and the sign at the end.
    pub(crate) fn lines(&self) -> impl Iterator<Item = (&[(&'static str, usize)], &'static str)> {
        self.lines.iter().map(|line| (line.bars.as_slice(), line.close))
    }

    /// Lays out bars as played. With `repeats`, phrases that come again at once are written once.
    pub(crate) fn of(bars: &[ChartBar], repeats: bool) -> Self {
        let phrases = phrases(bars);
        let mut lines = Vec::new();
        let mut left = phrases.as_slice();
        while let Some((first, rest)) = left.split_first() {
            let again = (1..=MOST_PHRASES.min(left.len() / 2)).rev().find_map(|count| {
                let (once, rest) = left.split_at(count);
                let written =
                    repeats.then(|| repeated(bars, once, rest.get(..count)?)).flatten()?;
                Some((written, rest.get(count..).unwrap_or_default()))
            });
            match again {
                Some((written, rest)) => {
                    lines.extend(written);
                    left = rest;
                }
                None => {
                    lines.push(Line::new(first.clone()));
                    left = rest;
                }
            }
        }
        Self { lines }
    }

    /// The row with its repeat signs. `cell` gives the words of a bar; it is also told which bar stands
    /// right before it, if that is the bar before in time as well.
    pub fn signed(&self, cell: impl Fn(usize, Option<usize>) -> String) -> String {
        let cells = |line: &Line| -> Vec<String> {
            let mut before = None;
            line.bars
                .iter()
                .map(|&(sign, at)| {
                    let before = before.replace(at).filter(|_| sign == "|");
                    cell(at, before)
                })
                .collect()
        };
        let rows: Vec<_> = self.lines.iter().map(cells).collect();
        // Signs of two characters at the head or the end of any line make room in all.
        let opens = self
            .lines
            .iter()
            .filter_map(|line| line.bars.first())
            .map(|(sign, _)| sign.len())
            .max();
        let closes = self.lines.iter().map(|line| line.close.len()).max();
        self.rows(&rows, opens.unwrap_or(1), closes.unwrap_or(1), true)
    }

    /// A row without repeat signs, which runs along the signed one. It is empty where `cell` gives
    /// nothing.
    pub fn plain(&self, cell: impl Fn(usize) -> Option<String>) -> String {
        let cells = |line: &Line| -> Vec<String> {
            line.bars.iter().map(|&(_, at)| cell(at).unwrap_or_default()).collect()
        };
        let rows: Vec<_> = self.lines.iter().map(cells).collect();
        self.rows(&rows, 1, 1, false)
    }

    /// Bars below one another, each as wide as its column.
    fn rows(&self, rows: &[Vec<String>], opens: usize, closes: usize, signed: bool) -> String {
        let columns = rows.iter().map(Vec::len).max().unwrap_or_default();
        let wide = |cell: &String| cell.chars().count();
        let widths: Vec<usize> = (0..columns)
            .map(|at| rows.iter().filter_map(|row| row.get(at)).map(wide).max().unwrap_or_default())
            .collect();
        let mut out = String::new();
        for (line, row) in self.lines.iter().zip(rows) {
            for (index, ((sign, _), cell)) in line.bars.iter().zip(row).enumerate() {
                let sign = if signed { sign } else { "|" };
                let width = widths.get(index).copied().unwrap_or_default();
                if index == 0 {
                    out.push_str(&format!("{sign:<opens$} {cell:<width$}"));
                } else {
                    out.push_str(&format!(" {sign} {cell:<width$}"));
                }
            }
            let close = if signed { line.close } else { "|" };
            out.push_str(&format!(" {close:>closes$}\n"));
        }
        out
    }
}

/// Where each phrase stands.
fn phrases(bars: &[ChartBar]) -> Vec<Range<usize>> {
    let mut phrases = Vec::new();
    let mut start = 0;
    for (at, bar) in bars.iter().enumerate() {
        if bar.line_end || at + 1 == bars.len() {
            phrases.push(start..at + 1);
            start = at + 1;
        }
    }
    phrases
}

/// Phrases that are played, and then `again` with the same bars or with another ending, as lines of
/// text; `None` if they are not the same or too few.
fn repeated(bars: &[ChartBar], once: &[Range<usize>], again: &[Range<usize>]) -> Option<Vec<Line>> {
    let same = |a: &Range<usize>, b: &Range<usize>| {
        a.len() == b.len() && a.clone().zip(b.clone()).all(|(a, b)| alike(bars, a, b))
    };
    let (last, body) = once.split_last()?;
    let (other, body_again) = again.split_last()?;
    if !body.iter().zip(body_again).all(|(a, b)| same(a, b)) {
        return None;
    }
    let mut lines: Vec<Line> = body.iter().cloned().map(Line::new).collect();
    let before: usize = body.iter().map(Range::len).sum();
    let shared = last.clone().zip(other.clone()).take_while(|&(a, b)| alike(bars, a, b)).count();
    if same(last, other) {
        let mut line = Line::new(last.clone());
        line.close = ":|";
        lines.push(line);
    } else if shared == last.len() || shared == other.len() {
        // One of the endings would have no bars.
        return None;
    } else if shared == 0 {
        let mut first = Line::new(last.clone());
        first.sign(0, "|1");
        first.close = ":|";
        let mut second = Line::new(other.clone());
        second.sign(0, "|2");
        lines.extend([first, second]);
    } else {
        let mut line = Line::new(last.clone());
        line.sign(shared, "|1");
        line.bars.extend((other.start + shared..other.end).map(|at| ("|", at)));
        line.sign(last.len(), ":|2");
        lines.push(line);
    }
    lines.first_mut()?.sign(0, "|:");
    let enough = before + if same(last, other) { last.len() } else { shared } >= FEWEST;
    enough.then_some(lines)
}

/// True if two bars are written alike.
fn alike(bars: &[ChartBar], a: usize, b: usize) -> bool {
    let what = |at: usize| {
        bars.get(at).map(|bar| (bar.meter, &bar.chords, &bar.singing, &bar.stops, &bar.melody))
    };
    // Where the singer pauses without a row of its own, the ends of lines have seen to it.
    what(a) == what(b)
}
