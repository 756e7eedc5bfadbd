//! What one role plays in an exported file, held against the timetable.
#![allow(dead_code)] // Not every test binary looks at everything.

use openchair::chart::Role;
use openchair::perform::{SLOWEST_STRUM, furthest_stray};
use openchair::style::RoleStyle;
use openchair::time::Meter;

use super::midi_file::{Event, Note, Track};
use super::timetable::Timetable;

/// The swung place, the lean and the straying are each rounded to whole ticks.
const ROUNDING: f64 = 2.0;

/// How long a choked hit may sound, in milliseconds: a stroke and the hand back on the strings
/// (common practice, no source).
const CHOKE: f64 = 120.0;

/// How long a slide stays on a fret at most, in milliseconds.
const SLIDE: f64 = 31.0;

pub struct Played<'a> {
    pub role: Role,
    pub notes: Vec<Note>,
    pub sheet: &'a Timetable,
    pub part: &'a RoleStyle,
    /// The finest grid that the part is written on.
    pub unit: i64,
    lean: f64,
    loose: f64,
    spread: f64,
}

/// The finest grid of a part: its slots, and the eighths on which chords and stops begin.
pub fn grid(part: &RoleStyle, sheet: &Timetable) -> i64 {
    // What is played before and after the form goes by eighths of a bar.
    let stock = sheet.bars.iter().filter(|bar| bar.kickoff || bar.line);
    let stock = stock.map(|bar| if bar.meter == Meter::TwoFour { 240 } else { 480 });
    part.bars.iter().map(|bar| bar.slot.get()).chain(stock).fold(480, gcd)
}

fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

impl<'a> Played<'a> {
    pub fn new(role: Role, track: &Track, sheet: &'a Timetable, part: &'a RoleStyle) -> Self {
        let mut notes = track.notes().unwrap_or_else(|wrong| panic!("{role}: {wrong}"));
        // The frets that a slide goes over lie between the places of the grid: no longer than 30 ms each.
        let passing = track.passing(sheet.ticks(SLIDE).ceil() as i64);
        notes.retain(|note| !passing.contains(&(note.start, note.key)));
        assert!(!notes.is_empty(), "no track for a role that never plays: {role}");
        Self {
            role,
            notes,
            sheet,
            part,
            unit: grid(part, sheet),
            lean: sheet.ticks(part.lean),
            loose: sheet.ticks(furthest_stray(sheet.looseness, part)),
            spread: sheet.ticks(SLOWEST_STRUM * part.spread),
        }
    }

    /// Checks all that holds in every style.
    pub fn hold(&self, track: &Track) {
        self.set_up(track);
        self.in_bounds();
        self.silent_where_it_must_be();
        self.strikes_together_and_chokes();
        self.strikes_together_and_holds();
        self.strikes_the_end();
        self.keeps_to_the_grid();
        match self.role {
            Role::Bass => self.roots_on_new_chords(),
            Role::Chop => self.chord_notes_only(),
            _ => {}
        }
    }

    /// From where to where a stroke written at `at` may sound: its lean, its looseness, its spread.
    pub fn window(&self, at: i64) -> (f64, f64) {
        let centre = self.sheet.swung(at) + self.lean;
        let first = (centre - self.loose - ROUNDING).max(0.0);
        (first, (centre + self.loose).max(0.0) + self.spread + ROUNDING)
    }

    /// True if no stroke can be taken for one written at the next place of the grid.
    pub fn is_clear(&self) -> bool {
        let shortest = self.unit as f64 * 2.0 * self.sheet.swing.min(1.0 - self.sheet.swing);
        shortest > 2.0 * (self.loose + ROUNDING) + self.spread
    }

    /// Where on the grid a note is written.
    pub fn place(&self, note: &Note) -> Option<i64> {
        let near = (note.start - 960).max(0) / self.unit * self.unit;
        (near..note.start + 960).step_by(self.unit as usize).find(|&at| {
            let (from, to) = self.window(at);
            (from..=to).contains(&(note.start as f64))
        })
    }

