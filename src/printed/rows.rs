//! The chart of a song: its sections line by line, as they are written, and what is said of them.

use std::ops::Range;

use super::cells::{Writer, eighths};
use super::chord_text::key_name;
use super::facts::{ending_words, facts};
use super::jobs::passes;
use super::signs::signs;
use super::{BarSign, Cell, ChartSheet, ChordText, ChordsAs, How, Part, PlacedChord, Row};
use crate::arrange::{Arrangement, Bar, Span};
use crate::chart::{Dynamic, Layout, Lead, Section, Song, Stop};
use crate::coverage::PassCoverage;
use crate::text::{inert, list};
use crate::theory::{Chord, Transposition};

/// The chart of a song as it is arranged, in a style of that name; `covered` is what the band leaves open.
pub fn chart_sheet(
    song: &Song,
    played: &Arrangement,
    covered: &[PassCoverage],
    style: &str,
    how: How,
) -> ChartSheet {
    let shapes = played.key.moved(-i32::from(how.capo));
    let writer = Writer {
        meter: song.meter,
        key: played.key,
        sounding: Transposition::between(song.key.tonic, played.key.tonic),
        shapes: Transposition::between(played.key.tonic, shapes.tonic),
        how,
    };
    let mut parts: Vec<Part> = in_order(song).map(|at| part(song, &writer, at)).collect();
    parts.extend(ending(song, played, &writer));
    let words = |text: &str| inert(text.trim()).replace(['\n', '\t'], " ");
    ChartSheet {
        title: words(&song.title),
        composer: song.composer.as_deref().map(words).filter(|composer| !composer.is_empty()),
        key: key_name(played.key),
        facts: facts(song, played, style, how, key_name(shapes)),
        passes: passes(played, covered),
        signs: signs(&parts, how),
        parts,
    }
}

/// The sections as the form first comes to them, then those that it leaves out.
fn in_order(song: &Song) -> impl Iterator<Item = usize> {
    let mut order: Vec<usize> = Vec::new();
    for at in song.form.iter().map(|pass| pass.section).chain(0..song.sections.len()) {
        if !order.contains(&at) {
            order.push(at);
        }
    }
    order.into_iter().filter(|&at| song.sections.get(at).is_some())
}

fn part(song: &Song, writer: &Writer, at: usize) -> Part {
    let Some(section) = song.sections.get(at) else { return Part::default() };
    let times: Vec<usize> =
        (1..).zip(&song.form).filter(|(_, pass)| pass.section == at).map(|(n, _)| n).collect();
    let is_sung = song.form.iter().any(|pass| pass.section == at && pass.lead == Some(Lead::Voice));
    let first = times.first().map_or(0, |first| first_bar(song, *first));
    let rows = rows(section, writer, first, is_sung);
    let mut note = match times.as_slice() {
        [] => vec!["not in the form".to_owned()],
        [once] if song.form.len() == 1 && *once == 1 => Vec::new(),
        [once] => vec![format!("once, pass {once}")],
        [one, other] => vec![format!("twice, passes {one} and {other}")],
        more => {
            let numbers: Vec<String> = more.iter().map(usize::to_string).collect();
            let numbers: Vec<&str> = numbers.iter().map(String::as_str).collect();
            vec![format!("{} times, passes {}", more.len(), list(&numbers, "and"))]
        }
    };
    note.push(match section.bars.len() {
        1 => "1 bar".to_owned(),
        bars => format!("{bars} bars"),
    });
    if section.dynamics != Dynamic::default() {
        note.push(section.dynamics.as_str().to_owned());
    }
    let has_stops =
        section.bars.iter().any(|bar| bar.stops.iter().any(|share| share.value != Stop::PlayOn));
    Part {
        name: inert(&section.name).into_owned(),
        note: note.join(" · "),
        rows,
        is_sung,
        has_stops,
    }
}

/// The number of the first bar of a pass, which is counted from 1.
fn first_bar(song: &Song, pass: usize) -> usize {
    let before = song.form.iter().take(pass.saturating_sub(1));
    let length = |section: usize| song.sections.get(section).map_or(0, |s| s.bars.len());
    1 + before.map(|pass| length(pass.section)).sum::<usize>()
}

