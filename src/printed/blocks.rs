//! The pieces of a chart that are not broken over pages: its head, the rows of its form, its lines.

use super::row_marks::RowSetter;
use super::runs::push_runs;
use super::setter::{Block, Setter, grey};
use super::{Anchor, ChartSheet, Mark, Part, PassRow, Row, TextKind};

/// A column of the form: what of a pass stands in it, what it is called, and whether it is bold.
type Column = (fn(&PassRow) -> &str, &'static str, bool);

/// No title, and no word about a pass, is longer than so many lines: what is longer is cut off.
const MOST_LINES: usize = 5;

/// What stands between phrases.
const APART: &str = "  ·  ";

impl Setter<'_> {
    fn grey(&self, at: (f64, f64), anchor: Anchor, size: f64, words: &str) -> Mark {
        grey(self.text(at, anchor, size, false, words))
    }

    /// Title, key and what else is said at the head.
    pub(super) fn head(&self, sheet: &ChartSheet, title: f64) -> Block {
        let key = format!("Key of {}", sheet.key);
        let key_size = title * 0.72;
        let room = self.width - self.fonts.width(&key, key_size, true) - title;
        let wide = self.fonts.width(&sheet.title, title, true);
        let fitted = title * (room / wide.max(1.0)).clamp(0.45, 1.0);
        let mut marks = Vec::new();
        let mut y = title * 0.85;
        let mut runs = Vec::new();
        push_runs(&mut runs, &key, key_size, 0.0, true);
        let width = self.fonts.width(&key, key_size, true);
        let (anchor, kind) = (Anchor::End, TextKind::Words);
        marks.push(Mark::Text { x: self.width, y, anchor, width, runs, kind });
        for line in self.wrapped(&sheet.title, fitted, true, room) {
            marks.insert(marks.len() - 1, self.text((0.0, y), Anchor::Start, fitted, true, &line));
            y += fitted * 1.15;
        }
        y += self.small * 1.45 - fitted * 1.15;
        for line in sheet
            .composer
            .iter()
            .flat_map(|composer| self.wrapped(composer, self.small, false, self.width))
        {
            marks.push(self.text((0.0, y), Anchor::Start, self.small, false, &line));
            y += self.small * 1.4;
        }
        y += self.small * 0.25;
        for line in self.joined(&sheet.facts) {
            marks.push(self.text((0.0, y), Anchor::Start, self.small, false, &line));
            y += self.small * 1.4;
        }
        Block { height: y - self.small * 0.9, marks, ..Block::default() }
    }

    /// The passes of the form, a block each, with what the columns mean at their head.
    pub(super) fn form(&self, passes: &[PassRow]) -> Vec<Block> {
        if passes.is_empty() {
            return Vec::new();
        }
        let size = self.small;
        let gap = size * 1.1;
        let columns: [Column; 5] = [
            (|pass| &pass.number, "", true),
            (|pass| &pass.section, "form", true),
            (|pass| &pass.lead, "lead", false),
            (|pass| &pass.bars, "bars", false),
            (|pass| &pass.open, "open chair", false),
        ];
        let mut starts = Vec::new();
        let mut x = 0.0;
        for (of, head, bold) in columns {
            let widest = passes
                .iter()
                .map(|pass| self.fonts.width(of(pass), size, bold))
                .fold(0.0, f64::max);
            let is_there = widest > 0.0;
            let widest =
                widest.max(if is_there { self.fonts.width(head, size * 0.85, false) } else { 0.0 });
            starts.push((x, is_there));
            x += if is_there { widest.min(self.width * 0.3) + gap } else { 0.0 };
        }
        let room = (self.width - x).max(self.width * 0.25);
        let mut head = Block { height: size * 1.25, space: size, keeps: true, marks: Vec::new() };
        for ((start, is_there), (_, words, _)) in starts.iter().zip(columns) {
            if *is_there && !words.is_empty() {
                head.marks.push(self.grey((*start, size), Anchor::Start, size * 0.85, words));
            }
        }
        head.marks.push(self.grey((x, size), Anchor::Start, size * 0.85, "left to the banjo"));
        let mut blocks = vec![head];
        for pass in passes {
            let mut block = Block { space: size * 0.1, ..Block::default() };
            for ((start, is_there), (of, _, bold)) in starts.iter().zip(columns) {
                if *is_there && !of(pass).is_empty() {
                    block.marks.push(self.text(
                        (*start, size),
                        Anchor::Start,
                        size,
                        bold,
                        of(pass),
                    ));
                }
            }
            let lines = self.wrapped(&pass.jobs, size, false, room);
            for (at, line) in lines.iter().enumerate() {
                let y = size + at as f64 * size * 1.25;
                block.marks.push(self.text((x, y), Anchor::Start, size, false, line));
            }
            block.height = size * 1.25 * lines.len().max(1) as f64;
            blocks.push(block);
        }
        blocks
    }

    /// A section: its heading, then its lines.
    pub(super) fn part(&self, part: &Part, rows: &[Row], units: f64) -> Vec<Block> {
        let size = self.small * 1.2;
        let mut name = part.name.clone();
        if let Some(first) = part.name.chars().next() {
            name = first.to_uppercase().chain(part.name.chars().skip(1)).collect();
        }
        let name = self.cut(&name, size, true, self.width * 0.6);
        let after = self.fonts.width(&name, size, true) + size * 0.8;
        let mut head = Block { space: self.size * 0.55, keeps: true, ..Block::default() };
        head.marks.push(self.text((0.0, size * 0.9), Anchor::Start, size, true, &name));
        let notes = self.wrapped(&part.note, self.small, false, (self.width - after).max(size));
        for (at, note) in notes.iter().enumerate() {
            let y = size * 0.9 + at as f64 * self.small * 1.3;
            head.marks.push(self.grey((after, y), Anchor::Start, self.small, note));
        }
        let lines = notes.len().saturating_sub(1) as f64;
        head.height = size * 1.15 + self.size * 0.12 + lines * self.small * 1.3;
        let rows = rows.iter().map(|row| RowSetter { setter: *self, part, units }.block(row));
        std::iter::once(head).chain(rows).collect()
    }

    /// What the signs mean.
    pub(super) fn signs(&self, signs: &[String]) -> Vec<Block> {
        let size = self.small * 0.92;
        let smaller = Setter { small: size, ..*self };
        let lines = smaller.joined(signs);
        let block = |(at, line): (usize, &String)| Block {
            height: size * 1.3,
            space: if at == 0 { self.size * 0.5 } else { 0.0 },
            keeps: false,
            marks: vec![self.grey((0.0, size), Anchor::Start, size, line)],
        };
        lines.iter().enumerate().map(block).collect()
    }

    /// Phrases on as few lines as hold them.
    fn joined(&self, phrases: &[String]) -> Vec<String> {
        let mut lines: Vec<String> = Vec::new();
        for phrase in phrases {
            for (at, piece) in
                self.wrapped(phrase, self.small, false, self.width).into_iter().enumerate()
            {
                match lines.last_mut() {
                    Some(last)
                        if at == 0
                            && self.fonts.width(
                                &format!("{last}{APART}{piece}"),
                                self.small,
                                false,
                            ) <= self.width =>
                    {
                        last.push_str(APART);
                        last.push_str(&piece);
                    }
                    _ => lines.push(piece),
                }
            }
        }
        lines.truncate(MOST_LINES);
        lines
    }

    /// Words on lines no wider than `room`, at most so many as somebody reads.
    fn wrapped(&self, words: &str, size: f64, bold: bool, room: f64) -> Vec<String> {
        let wide = |words: &str| self.fonts.width(words, size, bold);
        let mut lines: Vec<String> = Vec::new();
        for word in words.split_whitespace() {
            if let Some(last) = lines.last_mut() {
                let longer = format!("{last} {word}");
                if wide(&longer) <= room {
                    *last = longer;
                    continue;
                }
            }
            let mut line = String::new();
            for letter in word.chars() {
                line.push(letter);
                if wide(&line) > room && line.chars().count() > 1 {
                    line.pop();
                    lines.push(std::mem::replace(&mut line, letter.to_string()));
                }
            }
            lines.push(line);
            if lines.len() > MOST_LINES {
                lines.truncate(MOST_LINES);
                if let Some(last) = lines.last_mut() {
                    last.push('…');
                }
                break;
            }
        }
        lines
    }

    /// Words cut off where there is no room for more.
    fn cut(&self, words: &str, size: f64, bold: bool, room: f64) -> String {
        let whole = self.wrapped(words, size, bold, room);
        match whole.as_slice() {
            [first, _, ..] => format!("{first} …"),
            _ => words.to_owned(),
        }
    }
}