    pub fn notes_in(&self, (from, to): (f64, f64)) -> impl Iterator<Item = &Note> {
        self.notes.iter().filter(move |note| (from..=to).contains(&(note.start as f64)))
    }

    fn set_up(&self, track: &Track) {
        let instrument = self.part.instrument;
        let [channel] = track.channels()[..] else { panic!("one channel") };
        let control = |controller, value| Event::Control { channel, controller, value };
        let wanted = [
            Event::Program { channel, program: instrument.program },
            control(7, instrument.volume),
            control(10, instrument.pan),
        ];
        let found: Vec<&(u64, Event)> = track
            .events
            .iter()
            .filter(|(_, event)| match event {
                // Of a note, which its reader holds to what it says.
                Event::Control { controller: 84, .. } => false,
                event => matches!(event, Event::Program { .. } | Event::Control { .. }),
            })
            .collect();
        assert_eq!(found.len(), wanted.len(), "{}: program, volume, pan, once", self.role);
        for event in wanted {
            assert!(found.contains(&&(0, event.clone())), "{}: {event:?}", self.role);
        }
        let strange = track.events.iter().find(|(_, event)| {
            matches!(event, Event::OtherChannel { .. } | Event::SystemExclusive(_))
        });
        assert_eq!(strange, None);
    }

    /// Nothing past the end; no more notes at once than strings; loudness and pitch within reach.
    fn in_bounds(&self) {
        // Open strings: EADG from E1, GDAE from G3, EADGBE from E2 (reference/instruments.json).
        let (strings, lowest) = match self.role {
            Role::Bass => (1, 28), // One voice: a player of roots and fifths damps what is left.
            Role::Chop => (4, 55),
            Role::Guitar => (6, 40),
            // gDGBD, the lowest string D3; GDAE again, of which a bow sounds two.
            Role::Banjo => (5, 50),
            Role::Fiddle => (2, 55),
            // Whatever leads: a bass at the lowest, a guitar with most strings. Each by itself is held to its own in
            // tests/pure/fiddle_and_lead.rs.
            Role::Lead => (6, 28),
            // Of whoever comes new: nobody has more strings, and nothing lies below the bass.
            _ => (6, 28),
        };
        let loudness = self.part.loudness;
        // A mark and a break lift what the style says; a velocity has its end.
        let lifted = f64::from(loudness.accent) * self.sheet.loudest
            + 2.5 * f64::from(loudness.vary)
            + f64::from(loudness.vary) / 3.0;
        let loudest = lifted.ceil().min(127.0) as u8;
        let mut ends: Vec<i64> = Vec::new();
        for note in &self.notes {
            assert!(note.end <= self.sheet.end, "{} past the end: {note:?}", self.role);
            assert!(note.start < note.end, "{}: {note:?}", self.role);
            assert!(note.key >= lowest, "{} below its lowest string: {note:?}", self.role);
            assert!(note.velocity <= loudest, "{}: {note:?}", self.role);
            // A note that another goes on from ends a tick after that has begun.
            ends.retain(|&end| end > note.start + 1);
            ends.push(note.end);
            assert!(ends.len() <= strings, "{}: {} at {note:?}", self.role, ends.len());
        }
        let (first, _) = self.window(self.sheet.start);
        assert!(self.notes[0].start as f64 >= first, "{} before the song", self.role);
    }

    fn silent_where_it_must_be(&self) {
        for (start, end) in self.sheet.silences(self.role) {
            let (_, from) = self.window(start);
            let (to, _) = self.window(end);
            if from >= to {
                continue; // Shorter than a player's feel: what comes after it has begun.
            }
            for note in &self.notes {
                let begins = (from..to).contains(&(note.start as f64));
                let sounds_on = (note.start as f64) < from && note.end as f64 > from;
                let why = if begins { "begins" } else { "sounds on" };
                assert!(!begins && !sounds_on, "{} {why} in {start}..{end}: {note:?}", self.role);
            }
        }
    }

