//! Lines of music (ABC 2.1, 4).

use super::fields;
use super::key::AbcKey;
use super::letters::plain;
use super::lexer::{Cursor, bar_sign};
use super::measures::Measures;
use super::note::{Written, length, written};
use crate::interchange::Remarks;
use crate::interchange::chord_word::chord_word;
use crate::interchange::marks::Mark;
use crate::interchange::tune::What;
use crate::interchange::units::QUARTER;
use crate::theory::MidiNote;

const GRACE: &str = "grace notes are left out";
const SLUR: &str = "slurs are left out";
const LATE_TIE: &str = "a tie that stands apart from its first note is taken for one";
const ORNAMENT: &str = "ornaments and marks of expression are left out";
const WORDS: &str = "words over the notes are left out";
const DOUBLE: &str = "of notes struck together the highest is kept";
const OVERLAY: &str = "a second voice within the bar (`&`) is left out";

/// Reads a line of music into the bars of a voice; `base` is where it begins in the file. Gives what fields within
/// the line say that is not the voice's own: their letters and values.
pub(super) fn line(
    text: &str,
    base: usize,
    voice: &mut Measures,
    remarks: &mut Remarks,
) -> Vec<(char, String)> {
    let mut reader = Line { cursor: Cursor::new(text), base, voice, remarks, fields: Vec::new() };
    while reader.cursor.peek().is_some() {
        reader.step();
    }
    reader.fields
}

struct Line<'a, 'b> {
    cursor: Cursor<'a>,
    base: usize,
    voice: &'b mut Measures,
    remarks: &'b mut Remarks,
    fields: Vec<(char, String)>,
}

impl Line<'_, '_> {
    fn say(&mut self, words: impl Into<String>) {
        self.remarks.add(words, self.base + self.cursor.at, Some(self.voice.number()));
    }

    /// Takes one thing of the line.
    fn step(&mut self) {
        let Some(next) = self.cursor.peek() else { return };
        match next {
            '|' | ':' | '[' | '.' => {
                if let Some(sign) = bar_sign(&mut self.cursor) {
                    let at = self.base + self.cursor.at;
                    self.voice.bar(&sign, at, self.remarks);
                    return;
                }
                self.cursor.next();
                match next {
                    '[' => self.bracket(),
                    '.' => self.say(ORNAMENT),
                    _ => {}
                }
            }
            'A'..='G' | 'a'..='g' | '^' | '_' | '=' => self.note(),
            'z' | 'x' => {
                self.cursor.next();
                let length = length(&mut self.cursor, self.voice.force.unit());
                self.voice.add(if next == 'z' { What::Rest } else { What::Blank }, length);
            }
            'Z' | 'X' => {
                self.cursor.next();
                let count = self.cursor.number().unwrap_or(1);
                let at = self.base + self.cursor.at;
                self.voice.rest_bars(count, if next == 'Z' { What::Rest } else { What::Blank }, at);
            }
            '>' | '<' => self.broken(next),
            '(' => self.group(),
            '{' => {
                self.cursor.next();
                self.cursor.until('}');
                self.say(GRACE);
            }
            '"' => {
                self.cursor.next();
                let words = self.cursor.until('"');
                self.quoted(words);
            }
            '!' | '+' => self.decoration(next),
            '&' => {
                // Up to the bar line.
                self.say(OVERLAY);
                let rest = self.cursor.rest();
                self.cursor.at += rest.find(['|', '\n']).unwrap_or(rest.len());
            }
            'y' => {
                self.cursor.next();
                self.cursor.number();
            }
            'H'..='Y' | 'h'..='w' | '~' => {
                self.cursor.next();
                self.say(ORNAMENT);
            }
            ')' => _ = self.cursor.next(),
            '-' => {
                self.cursor.next();
                if self.voice.late_tie() {
                    self.say(LATE_TIE);
                }
            }
            ' ' | '\t' | '\r' | '`' | '\\' | '$' | '*' | ']' | '}' | ';' => {
                self.cursor.next();
            }
            other => {
                self.cursor.next();
                self.say(format!(
                    "`{}` is no sign of music, and is passed over",
                    plain(&other.to_string())
                ));
            }
        }
    }

    fn note(&mut self) {
        let Some(written) = written(&mut self.cursor) else {
            self.cursor.next();
            self.say("an accidental without a note is passed over");
            return;
        };
        let length = length(&mut self.cursor, self.voice.force.unit());
        self.sound(written, length);
        if self.cursor.eat('-') {
            self.tie(written);
        }
    }

    fn sound(&mut self, written: Written, length: i64) {
        match self.voice.pitch(written) {
            Some(pitch) => self.voice.note(written, pitch, length),
            None => {
                self.voice.add(What::Rest, length);
                self.say("a note beyond every instrument is a rest here");
            }
        }
    }

    fn tie(&mut self, written: Written) {
        let plain = Written { raised: None, ..written };
        if let Some(pitch) = self.voice.pitch(plain) {
            self.voice.tie(written, pitch);
        }
    }

