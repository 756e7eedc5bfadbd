use crate::arrange::{Arrangement, ChordId};
use crate::perform::around::rings_until;
use crate::perform::choice::Seat;
use crate::perform::cue::{Act, Cue};
use crate::perform::cues::cues;
use crate::perform::degree::interval;
use crate::perform::feel::Feel;
use crate::perform::strings::{CHOKE_MILLIS, Ring, Strings};
use crate::perform::{APART, Arrival, Note};
use crate::style::{BassNote, Degree, Loud};
use crate::theory::{Chord, Key, Line, MidiNote, line, walk};

/// The upright bass's lowest note: the open E string, E1 (Wikipedia "Double bass"; instruments.json
/// of the reference tables).
const LOWEST: u8 = 28;

/// As high as a rhythm bass goes: E3, an octave up the D string (common practice, no source).
const HIGHEST: u8 = 52;

/// The lowest home of a root: A1, which has its fifth below it on the open E string. Every root lives
/// in the octave from here, so each has its fifth below, where it sounds better (Grampp, "Learn the
/// Boom-Chuck Rhythm").
const LOWEST_ROOT: u8 = 33;

/// What a root an octave below its home costs beside the walk that leads from or to it, in the costs of a
/// [`Line`]: low roots are for walks that go better so (common practice, no source).
const LOW_ROOT: u32 = 10;

/// The bass's notes.
pub(super) fn play(seat: &Seat<'_>, feel: Feel) -> Vec<Note> {
    let Seat { song, part: style, .. } = *seat;
    let choke = song.tempo.ticks_in_millis(CHOKE_MILLIS);
    let clip = style.clip.map(|millis| song.tempo.ticks_in_millis(millis));
    let mut bass = Bass {
        song,
        feel,
        ring: Ring { share: style.length, at_most: clip },
        run_ring: Ring { share: style.length.min(APART), at_most: clip },
        choke: Ring { share: 1.0, at_most: Some(choke) },
        strings: Strings::new(rings_until(song)),
        line: Vec::new(),
        arrival: None,
    };
    cues(seat, |cue| bass.act(cue));
    bass.strings.finish()
}

struct Bass<'a> {
    song: &'a Arrangement,
    feel: Feel,
    ring: Ring,
    run_ring: Ring,
    choke: Ring,
    strings: Strings,
    /// The walk being played.
    line: Vec<MidiNote>,
    /// Where the walk leads: a root, in the octave that was walked to.
    arrival: Option<Arrival>,
}

impl<'a> Bass<'a> {
    fn act(&mut self, cue: Cue) {
        self.strings.set_bar(cue.bar);
        let id = self.song.spans.get(cue.span).and_then(|span| span.chord);
        let chord = id.and_then(|id| self.song.chord(id));
        match (cue.act, chord) {
            (Act::Damp, _) => {
                let at = self.feel.place(cue.at, cue.even);
                self.strings.damp_all(at);
            }
            (Act::Again, _) => self.strings.end_round(),
            // The new root itself stops the old note.
            (Act::Change, _) | (_, None) => {}
            (Act::Strike(strike), Some(chord)) => {
                if let Some(BassNote::Degree { degree, octave }) = strike.bass {
                    let own = match (degree, octave) {
                        (Degree::Root, 0) => self.set_off(chord, cue.ahead),
                        _ => degree_note(chord, self.song.key, degree, octave),
                    };
                    let note = self.arrive(id, cue.bar).unwrap_or(own);
                    self.sound(cue, note, strike.loud, self.ring);
                }
            }
            (Act::Walk { strike, step, of, to }, Some(chord)) => {
                if step == 0 {
                    self.line = self.walk_to(cue.bar, chord, of, to);
                }
                if let Some(&note) = self.line.get(step) {
                    self.sound(cue, note, strike.loud, self.run_ring);
                }
            }
            (Act::Hit | Act::FinalHit, Some(chord)) => {
                let note = self.arrive(id, cue.bar).unwrap_or(home(chord));
                let ring = if cue.act == Act::Hit { self.choke } else { Ring::FULL };
                self.sound(cue, note, Loud::Accent, ring);
            }
        }
    }

