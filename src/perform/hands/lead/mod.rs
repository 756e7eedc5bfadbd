mod joints;
mod leader;
mod solo;

use super::Sounds;
use super::banjo::tune;
use crate::arrange::{Arrangement, Bar};
use crate::chart::Role;
use crate::perform::around::rings_until;
use crate::perform::choice::Seat;
use crate::perform::cue::{Act, Cue};
use crate::perform::cues::cues;
use crate::perform::feel::Feel;
use crate::perform::slurs::{SLURRED, SlidingHand};
use crate::perform::strings::{CHOKE_MILLIS, Ring, Strings};
use crate::perform::{Instrument, Note};
use crate::style::Loud;
use crate::theory::MidiNote;
use crate::time::{Meter, Ticks};
use joints::{Begins, join};
use leader::{Leader, leader};
use solo::{Wanted, break_notes};

/// The notes of whoever leads: the tune where it is written out, rolled on the banjo, else a break made up on the
/// style's rhythm.
pub(super) fn play(seat: &Seat<'_>, mut feel: Feel) -> Vec<Note> {
    let Seat { song, part: style, .. } = *seat;
    let choke = song.tempo.ticks_in_millis(CHOKE_MILLIS);
    let ring = Ring { share: style.length, at_most: None };
    let choke = Ring { share: 1.0, at_most: Some(choke) };
    let mut strings = Strings::new(rings_until(song));
    let slides = SlidingHand::at(song.tempo);
    // A banjo is more than one voice: it breaks the tune.
    let breaks = tune::breaks(song, Role::Lead);
    let broken = tune::play(seat, &breaks, feel.clone());
    for Move { at, even, bar, act, begins } in moves(seat, &breaks) {
        strings.set_bar(bar);
        let (pitch, loud, ring) = match act {
            Does::Stop => {
                let at = feel.place(at, even);
                strings.damp_all(at);
                continue;
            }
            Does::Again => {
                strings.end_round();
                continue;
            }
            Does::Plays(pitch, loud) => (pitch, loud, ring),
            Does::Hits(pitch) => (pitch, Loud::Accent, choke),
            Does::Ends(pitch) => (pitch, Loud::Accent, Ring::FULL),
        };
        let placed = feel.place(at, even);
        let velocity = |share| feel.velocity(at, loud, share);
        // One voice: whatever it plays on, the next note stops the last.
        match begins {
            Begins::Struck => strings.strike(0, placed, pitch, velocity(1.0), ring),
            Begins::Joined => strings.slur(0, placed, pitch, velocity(SLURRED), ring),
            Begins::Slid => slides.slide(&mut strings, (0, placed, pitch), velocity, ring),
        }
    }
    let mut notes = strings.finish();
    notes.extend(broken);
    notes.sort_by_key(|note| note.start);
    notes
}

/// The part's sound at its beginning, and what it changes to and when: before each note that another
/// instrument plays than the one before. From the time on, the General MIDI program.
pub(super) fn sounds(song: &Arrangement, own: Instrument, notes: &[Note]) -> Sounds {
    let program = |note: &Note| {
        let lead = song.bars.get(note.bar as usize).and_then(|bar| leader(song, bar));
        lead.and_then(|lead| Leader::of(lead).program).unwrap_or(own.program)
    };
    let first = notes.first().map_or(own.program, program);
    let mut last = first;
    let mut changes = Vec::new();
    for note in notes {
        let now = program(note);
        if now != last {
            changes.push((note.start, now));
            last = now;
        }
    }
    (Instrument { program: first, ..own }, changes)
}

/// Something that the lead does at a place on the grid.
#[derive(Clone, Copy, Debug)]
struct Move {
    at: Ticks,
    even: bool,
    bar: u32,
    act: Does,
    begins: Begins,
}