    fn strikes_together_and_chokes(&self) {
        let choke = self.sheet.ticks(CHOKE) + ROUNDING;
        for hit in self.sheet.hits().filter(|hit| self.sheet.heard(self.role, hit.start)) {
            let struck: Vec<&Note> = self.notes_in(self.window(hit.start)).collect();
            assert!(!struck.is_empty(), "{} misses the stop at {}", self.role, hit.start);
            if self.is_clear() {
                for note in struck {
                    let length = (note.end - note.start) as f64;
                    assert!(length <= choke, "{}: {note:?} is not choked", self.role);
                }
            }
        }
    }

    /// A held chord is struck by everyone, and rings to the end of its mark or to the next chord.
    fn strikes_together_and_holds(&self) {
        for hold in self.sheet.holds().filter(|hold| self.sheet.heard(self.role, hold.start)) {
            let window = self.window(hold.start);
            assert!(self.notes_in(window).next().is_some(), "{} misses {hold:?}", self.role);
            let chord = self.sheet.chords.iter().find(|chord| chord.end > hold.start);
            let end = chord.map_or(hold.end, |chord| chord.end).min(hold.end);
            let (rings, _) = self.window(end);
            if self.is_clear() {
                let longest = self.notes_in(window).map(|note| note.end).max().unwrap_or(0);
                assert!(longest as f64 >= rings, "{} lets go of {hold:?}: {longest}", self.role);
            }
        }
    }

    fn strikes_the_end(&self) {
        let Some(at) = self.sheet.bars.last().and_then(|bar| bar.final_hit) else { return };
        let plays = self.sheet.heard(self.role, at);
        let window = self.window(at);
        assert_eq!(self.notes_in(window).next().is_some(), plays, "{} at the end", self.role);
        if plays {
            let ring = self.notes.iter().filter(|note| note.end == self.sheet.end).count();
            assert!(ring > 0, "{} lets the end ring", self.role);
        }
    }

    /// Every onset is a place of the grid, swung, with the part's lean, and strays from there by no
    /// more than looseness and spread; and the chart has the role play there.
    ///
    /// But a lead, which has tremolo and notes that a hand slides in from.
    fn keeps_to_the_grid(&self) {
        if !self.is_clear() || self.role == Role::Lead {
            return;
        }
        for note in &self.notes {
            let Some(at) = self.place(note) else {
                panic!("{} strays from the grid: {note:?}", self.role)
            };
            assert!(self.sheet.heard(self.role, at), "{} at {at}: {note:?}", self.role);
            if let Some(last) = self.sheet.bar_at(at).and_then(|bar| bar.final_hit) {
                assert!(at <= last, "{} after the end: {note:?}", self.role);
            }
        }
    }

    /// Bass: the root, or the slash bass, on the first beat of every new chord (Wikipedia "Double
    /// bass", bluegrass section: mostly root and fifth; that the root comes with the chord is common
    /// practice, no source).
    fn roots_on_new_chords(&self) {
        for stretch in &self.sheet.chords {
            let Some(chord) = stretch.value else { continue };
            if !self.sheet.heard(self.role, stretch.start) || self.sheet.rests_at(stretch.start) {
                continue;
            }
            let window = self.window(stretch.start);
            let sounds = self.notes_in(window).any(|note| note.key % 12 == chord.bass_class());
            assert!(sounds, "no {chord} from the bass at {}", stretch.start);
        }
    }

    /// Every note belongs to the chord of the moment: its own or the slash bass.
    pub fn chord_notes_only(&self) {
        if !self.is_clear() {
            return;
        }
        for note in &self.notes {
            let at = self.place(note);
            if at.and_then(|at| self.sheet.bar_at(at)).is_some_and(|bar| bar.kickoff) {
                continue; // A line or a drone, over no chord.
            }
            let chord = at.and_then(|at| self.sheet.chord_at(at));
            let belongs = chord.is_some_and(|chord| chord.contains(note.key % 12));
            assert!(belongs, "{}: {note:?} is no note of {chord:?}", self.role);
        }
    }
}
