//! Bars as they fill: notes one after the other, with ties, broken rhythm, tuplets and accidentals.

use super::fields::InForce;
use super::lexer::BarSign;
use super::note::Written;
use crate::interchange::Remarks;
use crate::interchange::marks::{Jump, Mark, Marks};
use crate::interchange::tune::{Measure, Sounding, What};
use crate::interchange::units::times;
use crate::theory::{Chord, MidiNote};

/// The bars of one voice.
#[derive(Clone, Debug)]
pub(super) struct Measures {
    pub force: InForce,
    pub done: Vec<Measure>,
    /// The bar that is being filled.
    now: Measure,
    at: i64,
    /// What accidentals in this bar have raised letters by.
    raised: [Option<i8>; 7],
    /// The note that is tied to the next: as written, and as it sounds.
    tie: Option<(Written, MidiNote)>,
    /// The last note, if no rest has come since.
    sounds: Option<(Written, MidiNote)>,
    /// The last note's place in the bar, for broken rhythm.
    last: Option<usize>,
    /// What the next length is multiplied by: up, down.
    broken: Option<(i64, i64)>,
    tuplet: Option<Tuplet>,
    /// Signs that stand behind the notes of a bar, and before the next.
    coming: Marks,
    /// True once a note has come.
    pub has_notes: bool,
}

/// `left` more notes, each multiplied by a fraction.
#[derive(Clone, Copy, Debug)]
struct Tuplet {
    left: i64,
    up: i64,
    down: i64,
}

impl Measures {
    pub(super) fn new(force: InForce, at: usize) -> Self {
        let now = Measure::new(at, force.time);
        Self {
            force,
            done: Vec::new(),
            now,
            at: 0,
            raised: [None; 7],
            tie: None,
            sounds: None,
            last: None,
            broken: None,
            tuplet: None,
            coming: Marks::default(),
            has_notes: false,
        }
    }

    /// The number of the bar that is being filled, from 1.
    pub(super) fn number(&self) -> u32 {
        u32::try_from(self.done.len()).unwrap_or(u32::MAX).saturating_add(1)
    }

    /// A tuplet begins (4.13): `notes` in the time of `time`, for the next `count`.
    pub(super) fn tuplet(&mut self, notes: i64, time: Option<i64>, count: Option<i64>) {
        let usual = match notes {
            2 | 4 | 8 => 3,
            3 | 6 => 2,
            _ if self.force.time.is_compound() => 3,
            _ => 2,
        };
        let up = time.unwrap_or(usual).clamp(1, 64);
        let down = notes.clamp(1, 64);
        self.tuplet = Some(Tuplet { left: count.unwrap_or(notes).clamp(1, 64), up, down });
    }

    /// Broken rhythm (4.4): `>` once or more lengthens the note before and shortens the next, `<` the other way.
    pub(super) fn broken(&mut self, dotted_first: bool, count: u32) -> bool {
        let Some(last) = self.last.and_then(|last| self.now.notes.get_mut(last)) else {
            return false;
        };
        let half = 1_i64 << count.min(4);
        let (before, next) = if dotted_first { (2 * half - 1, 1) } else { (1, 2 * half - 1) };
        let length = times(last.length, before, half);
        self.at += length - last.length;
        last.length = length;
        self.broken = Some((next, half));
        true
    }

    /// A note or a rest of so many units, before broken rhythm and tuplets.
    pub(super) fn add(&mut self, what: What, length: i64) {
        let mut length = length;
        if let Some((up, down)) = self.broken.take() {
            length = times(length, up, down);
        }
        if let Some(tuplet) = &mut self.tuplet {
            length = times(length, tuplet.up, tuplet.down);
            tuplet.left -= 1;
            if tuplet.left == 0 {
                self.tuplet = None;
            }
        }
        self.has_notes |= matches!(what, What::Note(_));
        self.sounds = None;
        self.last = Some(self.now.notes.len());
        self.now.notes.push(Sounding { length, what });
        self.at += length;
        if what == What::Rest || what == What::Blank {
            self.tie = None;
        }
    }

    /// The pitch of a note as the bar's accidentals and the key have it; they hold for a letter in every octave
    /// (11.3, the default of `propagate-accidentals`).
    pub(super) fn pitch(&mut self, written: Written) -> Option<MidiNote> {
        let letter = written.letter as usize;
        if let Some(by) = written.raised
            && let Some(place) = self.raised.get_mut(letter)
        {
            *place = Some(by);
        }
        let own = self.force.key.letters.get(letter).copied().unwrap_or_default();
        let by = self.raised.get(letter).copied().flatten().unwrap_or(own);
        // Middle C is 60 (MIDI 1.0), and so written `C`.
        let number = 60
            + written.letter.semitones()
            + i32::from(by)
            + 12 * written.octave
            + self.force.key.shift;
        u8::try_from(number).ok().and_then(MidiNote::new)
    }

