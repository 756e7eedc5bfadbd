//! The bars of a part.

use super::chords::chord;
use super::element::Element;
use super::signs::{key, tempo};
use crate::interchange::marks::{Jump, Mark};
use crate::interchange::tune::{Measure, Sounding, TempoMark, TimeSignature, What};
use crate::interchange::units::{LONGEST, QUARTER, times};
use crate::interchange::{MOST_MEASURES, Remarks, one_line};
use crate::theory::{Key, Letter, MidiNote};

/// What a part holds.
#[derive(Debug, Default)]
pub(super) struct Read {
    pub measures: Vec<Measure>,
    pub key: Option<Key>,
    pub time: Option<TimeSignature>,
    pub tempo: Option<TempoMark>,
    pub sung: bool,
}

/// What holds from bar to bar.
struct State<'a> {
    out: Read,
    remarks: &'a mut Remarks,
    divisions: i64,
    time: TimeSignature,
    /// Half steps by which the part sounds higher than it is written.
    transposed: i32,
    /// The note that is tied to the next.
    tied: Option<MidiNote>,
    /// The last time goes from here to the coda.
    leaves: bool,
}

/// Reads all bars.
pub(super) fn bars(part: &Element, remarks: &mut Remarks) -> Result<Read, (usize, String)> {
    let mut state = State {
        out: Read::default(),
        remarks,
        divisions: 1,
        time: TimeSignature { free: true, ..TimeSignature::COMMON },
        transposed: 0,
        tied: None,
        leaves: false,
    };
    for element in part.all("measure") {
        if state.out.measures.len() >= MOST_MEASURES {
            return Err((element.at, format!("the part has more than {MOST_MEASURES} bars")));
        }
        state.measure(element);
    }
    Ok(state.out)
}