    /// What a bracket opens that is no bar line: a field, or notes struck together.
    fn bracket(&mut self) {
        let rest = self.cursor.rest();
        let mut chars = rest.chars();
        let (first, second) = (chars.next(), chars.next());
        if let (Some(field), Some(':')) = (first.filter(char::is_ascii_alphabetic), second) {
            self.cursor.next();
            self.cursor.next();
            let value = self.cursor.until(']').to_owned();
            self.field(field, &value);
            return;
        }
        let mut notes: Vec<(Written, i64, bool)> = Vec::new();
        let unit = self.voice.force.unit();
        loop {
            if let Some(written) = written(&mut self.cursor) {
                let length = length(&mut self.cursor, unit);
                let tied = self.cursor.eat('-');
                notes.push((written, length, tied));
                continue;
            }
            match self.cursor.next() {
                None | Some(']') => break,
                Some('"') => {
                    let words = self.cursor.until('"');
                    self.quoted(words);
                }
                Some(_) => {}
            }
        }
        // The length that stands behind the bracket multiplies those within.
        let outer = length(&mut self.cursor, QUARTER);
        let tied = self.cursor.eat('-');
        let Some(first) = notes.first().map(|(_, length, _)| *length) else { return };
        let sounding: Vec<(MidiNote, Written, bool)> = notes
            .iter()
            .filter_map(|(written, _, tied)| Some((self.voice.pitch(*written)?, *written, *tied)))
            .collect();
        let length = crate::interchange::units::times(first, outer, QUARTER);
        let Some(&(_, highest, own)) = sounding.iter().max_by_key(|(pitch, ..)| *pitch) else {
            self.voice.add(What::Rest, length);
            return;
        };
        if notes.len() > 1 {
            self.say(DOUBLE);
        }
        self.sound(highest, length);
        if tied || own {
            self.tie(highest);
        }
    }

    fn broken(&mut self, mark: char) {
        let mut count = 0;
        while self.cursor.eat(mark) {
            count += 1;
        }
        if !self.voice.broken(mark == '>', count) {
            self.say(format!("`{mark}` stands behind no note, and is passed over"));
        }
    }

    /// A tuplet or a slur.
    fn group(&mut self) {
        self.cursor.next();
        let Some(notes) = self.cursor.number() else {
            self.say(SLUR);
            return;
        };
        let mut more = [None, None];
        for number in &mut more {
            if !self.cursor.eat(':') {
                break;
            }
            *number = self.cursor.number();
        }
        let [time, count] = more;
        self.voice.tuplet(notes, time, count);
    }

    /// A chord symbol (4.18) or other words (4.19).
    fn quoted(&mut self, words: &str) {
        let text = plain(words);
        // Several chords at one place are choices; the first is played.
        let text = text.split(['\n', ';']).next().unwrap_or_default().trim();
        let is_note = text.starts_with(['^', '_', '<', '>', '@']);
        match (!is_note).then(|| chord_word(text)).flatten() {
            Some(read) => {
                self.voice.chord(read.chord);
                if let Some(said) = read.said {
                    self.say(said);
                }
            }
            None if text.is_empty() => {}
            // Many write such signs in plain words.
            None => match Mark::read(text) {
                Some(mark) => self.voice.mark(mark),
                None => self.say(WORDS),
            },
        }
    }

    /// `!trill!` and the older `+trill+` (4.14); a mark alone was once the end of a line.
    fn decoration(&mut self, mark: char) {
        self.cursor.next();
        let rest = self.cursor.rest();
        let end = rest.find(mark);
        let is_name = |name: &str| name.len() < 24 && !name.contains(['|', '\n']);
        let Some(name) = end.map(|end| &rest[..end]).filter(|name| is_name(name)) else { return };
        self.cursor.at += name.len() + mark.len_utf8();
        match Mark::read(name) {
            Some(mark) => self.voice.mark(mark),
            None => self.say(ORNAMENT),
        }
    }

    /// A field within the line (3.2).
    fn field(&mut self, field: char, value: &str) {
        if !own_field(field, value, self.voice) {
            self.fields.push((field, value.to_owned()));
        }
        if field == 'K' {
            self.say("the key changes here; the song keeps one, and the notes stand as they sound");
        }
    }
}

/// A field that changes how what follows is read, if it is one.
pub(super) fn own_field(field: char, value: &str, voice: &mut Measures) -> bool {
    match field {
        'K' => {
            if let Some(key) = AbcKey::read(value, Some(&voice.force.key)) {
                voice.force.key = key;
            }
        }
        'M' => {
            if let Some(time) = fields::meter(value) {
                voice.set_time(time);
            }
        }
        'L' => {
            if let Some(unit) = fields::length(value) {
                voice.force.unit = Some(unit);
            }
        }
        'P' => {
            let label = plain(value);
            if !label.is_empty() {
                voice.part(label);
            }
        }
        _ => return false,
    }
    true
}