impl Move {
    const fn new(at: Ticks, even: bool, bar: u32, act: Does) -> Self {
        Self { at, even, bar, act, begins: Begins::Struck }
    }
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Does {
    Stop,
    Again,
    Plays(MidiNote, Loud),
    Hits(MidiNote),
    Ends(MidiNote),
}

/// All that the lead does with one voice, in the order of time: all but the bars of `breaks`.
fn moves(seat: &Seat<'_>, breaks: &[usize]) -> Vec<Move> {
    let Seat { song, seed, .. } = *seat;
    let mut cued: Vec<Cue> = Vec::new();
    cues(seat, |cue| cued.push(cue));
    let wanted: Vec<Wanted> = wanted(song, &cued);
    let pitches = break_notes(song, &wanted, seed);
    let mut pitches = wanted.iter().zip(pitches).peekable();
    let mut out: Vec<Move> = Vec::new();
    let mut cued = cued.into_iter().peekable();
    let mut shift = TuneShift::default();
    let mut sounding = false;
    for (index, bar) in song.bars.iter().enumerate() {
        let number = index as u32;
        let broken = breaks.binary_search(&index).is_ok();
        let plays = leader(song, bar).is_some() && !broken;
        let written = !broken && bar.melody.is_some() && !bar.resting.contains(Role::Lead);
        if sounding && !plays {
            out.push(Move::new(bar.start, false, number, Does::Stop));
        }
        while let Some(cue) = cued.next_if(|cue| cue.bar == number) {
            let made = pitches.next_if(|(wanted, _)| is_for(wanted, &cue));
            let act = match (cue.act, made) {
                (Act::Again, _) => Does::Again,
                // One who rests is told so in the first bar of the rest.
                (Act::Damp, _) if plays || bar.resting.contains(Role::Lead) => Does::Stop,
                _ if !plays || written => continue,
                (Act::Hit, Some((_, pitch))) => Does::Hits(pitch),
                (Act::FinalHit, Some((_, pitch))) => Does::Ends(pitch),
                (Act::Strike(strike) | Act::Walk { strike, .. }, Some((_, pitch))) => {
                    Does::Plays(pitch, strike.loud)
                }
                (Act::Change, _) => match foreign(song, &cue, &out) {
                    true => Does::Stop,
                    false => continue,
                },
                _ => continue,
            };
            if written && act == Does::Stop {
                continue;
            }
            out.push(Move::new(cue.at, cue.even, number, act));
        }
        if written {
            lay_tune(song, bar, number, shift.of(song, index), &mut out);
        }
        sounding = plays && !bar.resting.contains(Role::Lead);
    }
    join(song, seed, &mut out);
    out
}

/// The places at which the break has a note.
fn wanted(song: &Arrangement, cued: &[Cue]) -> Vec<Wanted> {
    let kinds: Vec<(bool, usize)> = song
        .bars
        .iter()
        .map(|bar| (bar.melody.is_none() && leader(song, bar).is_some(), bar.line))
        .collect();
    let mut out = Vec::new();
    for (at, cue) in cued.iter().enumerate() {
        let Some(&(true, line)) = kinds.get(cue.bar as usize) else { continue };
        let strikes =
            matches!(cue.act, Act::Strike(_) | Act::Walk { .. } | Act::Hit | Act::FinalHit);
        let chord = song.spans.get(cue.span).and_then(|span| span.chord);
        let (true, Some(chord)) = (strikes, chord) else { continue };
        let stops = |next: &&Cue| next.at > cue.at && !matches!(next.act, Act::Change);
        let until = cued.iter().skip(at + 1).find(stops).map_or(song.end, |next| next.at);
        let rests = cued.get(at + 1).is_some_and(|next| next.act == Act::Damp);
        out.push(Wanted {
            at: cue.at,
            length: until - cue.at,
            bar: cue.bar,
            chord,
            line,
            rests,
            home: cue.act == Act::FinalHit,
        });
    }
    out
}

/// True if the note that is wanted is this cue's.
fn is_for(wanted: &Wanted, cue: &Cue) -> bool {
    let strikes = matches!(cue.act, Act::Strike(_) | Act::Walk { .. } | Act::Hit | Act::FinalHit);
    strikes && (wanted.bar, wanted.at) == (cue.bar, cue.at)
}

/// True if what sounds is no tone of the chord that begins.
fn foreign(song: &Arrangement, cue: &Cue, out: &[Move]) -> bool {
    let chord = song.spans.get(cue.span).and_then(|span| song.chord(span.chord?));
    let last = out.last().map(|last| last.act);
    match (chord, last) {
        (Some(chord), Some(Does::Plays(pitch, _))) => {
            !chord.tones().any(|tone| tone == pitch.pitch_class())
        }
        _ => false,
    }
}

/// Lays the written notes of a bar.
fn lay_tune(song: &Arrangement, bar: &Bar, number: u32, shift: Shift, out: &mut Vec<Move>) {
    let even = bar.meter == Meter::SixEight || song.meter == Meter::SixEight;
    let it = |at, act| Move::new(at, even, number, act);
    let notes = bar.melody.clone().and_then(|notes| song.melody.get(notes)).unwrap_or_default();
    for note in notes {
        let pitch = shift.apply(note.pitch);
        let stops_there = |last: &Move| last.act == Does::Stop && last.at == note.start;
        if out.last().is_some_and(stops_there) {
            out.pop();
        }
        let before = out.last().map(|last| last.act);
        let sounds_on = note.tied && matches!(before, Some(Does::Plays(last, _)) if last == pitch);
        if !sounds_on {
            out.push(it(note.start, Does::Plays(pitch, Loud::Normal)));
        }
        out.push(it(note.end, Does::Stop));
    }
}

/// How a written tune is brought to an instrument: all of a pass by so many octaves, and what still
/// lies outside by itself.
#[derive(Clone, Debug)]
struct Shift {
    by: i32,
    leader: Leader,
}

impl Shift {
    fn apply(&self, note: MidiNote) -> MidiNote {
        MidiNote::clamped(self.leader.fold(i32::from(note.get()) + self.by))
    }
}

/// The shift of the pass last asked for.
#[derive(Debug, Default)]
struct TuneShift(Option<(usize, Shift)>);

impl TuneShift {
    fn of(&mut self, song: &Arrangement, index: usize) -> Shift {
        let of_pass = song.bars.get(index..).unwrap_or_default();
        let pass = of_pass.first().map_or(0, |bar| bar.pass);
        if let Some((last, shift)) = &self.0
            && *last == pass
        {
            return shift.clone();
        }
        let lead = of_pass.first().and_then(|bar| leader(song, bar));
        let leader = Leader::of(lead.flatten());
        let notes: Vec<i32> = of_pass
            .iter()
            .take_while(|bar| bar.pass == pass)
            .filter_map(|bar| song.melody.get(bar.melody.clone()?))
            .flatten()
            .map(|note| i32::from(note.pitch.get()))
            .collect();
        let outside = |by: i32| {
            let misses = notes.iter().filter(|&&note| leader.fold(note + by) != note + by);
            (misses.count(), by.abs())
        };
        let by = (-4..=4).map(|octaves| octaves * 12).min_by_key(|&by| outside(by)).unwrap_or(0);
        let shift = Shift { by, leader };
        self.0 = Some((pass, shift.clone()));
        shift
    }
}