impl State<'_> {
    fn number(&self) -> Option<u32> {
        u32::try_from(self.out.measures.len() + 1).ok()
    }

    fn say(&mut self, words: impl Into<String>, at: usize) {
        let number = self.number();
        self.remarks.add(words, at, number);
    }

    fn units(&self, element: &Element) -> i64 {
        let text = element.word("duration").unwrap_or("0");
        let duration: f64 = text.parse().unwrap_or(0.0);
        // Divisions may be no whole number.
        let thousandths = (duration.clamp(0.0, 1e9) * 1000.0).round() as i64;
        times(thousandths, QUARTER, self.divisions.saturating_mul(1000)).min(LONGEST)
    }

    fn measure(&mut self, element: &Element) {
        let mut bar = Measure::new(element.at, self.time);
        bar.marks.coda = std::mem::take(&mut self.leaves);
        // One voice is the tune: that of the first note.
        let voice = element
            .all("note")
            .find(|note| !note.has("grace") && !note.has("chord"))
            .and_then(|note| note.word("voice"))
            .map(str::to_owned);
        // Where the next thing stands, and how far the tune is written.
        let mut at = 0;
        let mut filled = 0;
        for child in &element.children {
            match child.name.as_str() {
                "attributes" => self.attributes(child, &mut bar, filled),
                "print" => {
                    let breaks = |name| child.attribute(name) == Some("yes");
                    if (breaks("new-system") || breaks("new-page"))
                        && let Some(last) = self.out.measures.last_mut()
                    {
                        last.line_end = true;
                    }
                }
                "harmony" => self.harmony(child, &mut bar, at),
                "direction" => self.direction(child, &mut bar),
                "sound" => {
                    self.tempo(child);
                    sound(child, &mut bar, &mut self.leaves);
                }
                "barline" => barline(child, &mut bar),
                "backup" => at = (at - self.units(child)).max(0),
                "forward" => {
                    at += self.units(child);
                }
                "note" => self.note(child, &mut bar, voice.as_deref(), &mut at, &mut filled),
                _ => {}
            }
        }
        bar.span.end = element.at;
        bar.chords.sort_by_key(|(at, _)| *at);
        self.out.measures.push(bar);
    }

    fn attributes(&mut self, element: &Element, bar: &mut Measure, filled: i64) {
        if let Some(divisions) = element.number("divisions").filter(|divisions| *divisions > 0) {
            self.divisions = divisions.min(1 << 20);
        }
        if let Some(transpose) = element.child("transpose") {
            let half_steps = transpose.number("chromatic").unwrap_or(0).clamp(-36, 36)
                + 12 * transpose.number("octave-change").unwrap_or(0).clamp(-3, 3);
            self.transposed = i32::try_from(half_steps).unwrap_or(0);
        }
        if let Some(element) = element.child("key")
            && let Some(key) = key(element, self.remarks)
        {
            // The key that is heard, not the one that is written for the instrument.
            let key = if self.transposed % 12 == 0 { key } else { key.moved(self.transposed) };
            match self.out.key {
                None => self.out.key = Some(key),
                Some(before) if before != key => self.say(
                    "the key changes here; the song keeps one, and the notes stand as they sound",
                    element.at,
                ),
                Some(_) => {}
            }
        }
        if let Some(time) = element.child("time") {
            let free = time.has("senza-misura");
            let beats = time.word("beats").unwrap_or("4");
            let sum: Option<u32> =
                beats.split('+').map(|part| part.trim().parse::<u32>().ok()).sum();
            let unit = time.number("beat-type").and_then(|unit| u32::try_from(unit).ok());
            match (sum, unit) {
                (Some(beats @ 1..=64), Some(unit)) if unit.is_power_of_two() && unit <= 64 => {
                    self.time = TimeSignature { free, ..TimeSignature::new(beats, unit) };
                }
                _ if free => self.time = TimeSignature { free, ..TimeSignature::COMMON },
                _ => self.say(format!("the meter {} can't be read", one_line(beats)), time.at),
            }
            self.out.time.get_or_insert(self.time);
            if filled == 0 {
                bar.time = self.time;
            }
        }
    }

    fn harmony(&mut self, element: &Element, bar: &mut Measure, at: i64) {
        let offset = element.number("offset").unwrap_or(0);
        let shift = times(offset.abs(), QUARTER, self.divisions) * offset.signum();
        let at = (at + shift).max(0);
        match chord(element) {
            Some((chord, said)) => {
                let moved = chord.map(|chord| match self.transposed % 12 {
                    0 => chord,
                    by => transposed(chord, by, self.out.key),
                });
                match bar.chords.iter_mut().find(|(place, _)| *place == at) {
                    Some(here) => here.1 = moved,
                    None => bar.chords.push((at, moved)),
                }
                if let Some(said) = said {
                    self.say(said, element.at);
                }
            }
            None => self.say("a chord that can't be read is left out", element.at),
        }
    }

    fn direction(&mut self, element: &Element, bar: &mut Measure) {
        self.tempo(element);
        if let Some(element) = element.child("sound") {
            sound(element, bar, &mut self.leaves);
        }
        let kinds = || element.all("direction-type").flat_map(|kind| &kind.children);
        for kind in kinds() {
            match kind.name.as_str() {
                "rehearsal" => {
                    let label = one_line(&kind.text);
                    if !label.is_empty() && bar.notes.is_empty() {
                        bar.part = Some(label);
                    }
                }
                "segno" => bar.marks.segno = true,
                // The same sign stands where the last time leaves, and says so to machines.
                "coda" => {
                    let leaves = |sound: &Element| sound.attribute("tocoda").is_some();
                    bar.marks.coda |= !element.child("sound").is_some_and(leaves);
                }
                "words" if !kind.text.trim().is_empty() => match Mark::read(&kind.text) {
                    Some(mark) => marked(mark, bar, &mut self.leaves),
                    None => self.say("words over the notes are left out", kind.at),
                },
                _ => {}
            }
        }
    }

    fn tempo(&mut self, element: &Element) {
        if let Some(mark) = tempo(element) {
            match self.out.tempo {
                None => self.out.tempo = Some(mark),
                Some(before) if before != mark => {
                    self.say("the tempo changes here; the song keeps its first", element.at);
                }
                Some(_) => {}
            }
        }
    }

    fn note(
        &mut self,
        note: &Element,
        bar: &mut Measure,
        voice: Option<&str>,
        at: &mut i64,
        filled: &mut i64,
    ) {
        if note.has("grace") {
            self.say("grace notes are left out", note.at);
            return;
        }
        if note.has("cue") {
            *at += self.units(note);
            return;
        }
        let length = self.units(note);
        if note.has("chord") {
            if note.word("voice") == voice {
                self.higher(note, bar);
            }
            return;
        }
        if note.word("voice") != voice {
            self.say("a second voice in the part is left out", note.at);
            *at += length;
            return;
        }
        if *at > *filled {
            bar.notes.push(Sounding { length: *at - *filled, what: What::Rest });
            self.tied = None;
        }
        if length == 0 {
            return;
        }
        self.out.sung |= note.has("lyric");
        let what = self.sounding(note);
        bar.notes.push(Sounding { length, what });
        *at = (*at).max(*filled) + length;
        *filled = *at;
    }

    /// What a note sounds, where it may go on from the one before.
    fn sounding(&mut self, note: &Element) -> What {
        let Some(pitch) = self.pitch(note) else {
            self.tied = None;
            if note.has("unpitched") {
                self.say("notes without a pitch are rests here", note.at);
            } else if note.has("rest") && note.attribute("print-object") == Some("no") {
                return What::Blank;
            }
            return What::Rest;
        };
        let ties = |kind| note.all("tie").any(|tie| tie.attribute("type") == Some(kind));
        let goes_on = ties("stop") && self.tied == Some(pitch);
        self.tied = ties("start").then_some(pitch);
        if goes_on { What::Hold } else { What::Note(pitch) }
    }

    fn pitch(&self, note: &Element) -> Option<MidiNote> {
        let pitch = note.child("pitch")?;
        let letter = Letter::parse(pitch.word("step")?.chars().next()?)?;
        let alter = pitch.number("alter").unwrap_or(0);
        let octave = pitch.number("octave")?;
        // Octave 4 begins with middle C, which is 60 (MIDI 1.0).
        let number =
            12 * (octave + 1) + i64::from(letter.semitones()) + alter + i64::from(self.transposed);
        u8::try_from(number).ok().and_then(MidiNote::new)
    }

    /// Of notes struck together the highest is the tune's.
    fn higher(&mut self, note: &Element, bar: &mut Measure) {
        self.say("of notes struck together the highest is kept", note.at);
        let Some(pitch) = self.pitch(note) else { return };
        if let Some(last) = bar.notes.last_mut()
            && matches!(last.what, What::Note(before) if before < pitch)
        {
            last.what = What::Note(pitch);
            let ties = note.all("tie").any(|tie| tie.attribute("type") == Some("start"));
            self.tied = ties.then_some(pitch);
        }
    }
}

