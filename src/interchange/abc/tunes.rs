//! Files of tunes (ABC 2.1, 2): each from its `X:` to an empty line, with the file's own header before them.

use std::collections::BTreeMap;

use super::body;
use super::fields::{self, InForce};
use super::key::AbcKey;
use super::letters::plain;
use super::measures::Measures;
use crate::chart::Lead;
use crate::interchange::tune::{OwnWords, TempoMark, Tune};
use crate::interchange::{MOST_MEASURES, Remarks, Tunes};
use crate::text::Source;

/// Reads all tunes of a file. `voice` is the voice that is wanted of tunes that have several; without it, it is the
/// first that has notes.
///
/// Nothing but a file without any tune is an error: what a tune has that can't be kept is among its remarks.
///
/// ```
/// use openchair::interchange::read_abc;
/// use openchair::text::Source;
///
/// let source = Source::new("heron.abc", "X:1\nT:Heron Reel\nM:C|\nL:1/8\nR:reel\nK:G\n\
///     |:\"G\"GABd gdBd|\"C\"c2 ec \"D\"ABcA|\"G\"GABd gdBd|\"D\"cAFA \"G\"G4:|\n")?;
/// let tunes = read_abc(&source, None);
/// let (song, _) = tunes.tunes[0].song()?;
/// assert_eq!(song.sections[0].bars.len(), 8);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn read_abc(source: &Source, voice: Option<&str>) -> Tunes {
    let mut tunes = Tunes::default();
    let mut file = Reader::new(source, 0, 0);
    let mut number = 0;
    let mut reader: Option<Reader<'_>> = None;
    let mut at = 0;
    for line in source.text.split_inclusive('\n') {
        let start = at;
        at += line.len();
        let text = line.trim_end_matches(['\n', '\r']);
        let begins = text.trim_start().starts_with("X:");
        if begins || text.trim().is_empty() {
            // An empty line within a header is passed over, as in many files.
            let whole = reader.as_ref().is_some_and(|reader| reader.has_key);
            if begins || whole {
                tunes.add(reader.take().and_then(|reader| reader.finish(voice)));
            }
            if begins {
                number += 1;
                let mut next = file.clone();
                (next.number, next.at) = (number, start);
                reader = Some(next);
            }
            continue;
        }
        if reader.is_none() && number == 0 && starts_a_fragment(text) {
            // Some write a tune without its number.
            number = 1;
            let mut next = file.clone();
            (next.number, next.at) = (1, start);
            reader = Some(next);
        }
        match &mut reader {
            Some(reader) => reader.line(text, start),
            None if number == 0 => file.line(text, start),
            None if looks_like_music(text) => {
                tunes.stray(start, "music after an empty line belongs to no tune")
            }
            None => {}
        }
    }
    tunes.add(reader.take().and_then(|reader| reader.finish(voice)));
    tunes
}

fn starts_a_fragment(text: &str) -> bool {
    text.starts_with("T:") || text.starts_with("K:")
}

fn looks_like_music(text: &str) -> bool {
    let is_field = text.as_bytes().get(1) == Some(&b':');
    !is_field && !text.starts_with('%') && text.matches('|').count() >= 2
}

/// Reads a tune line by line.
#[derive(Clone)]
struct Reader<'a> {
    source: &'a Source,
    number: usize,
    at: usize,
    titles: Vec<String>,
    composers: Vec<String>,
    notes: Vec<String>,
    rhythm: Option<String>,
    order: Vec<String>,
    tempo: Option<TempoMark>,
    tempo_words: Option<String>,
    force: InForce,
    has_key: bool,
    sung: bool,
    words: usize,
    own: OwnWords,
    /// The bars of each voice, and the order in which voices came.
    voices: BTreeMap<String, Measures>,
    came: Vec<String>,
    now: String,
    remarks: Remarks,
    /// The line before ended with a backslash.
    goes_on: bool,
    full: bool,
}