    fn chord(&self, id: ChordId) -> Option<&'a Chord> {
        self.song.chord(id)
    }

    fn sound(&mut self, cue: Cue, pitch: MidiNote, loud: Loud, ring: Ring) {
        let at = self.feel.place(cue.at, cue.even);
        let velocity = self.feel.velocity(cue.at, loud, 1.0);
        // One voice: the hand stops the string it leaves.
        self.strings.strike(0, at, pitch, velocity, ring);
    }

    /// Where the last walk led, if it was to this chord.
    fn arrive(&mut self, id: Option<ChordId>, bar: u32) -> Option<MidiNote> {
        self.arrival.take()?.reached(id?, bar)
    }

    /// The root of a chord, in the octave from which the walk goes better that comes next, if one does.
    fn set_off(&self, chord: &Chord, ahead: Option<(usize, ChordId)>) -> MidiNote {
        let target = ahead.and_then(|(steps, to)| Some((steps, self.chord(to)?)));
        let Some((steps, target)) = target.filter(|(_, to)| home(to) != home(chord)) else {
            return home(chord);
        };
        let costs = octaves(chord, true).filter_map(|(from, low)| {
            let (cost, ..) = self.line_to(from, chord, steps, target, true)?;
            Some((cost + low, from))
        });
        costs.min_by_key(|(cost, _)| *cost).map_or(home(chord), |(_, from)| from)
    }

    /// The best walk to a chord from a note, with its cost and the root it arrives at.
    fn line_to(
        &self,
        from: MidiNote,
        chord: &Chord,
        steps: usize,
        target: &Chord,
        may_be_low: bool,
    ) -> Option<(u32, MidiNote, Line)> {
        let lines = octaves(target, may_be_low).filter_map(|(goal, low)| {
            let found = line(from, goal, steps, self.song.key, chord, LOWEST..=HIGHEST)?;
            Some((found.cost + low, goal, found))
        });
        lines.min_by_key(|(cost, ..)| *cost)
    }

    fn walk_to(&mut self, bar: u32, chord: &Chord, steps: usize, to: ChordId) -> Vec<MidiNote> {
        let from = self.strings.pitch(0).unwrap_or(home(chord));
        let Some(target) = self.chord(to) else { return Vec::new() };
        let goal = home(target);
        let round = || walk(from, goal, steps, self.song.key, chord, LOWEST..=HIGHEST);
        let found = if goal == home(chord) {
            Some((goal, round()))
        } else {
            // A pass begins at home, whoever comes in there; so does a round.
            let next = self.song.bars.get(bar as usize + 1);
            let in_pass =
                next.is_some_and(|next| !next.facts.first_bar && next.start != self.song.end);
            let found = self.line_to(from, chord, steps, target, in_pass);
            found.map(|(_, goal, line)| (goal, line.notes))
        };
        let Some((goal, notes)) = found else { return Vec::new() };
        self.arrival = Some(Arrival { to, note: goal, bar });
        notes
    }
}

/// A chord's bass note at home and, where it may be low and the instrument has it, an octave below, with
/// what that costs.
fn octaves(chord: &Chord, may_be_low: bool) -> impl Iterator<Item = (MidiNote, u32)> + use<> {
    let low = home(chord).get().checked_sub(12).filter(|&low| may_be_low && low >= LOWEST);
    let low = low.map(|low| (MidiNote::clamped(i32::from(low)), LOW_ROOT));
    std::iter::once((home(chord), 0)).chain(low)
}

/// Where the chord's bass note lives: its root, or what is written under the slash.
fn home(chord: &Chord) -> MidiNote {
    let above = (i32::from(chord.bass_class()) - i32::from(LOWEST_ROOT)).rem_euclid(12);
    MidiNote::clamped(i32::from(LOWEST_ROOT) + above)
}

/// A degree of the chord. The fifth lies below the root; a chord without the degree, and one with a
/// written bass, gives its bass note.
fn degree_note(chord: &Chord, key: Key, degree: Degree, octave: i8) -> MidiNote {
    let home = home(chord);
    // Over a slash bass the other degrees would hide what the chart asks for.
    let written = chord.bass.is_some_and(|bass| bass.pitch_class() != chord.root.pitch_class());
    let up = match degree {
        Degree::Octave => 12,
        _ if written => 0,
        _ => interval(chord, degree, key),
    };
    let below = i32::from(degree == Degree::Fifth && up != 0) * 12;
    let wanted = i32::from(home.get()) + up - below + i32::from(octave) * 12;
    fold(wanted)
}

/// Brings a note into the bass's range by octaves.
fn fold(note: i32) -> MidiNote {
    let (low, high) = (i32::from(LOWEST), i32::from(HIGHEST));
    let up = if note < low { (low - note + 11) / 12 * 12 } else { 0 };
    let down = if note > high { (note - high + 11) / 12 * 12 } else { 0 };
    MidiNote::clamped(note + up - down)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn degree(chord: &str, degree: Degree, octave: i8) -> u8 {
        let chord = Chord::parse(chord).unwrap();
        let key = Key::parse("G").unwrap();
        degree_note(&chord, key, degree, octave).get()
    }

    #[test]
    fn root_then_fifth_below() {
        // Root and fifth, the fifth below when the range allows: Wikipedia "Double bass"; Grampp.
        for (chord, root, fifth) in [("G", 43, 38), ("C", 36, 31), ("D", 38, 33), ("A", 33, 28)] {
            assert_eq!(degree(chord, Degree::Root, 0), root, "{chord}");
            assert_eq!(degree(chord, Degree::Fifth, 0), fifth, "{chord}");
        }
        assert_eq!(degree("Bdim", Degree::Fifth, 0), 29, "a diminished fifth is honoured");
        assert_eq!(degree("E", Degree::Fifth, 1), 47);
    }

    #[test]
    fn the_slash_bass_is_the_bass() {
        assert_eq!(degree("G/B", Degree::Root, 0), 35);
        assert_eq!(degree("G/B", Degree::Fifth, 0), 35);
        assert_eq!(degree("G/B", Degree::Octave, 0), 47, "its octave");
    }

    #[test]
    fn every_root_and_degree_is_on_the_neck() {
        for root in ["C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"] {
            for octave in -1..=1 {
                for what in [Degree::Root, Degree::Third, Degree::Fifth, Degree::Octave] {
                    let note = degree(root, what, octave);
                    assert!((LOWEST..=HIGHEST).contains(&note), "{root} {what:?} {octave}: {note}");
                }
            }
        }
    }
}