    /// A note, which goes on with the one before if that is tied to it.
    pub(super) fn note(&mut self, written: Written, pitch: MidiNote, length: i64) {
        let tied = self.tie.take().filter(|(before, sounds)| {
            let same = before.letter == written.letter && before.octave == written.octave;
            same && (written.raised.is_none() || pitch == *sounds)
        });
        self.add(if tied.is_some() { What::Hold } else { What::Note(pitch) }, length);
        self.sounds = Some((written, pitch));
    }

    /// A tie that stands apart from its first note; `false` if there is none.
    pub(super) fn late_tie(&mut self) -> bool {
        self.tie = self.sounds;
        self.tie.is_some()
    }

    /// The last note is tied to the next; a tie to another pitch is a slur.
    pub(super) fn tie(&mut self, written: Written, pitch: MidiNote) {
        self.tie = Some((written, pitch));
    }

    /// A sign that sends the player elsewhere.
    pub(super) fn mark(&mut self, mark: Mark) {
        let head = self.at == 0 && self.now.notes.is_empty();
        let before = if head { &mut self.now.marks } else { &mut self.coming };
        match mark {
            Mark::Segno => before.segno = true,
            Mark::Coda | Mark::ToCoda => before.coda = true,
            Mark::Fine | Mark::Jump(_) => {
                // At the head of a bar it belongs to the one before.
                let last = if head { self.done.last_mut() } else { None };
                let marks = &mut last.unwrap_or(&mut self.now).marks;
                match mark {
                    Mark::Jump(jump) => marks.jump = Some(jump),
                    _ => marks.fine = true,
                }
            }
        }
    }

    /// All bars are there. A second segno at the end says to go back to the first.
    pub(super) fn end(&mut self, at: usize) {
        self.end_bar(at);
        let again = self.now.marks.segno && self.done.iter().any(|bar| bar.marks.segno);
        if let Some(last) = self.done.last_mut().filter(|_| again) {
            last.marks.jump.get_or_insert(Jump::Segno);
        }
    }

    pub(super) fn chord(&mut self, chord: Option<Chord>) {
        match self.now.chords.last_mut() {
            Some(last) if last.0 == self.at => last.1 = chord,
            _ => self.now.chords.push((self.at, chord)),
        }
    }

    pub(super) fn part(&mut self, label: String) {
        if self.at == 0 {
            self.now.part = Some(label);
        } else {
            self.end_bar(self.now.span.end);
            self.now.part = Some(label);
        }
    }

    pub(super) fn set_time(&mut self, time: crate::interchange::tune::TimeSignature) {
        if self.force.unit.is_none() {
            // The unit is what followed from the first meter.
            self.force.unit = Some(self.force.unit());
        }
        self.force.time = time;
        if self.at == 0 {
            self.now.time = time;
        }
    }

    /// A bar line.
    pub(super) fn bar(&mut self, sign: &BarSign, at: usize, remarks: &mut Remarks) {
        if sign.mark_alone && self.at > 0 {
            // An ending that begins within a bar: the bar is cut there.
            remarks.add("an ending begins within the bar", at, Some(self.number()));
        }
        self.end_bar(at);
        if let Some(last) = self.done.last_mut() {
            last.closes = last.closes.max(sign.closes);
            last.double |= sign.double;
        }
        self.now.opens |= sign.opens;
        if !sign.ending.is_empty() {
            self.now.ending.clone_from(&sign.ending);
        }
    }

    /// The bar that is being filled is done, if anything stands in it.
    pub(super) fn end_bar(&mut self, at: usize) {
        if self.at == 0 && self.now.notes.is_empty() {
            self.now.span = at..at;
            return;
        }
        let next = Measure::new(at, self.force.time);
        let mut done = std::mem::replace(&mut self.now, next);
        self.now.marks = std::mem::take(&mut self.coming);
        done.span.end = at.max(done.span.start);
        // A chord at the very end of a bar is the next one's.
        let length = self.at;
        let (here, late): (Vec<_>, Vec<_>) =
            done.chords.iter().copied().partition(|(at, _)| *at < length);
        done.chords = here;
        self.now.chords = late.into_iter().map(|(_, chord)| (0, chord)).collect();
        self.done.push(done);
        self.at = 0;
        self.raised = [None; 7];
        self.last = None;
        self.broken = None;
        self.tuplet = None;
    }

    /// Bars of rest.
    pub(super) fn rest_bars(&mut self, count: i64, what: What, at: usize) {
        for _ in 0..count.clamp(0, 500) {
            self.add(what, self.force.time.length());
            self.end_bar(at);
        }
    }

    /// A line of the page ends.
    pub(super) fn line_end(&mut self) {
        if self.at == 0
            && let Some(last) = self.done.last_mut()
        {
            last.line_end = true;
        }
    }
}