impl<'a> Reader<'a> {
    fn new(source: &'a Source, number: usize, at: usize) -> Self {
        Self {
            source,
            number,
            at,
            titles: Vec::new(),
            composers: Vec::new(),
            notes: Vec::new(),
            rhythm: None,
            order: Vec::new(),
            tempo: None,
            tempo_words: None,
            force: InForce::NOTHING,
            has_key: false,
            sung: false,
            words: 0,
            own: OwnWords::default(),
            voices: BTreeMap::new(),
            came: Vec::new(),
            now: String::new(),
            remarks: Remarks::default(),
            goes_on: false,
            full: false,
        }
    }

    /// Takes a line that is not empty; it begins at byte `start`.
    fn line(&mut self, text: &str, start: usize) {
        if let Some(directive) = text.strip_prefix("%%") {
            self.directive(directive);
            return;
        }
        if text.starts_with('%') {
            return;
        }
        let bytes = text.as_bytes();
        let field = bytes.first().copied().filter(u8::is_ascii_alphabetic);
        let is_field = bytes.get(1) == Some(&b':') && !matches!(bytes.get(2), Some(b'|' | b':'));
        match field {
            Some(letter) if is_field => self.field(char::from(letter), &text[2..], start),
            _ if bytes.starts_with(b"+:") => {}
            _ if self.has_key => self.music(text, start),
            _ => {}
        }
    }

    fn field(&mut self, field: char, value: &str, start: usize) {
        let value = uncommented(value);
        let text = plain(value);
        match field {
            'T' if !text.is_empty() && self.number > 0 && self.measures() == 0 => {
                self.titles.push(text)
            }
            'T' if !text.is_empty() && self.number > 0 => {
                self.remarks.add("a title within the tune is left out", start, self.bar());
            }
            'C' if !text.is_empty() => self.composers.push(text),
            'R' if !text.is_empty() => self.rhythm = Some(text),
            'O' if !text.is_empty() => self.notes.push(format!("Origin: {text}.")),
            'B' | 'D' | 'S' if !text.is_empty() => self.notes.push(format!("Source: {text}.")),
            'Z' if !text.is_empty() => self.notes.push(format!("Written down: {text}.")),
            'A' if !text.is_empty() => self.notes.push(format!("Area: {text}.")),
            'N' | 'H' if !text.is_empty() => self.notes.push(text),
            // Between two paragraphs.
            'N' if self.notes.last().is_some_and(|last| !last.is_empty()) => self.notes.push(text),
            'Q' => self.tempo(value, start),
            'P' if !self.has_key => match fields::order(value) {
                Some(order) => self.order = order,
                None => self.remarks.add(
                    "the order of parts can't be read, and they are played as written",
                    start,
                    None,
                ),
            },
            'w' => self.sung = true,
            'W' if !text.is_empty() => self.words += 1,
            'V' => self.voice(value, start),
            'K' if !self.has_key => self.first_key(value, start),
            'M' if !self.has_key => match fields::meter(value) {
                Some(time) => self.force.time = time,
                None => self.remarks.add(format!("the meter `{text}` can't be read"), start, None),
            },
            'L' if !self.has_key => match fields::length(value) {
                Some(unit) => self.force.unit = Some(unit),
                None => {
                    self.remarks.add(format!("the note length `{text}` can't be read"), start, None)
                }
            },
            'K' | 'M' | 'L' | 'P' if self.has_key => self.change(field, value, start),
            's' => self.remarks.add("a line of symbols is left out", start, self.bar()),
            _ => {}
        }
    }

    /// A field on a line of its own between lines of music.
    fn change(&mut self, field: char, value: &str, start: usize) {
        let voice = self.now_voice(start);
        let before = voice.force.key.key;
        let number = voice.number();
        body::own_field(field, value, voice);
        if field == 'K' && voice.force.key.key != before {
            let words =
                "the key changes here; the song keeps one, and the notes stand as they sound";
            self.remarks.add(words, start, Some(number));
        }
    }