/// The lines of a section whose first bar has that number, or none if it is 0.
fn rows(section: &Section, writer: &Writer, first: usize, is_sung: bool) -> Vec<Row> {
    let bars = &section.bars;
    let layout = Layout::of(bars, true);
    let mut rows: Vec<Row> = Vec::new();
    // Which of the bars as played begins each row.
    let mut begins: Vec<usize> = Vec::new();
    let mut again = Again::default();
    let mut before: Option<Option<Chord>> = None;
    for (written, close) in layout.lines() {
        let mut row = Row::default();
        for (place, &(sign, at)) in written.iter().enumerate() {
            let Some(bar) = bars.get(at) else { continue };
            let (open, ending) = match sign {
                "|:" => (BarSign::RepeatFrom, None),
                "|1" => (BarSign::Line, Some(1)),
                "|2" => (BarSign::Line, Some(2)),
                ":|2" => (BarSign::Line, Some(2)),
                _ => (BarSign::Line, None),
            };
            if sign == ":|2" {
                // The second ending stands under the first.
                let indent = before_ending(&row);
                row.close = BarSign::RepeatTo;
                rows.push(std::mem::take(&mut row));
                row.indent = indent;
                begins.push(at);
            } else if place == 0 {
                begins.push(at);
            }
            again.meet(sign, at);
            if sign != "|" {
                before = None;
            }
            let mut cell = writer.bar(bar, before, is_sung);
            (cell.open, cell.ending) = (open, ending);
            before = bar.chords.last().map(|share| share.value);
            row.cells.push(cell);
        }
        row.close = if close == ":|" { BarSign::RepeatTo } else { BarSign::Line };
        rows.push(row);
    }
    again.end(bars.len());
    if first > 0 {
        for (row, &at) in rows.iter_mut().zip(&begins) {
            row.numbers = again.times(at).map(|at| first + at).collect();
        }
    }
    if let Some(last) = rows.last_mut().filter(|row| row.close == BarSign::Line) {
        last.close = BarSign::Double;
    }
    if let Some(pickup) = &section.pickup {
        let cell = writer.pickup(pickup, is_sung);
        let width = cell.width;
        for row in rows.iter_mut().skip(1) {
            row.indent += width;
        }
        if let Some(row) = rows.first_mut() {
            row.cells.insert(0, cell);
        }
    }
    rows
}

/// How far in the first ending of a row begins.
fn before_ending(row: &Row) -> f64 {
    row.cells.iter().take_while(|cell| cell.ending.is_none()).map(|cell| cell.width).sum()
}

/// Which bars are played again, and how much later.
#[derive(Debug, Default)]
struct Again {
    /// Where the open repeat began.
    from: Option<usize>,
    next: usize,
    found: Vec<(Range<usize>, usize)>,
}

impl Again {
    /// Takes the next bar as written.
    fn meet(&mut self, sign: &str, at: usize) {
        self.end(at);
        if sign == "|:" {
            self.from = Some(at);
        }
        self.next = at + 1;
    }

    /// What was played since, and is not written, is what was repeated.
    fn end(&mut self, at: usize) {
        if let Some(from) = self.from.filter(|_| at > self.next) {
            let later = self.next - from;
            self.found.push((from..from + (at - self.next), later));
            self.from = None;
        }
        self.next = self.next.max(at);
    }

    /// When a bar is played, the first time and again.
    fn times(&self, at: usize) -> impl Iterator<Item = usize> {
        let again = self.found.iter().filter(move |(bars, _)| bars.contains(&at));
        std::iter::once(at).chain(again.map(move |(_, later)| at + later))
    }
}

/// What follows the form.
fn ending(song: &Song, played: &Arrangement, writer: &Writer) -> Option<Part> {
    let is_ending = |bar: &&Bar| played.passes.get(bar.pass).is_some_and(|pass| pass.is_ending);
    let bars: Vec<&Bar> = played.bars.iter().filter(is_ending).collect();
    let first = bars.first()?;
    let mut row = Row { numbers: vec![first.number], ..Row::default() };
    row.cells = bars.iter().map(|bar| ending_bar(played, bar, writer)).collect();
    row.close = BarSign::Double;
    Some(Part {
        name: "ending".to_owned(),
        note: ending_words(song.ending).to_owned(),
        rows: vec![row],
        is_sung: false,
        has_stops: false,
    })
}

fn ending_bar(played: &Arrangement, bar: &Bar, writer: &Writer) -> Cell {
    let spans = played.spans.get(bar.spans.clone()).unwrap_or_default();
    let chord = |span: &Span| {
        let sounding = span.chord.and_then(|id| played.chord(id)).copied();
        let number = ChordText::number(sounding.as_ref(), writer.key);
        let name = ChordText::name(sounding.map(|chord| writer.shapes.chord(&chord)).as_ref());
        let (text, under) = match writer.how.chords {
            ChordsAs::Names => (name, None),
            ChordsAs::Numbers => (number, None),
            ChordsAs::Both => (name, Some(number)),
        };
        PlacedChord {
            at: eighths(span.start.max(bar.start) - bar.start),
            until: eighths(span.end.min(bar.end()) - bar.start),
            text,
            under,
            is_held: false,
            is_pushed: false,
        }
    };
    Cell {
        width: 1.0,
        eighths: eighths(bar.meter.bar()).max(1),
        chords: spans.iter().map(chord).collect(),
        ..Cell::default()
    }
}