fn transposed(chord: crate::theory::Chord, by: i32, key: Option<Key>) -> crate::theory::Chord {
    let moved = |name: crate::theory::PitchName| match key {
        Some(key) => {
            let class = (i32::from(name.pitch_class()) + by).rem_euclid(12) as u8;
            crate::chart::name_in(class, key)
        }
        None => name,
    };
    crate::theory::Chord { root: moved(chord.root), bass: chord.bass.map(moved), ..chord }
}

/// What a player on a machine is told: where to go back to, and where the last time ends.
fn sound(element: &Element, bar: &mut Measure, leaves: &mut bool) {
    for (name, mark) in [
        ("dacapo", Mark::Jump(Jump::Start)),
        ("dalsegno", Mark::Jump(Jump::Segno)),
        ("fine", Mark::Fine),
        ("tocoda", Mark::ToCoda),
        ("segno", Mark::Segno),
        ("coda", Mark::Coda),
    ] {
        if element.attribute(name).is_some_and(|value| value != "no") {
            marked(mark, bar, leaves);
        }
    }
}

/// A sign at a bar; `leaves` is set where the last time leaves it for the coda.
fn marked(mark: Mark, bar: &mut Measure, leaves: &mut bool) {
    match mark {
        Mark::Segno => bar.marks.segno = true,
        Mark::Coda => bar.marks.coda = true,
        Mark::ToCoda => *leaves = true,
        Mark::Fine => bar.marks.fine = true,
        Mark::Jump(jump) => bar.marks.jump = Some(jump),
    }
}

fn barline(element: &Element, bar: &mut Measure) {
    let double = matches!(
        element.word("bar-style"),
        Some("light-light" | "light-heavy" | "heavy-light" | "heavy-heavy")
    );
    let right = element.attribute("location").is_none_or(|location| location == "right");
    bar.double |= double && right;
    if let Some(ending) = element.child("ending")
        && ending.attribute("type") == Some("start")
    {
        let numbers = ending.attribute("number").unwrap_or("1");
        let numbers = numbers.split([',', ' ']).filter_map(|number| number.parse().ok());
        bar.ending = numbers.filter(|number| (1..=8).contains(number)).collect();
    }
    if let Some(repeat) = element.child("repeat") {
        match repeat.attribute("direction") {
            Some("forward") => bar.opens = true,
            Some("backward") => {
                let times = repeat.attribute("times").and_then(|times| times.parse::<u32>().ok());
                bar.closes = times.unwrap_or(2).clamp(2, 9) - 1;
            }
            _ => {}
        }
    }
}