    fn first_key(&mut self, value: &str, start: usize) {
        let value = uncommented(value);
        match AbcKey::read(value, None) {
            Some(key) => {
                if let Some(foreign) = key.foreign {
                    let words =
                        format!("{foreign} is no mode of a song; it is written in {}", key.key);
                    self.remarks.add(words, start, None);
                }
                if !key.named {
                    self.remarks.add("no key is given; the song is written in C", start, None);
                }
                self.force.key = key;
            }
            None => {
                let words =
                    format!("the key `{}` can't be read; the song is written in C", plain(value));
                self.remarks.add(words, start, None);
            }
        }
        self.has_key = true;
    }

    fn tempo(&mut self, value: &str, start: usize) {
        let unit = self.force.unit();
        match fields::tempo(value, unit) {
            Some(mark) if self.tempo.is_none() => self.tempo = Some(mark),
            Some(_) => self.remarks.add(
                "the tempo changes here; the song keeps its first",
                start,
                self.bar(),
            ),
            None => {
                let words = plain(value).replace('"', "");
                self.tempo_words = self.tempo_words.take().or(Some(words));
            }
        }
    }

    /// The voice that the music after this belongs to (7).
    fn voice(&mut self, value: &str, start: usize) {
        let id = value.split_whitespace().next().unwrap_or_default().to_owned();
        if id.is_empty() {
            return;
        }
        if self.voices.is_empty() && self.now.is_empty() {
            self.now.clone_from(&id);
        }
        if self.has_key {
            self.now = id;
            self.now_voice(start);
        }
    }

    fn directive(&mut self, text: &str) {
        let mut words = text.split_whitespace();
        match words.next() {
            Some("openchair-style") => self.own.style = words.next().map(str::to_owned),
            Some(name @ ("openchair-kickoff" | "openchair-ending")) => {
                let what = name.trim_start_matches("openchair-");
                self.own.around(what, words.next().unwrap_or_default());
            }
            Some("openchair-section") => {
                let label = words.next().unwrap_or_default().to_owned();
                let name = words.collect::<Vec<_>>().join(" ");
                if !label.is_empty() && !name.is_empty() {
                    self.own.sections.push((label, name));
                }
            }
            Some("openchair-pass") => {
                let rest = words.collect::<Vec<_>>().join(" ");
                let (name, lead) = rest.split_once(" : ").unwrap_or((&rest, ""));
                let lead = Lead::parse(lead.trim());
                self.own.form.push((name.trim().to_owned(), lead));
            }
            _ => {}
        }
    }

    fn now_voice(&mut self, start: usize) -> &mut Measures {
        if !self.voices.contains_key(&self.now) {
            self.came.push(self.now.clone());
        }
        let force = &self.force;
        self.voices.entry(self.now.clone()).or_insert_with(|| Measures::new(force.clone(), start))
    }

    fn measures(&self) -> usize {
        self.voices.values().map(|voice| voice.done.len()).sum()
    }

    fn bar(&self) -> Option<u32> {
        self.voices.get(&self.now).map(Measures::number)
    }

    fn music(&mut self, text: &str, start: usize) {
        if self.measures() > MOST_MEASURES {
            self.full = true;
            return;
        }
        let music = uncommented(text);
        let trimmed = music.trim_end();
        let goes_on = trimmed.ends_with('\\');
        let music = trimmed.strip_suffix('\\').unwrap_or(trimmed);
        let mut remarks = std::mem::take(&mut self.remarks);
        let mut left = music;
        let mut base = start;
        // `[V:2]` within a line turns to another voice.
        loop {
            let voice = self.now_voice(base);
            let cut = left.find("[V:");
            let (here, rest) = left.split_at(cut.unwrap_or(left.len()));
            let fields = body::line(here, base, voice, &mut remarks);
            for (field, value) in fields {
                if matches!(field, 'Q') {
                    std::mem::swap(&mut remarks, &mut self.remarks);
                    self.tempo(&value, base);
                    std::mem::swap(&mut remarks, &mut self.remarks);
                }
            }
            base += here.len();
            let Some((id, after)) = rest.strip_prefix("[V:").and_then(|rest| rest.split_once(']'))
            else {
                break;
            };
            let id = id.split_whitespace().next().unwrap_or_default().to_owned();
            self.now = id;
            base += rest.len() - after.len();
            left = after;
        }
        self.remarks = remarks;
        if !goes_on {
            self.now_voice(start).line_end();
        }
        self.goes_on = goes_on;
    }

    fn finish(mut self, wanted: Option<&str>) -> Option<Result<Tune, (usize, String)>> {
        for voice in self.voices.values_mut() {
            let end = self.source.text.len();
            voice.end(end);
        }
        let title = self.titles.first().cloned();
        let name = title.clone().unwrap_or_else(|| format!("number {}", self.number));
        if !self.has_key && title.is_none() {
            return None;
        }
        if !self.has_key {
            return Some(Err((self.at, format!("{name} has no key (`K:`), and so no music"))));
        }
        if self.full {
            return Some(Err((self.at, format!("{name} has more than {MOST_MEASURES} bars"))));
        }
        let chosen = match wanted {
            Some(wanted) if self.voices.len() > 1 || self.came.iter().any(|id| id == wanted) => {
                if !self.voices.contains_key(wanted) {
                    let known = self.came.join(", ");
                    return Some(Err((
                        self.at,
                        format!("{name} has no voice {wanted}; it has {known}"),
                    )));
                }
                Some(wanted.to_owned())
            }
            _ => {
                let with_notes =
                    self.came.iter().find(|id| self.voices.get(*id).is_some_and(|v| v.has_notes));
                with_notes.or_else(|| self.came.first()).cloned()
            }
        };
        let others = self.came.iter().filter(|id| Some(*id) != chosen.as_ref()).count();
        if others > 0 {
            let words = format!("{others} more voices are left out; --voice takes another");
            self.remarks.add(words, self.at, None);
        }
        let voice = chosen.and_then(|id| self.voices.remove(&id));
        let Some(voice) = voice.filter(|voice| !voice.done.is_empty()) else {
            return Some(Err((self.at, format!("{name} has no music"))));
        };
        if title.is_none() {
            self.remarks.add("it has no title", self.at, None);
        }
        if self.words > 0 {
            self.remarks.add(
                format!("{} lines of words below the tune are left out", self.words),
                self.at,
                None,
            );
        }
        if self.sung {
            self.remarks.add("the words under the notes are left out", self.at, None);
        }
        // Where the head gives no meter, that of the first bar.
        let first = voice.done.first().map(|first| first.time);
        let time =
            if self.force.time.free { first.unwrap_or(self.force.time) } else { self.force.time };
        let mut notes = Vec::new();
        let others = self.titles.get(1..).unwrap_or_default();
        if !others.is_empty() {
            notes.push(format!("Also called {}.", others.join(", ")));
        }
        notes.extend(
            self.tempo_words
                .filter(|words| !words.is_empty())
                .map(|words| format!("Tempo: {words}.")),
        );
        notes.append(&mut self.notes);
        Some(Ok(Tune {
            number: self.number,
            at: self.at,
            title: title.unwrap_or_else(|| format!("Tune {}", self.number)),
            composer: (!self.composers.is_empty()).then(|| self.composers.join(", ")),
            notes,
            rhythm: self.rhythm,
            key: self.force.key.key,
            time,
            tempo: self.tempo,
            measures: voice.done,
            order: self.order,
            sung: self.sung,
            own: (self.own != OwnWords::default()).then_some(self.own),
            remarks: self.remarks,
        }))
    }
}

/// A line without its remark. A `%` within words or behind a backslash is none.
fn uncommented(text: &str) -> &str {
    let (mut quoted, mut escaped, mut within) = (false, false, None);
    for (at, c) in text.char_indices() {
        match c {
            _ if escaped => escaped = false,
            '\\' => escaped = true,
            '"' => quoted = !quoted,
            '%' if !quoted => return &text[..at],
            '%' => within = within.or(Some(at)),
            _ => {}
        }
    }
    // A quote that is never closed holds no remark back.
    within.filter(|_| quoted).map_or(text, |at| &text[..at])
}
