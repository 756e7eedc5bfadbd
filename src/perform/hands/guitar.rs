use crate::arrange::{Arrangement, ChordId};
use crate::perform::around::rings_until;
use crate::perform::choice::Seat;
use crate::perform::cue::{Act, Cue};
use crate::perform::cues::cues;
use crate::perform::degree::interval;
use crate::perform::feel::Feel;
use crate::perform::slurs::SLURRED;
use crate::perform::strings::{CHOKE_MILLIS, Ring, STRINGS, Strings};
use crate::perform::strum::Strum;
use crate::perform::{APART, Note};
use crate::style::{BassNote, Degree, Loud, RoleStyle, Strike, Stroke};
use crate::theory::fretboard::{BassNotes, GUITAR, GuitarShape, bass_strings, guitar_shape};
use crate::theory::{Chord, GRun, MidiNote, walk};
use crate::time::Ticks;

/// How long a clipped stroke sounds where the style does not say, in milliseconds (common practice,
/// no source).
const CLIP_MILLIS: f64 = 110.0;

/// How often a stroke takes a string more than the style says (common practice, no source).
const THICKER: f64 = 0.12;

/// The open bass strings, E A D, low string first (EADGBE; mingus and music21 tunings).
const BASS_STRINGS: [u8; 3] = [40, 45, 50];

/// How far above its open note a bass string is played in a run: the fourth fret, where the next
/// string has nearly begun.
const REACH: u8 = 4;

/// The guitar's notes.
pub(super) fn play(seat: &Seat<'_>, feel: Feel) -> Vec<Note> {
    let Seat { song, part: style, .. } = *seat;
    let ticks = |millis| song.tempo.ticks_in_millis(millis);
    let grips = song.chords.iter().map(|chord| Grip::new(chord, song.capo)).collect();
    let mut guitar = Guitar {
        song,
        style,
        feel,
        grips,
        spread: ticks(style.spread),
        ring: Ring { share: style.length, at_most: style.clip.map(ticks) },
        run_ring: Ring { share: style.length.min(APART), at_most: style.clip.map(ticks) },
        clip: Ring { share: 1.0, at_most: Some(ticks(style.clip.unwrap_or(CLIP_MILLIS))) },
        choke: Ring { share: 1.0, at_most: Some(ticks(CHOKE_MILLIS)) },
        strings: Strings::new(rings_until(song)),
        line: Vec::new(),
        bass: None,
    };
    cues(seat, |cue| guitar.act(cue));
    guitar.strings.finish()
}

/// The strings of a stroke in the shuffles of a kickoff, and their pitches: the lower ones, out of the mandolin's
/// way.
pub(super) fn shuffle(chord: &Chord, capo: u8, style: &RoleStyle) -> Vec<(usize, MidiNote)> {
    let all = sounding(&guitar_shape(chord, capo));
    all.into_iter().take(usize::from(style.down_strings)).collect()
}

fn sounding(shape: &GuitarShape) -> Vec<(usize, MidiNote)> {
    let notes = shape.notes();
    notes.iter().enumerate().filter_map(|(string, note)| Some((string, (*note)?))).collect()
}

/// A chord under the left hand.
struct Grip {
    /// The sounding strings, low string first.
    notes: Vec<(usize, MidiNote)>,
    bass: BassNotes,
}

impl Grip {
    fn new(chord: &Chord, capo: u8) -> Self {
        let shape = guitar_shape(chord, capo);
        Self { notes: sounding(&shape), bass: bass_strings(&shape, chord, capo) }
    }
}

struct Guitar<'a> {
    song: &'a Arrangement,
    style: &'a RoleStyle,
    feel: Feel,
    grips: Vec<Grip>,
    spread: Ticks,
    ring: Ring,
    run_ring: Ring,
    clip: Ring,
    choke: Ring,
    strings: Strings,
    /// The run being played.
    line: Vec<MidiNote>,
    /// The string that the last bass note was played on.
    bass: Option<usize>,
}

impl Guitar<'_> {
    fn act(&mut self, cue: Cue) {
        self.strings.set_bar(cue.bar);
        let id = self.song.spans.get(cue.span).and_then(|span| span.chord);
        match (cue.act, id) {
            (Act::Damp, _) => {
                let at = self.feel.place(cue.at, cue.even);
                self.strings.damp_all(at);
            }
            (Act::Again, _) => self.strings.end_round(),
            (_, None) => {}
            (Act::Change, Some(id)) => self.change(cue, id),
            (Act::Strike(strike), Some(id)) => {
                let arrival = if cue.after_run { self.g_run_over(id) } else { None };
                let bass = match (arrival, strike.bass) {
                    // The run comes to rest, whatever the bar begins with.
                    (Some(run), _) => Some((string_of(run.goal, self.song.capo), run.goal)),
                    (None, Some(BassNote::Degree { degree, octave })) => {
                        self.degree(id, degree, octave)
                    }
                    (None, Some(BassNote::Walk | BassNote::GRun) | None) => None,
                };
                if let Some((string, note)) = bass {
                    self.bass_note(cue, string, note, strike.loud, 1.0, self.ring);
                }
                self.stroke(cue, id, strike, bass.map(|(string, _)| string));
            }
            (Act::Walk { strike, step, of, .. }, Some(id))
                if strike.bass == Some(BassNote::GRun) =>
            {
                self.g_run(cue, id, strike, (step, of));
            }
            (Act::Walk { strike, step, of, to }, Some(id)) => {
                if step == 0 {
                    self.line = self.run_to(id, of, to);
                }
                let Some(&note) = self.line.get(step) else { return };
                let string = bass_string(note, self.song.capo);
                self.bass_note(cue, string, note, strike.loud, 1.0, self.run_ring);
                self.stroke(cue, id, strike, Some(string));
            }
            (Act::Hit, Some(id)) => {
                // The choking hand takes a bass note along that the chord itself does not hold.
                self.change(cue, id);
                self.whole_chord(cue, id, self.choke);
            }
            (Act::FinalHit, Some(id)) => self.whole_chord(cue, id, Ring::FULL),
        }
    }

    /// The left hand moves: strings that the new chord holds as they are ring on.
    fn change(&mut self, cue: Cue, id: ChordId) {
        let at = self.feel.place(cue.at, cue.even);
        let held: &[(usize, MidiNote)] =
            self.grips.get(id.0 as usize).map_or(&[], |grip| &grip.notes);
        for string in 0..STRINGS {
            if let Some(pitch) = self.strings.pitch(string)
                && !held.contains(&(string, pitch))
            {
                self.strings.damp(string, at);
            }
        }
    }

    /// A step of the G run.
    fn g_run(&mut self, cue: Cue, id: ChordId, strike: Strike, (step, of): (usize, usize)) {
        let run = self.g_run_over(id).and_then(|run| run.step(step, of));
        let Some((note, slurred)) = run else { return };
        if step == 0 {
            // The hand leaves the chord.
            let at = self.feel.place(cue.at, cue.even);
            self.strings.damp_all(at);
        }
        let string = string_of(note, self.song.capo);
        let share = if slurred { SLURRED } else { 1.0 };
        // The left hand alone makes it of the string that sounds; on another the pick must, as softly.
        if slurred && self.bass == Some(string) && self.strings.pitch(string).is_some() {
            let at = self.feel.place(cue.at, cue.even);
            let velocity = self.feel.velocity(cue.at, strike.loud, share);
            self.strings.slur(string, at, note, velocity, self.run_ring);
        } else {
            self.bass_note(cue, string, note, strike.loud, share, self.run_ring);
        }
        self.stroke(cue, id, strike, Some(string));
    }

    fn g_run_over(&self, id: ChordId) -> Option<GRun> {
        let root = self.grips.get(id.0 as usize)?.bass.root.1;
        Some(GRun::over(self.song.chord(id)?, root))
    }

    fn bass_note(
        &mut self,
        cue: Cue,
        string: usize,
        note: MidiNote,
        loud: Loud,
        share: f64,
        ring: Ring,
    ) {
        let at = self.feel.place(cue.at, cue.even);
        let velocity = self.feel.velocity(cue.at, loud, share);
        // The hand lets go of the bass note before, wherever it rang.
        if let Some(before) = self.bass.filter(|&before| before != string) {
            self.strings.damp(before, at);
        }
        self.strings.strike(string, at, note, velocity, ring);
        self.bass = Some(string);
    }

    /// The stroke over the upper strings; `bass` is the string struck with it, which it leaves alone.
    fn stroke(&mut self, cue: Cue, id: ChordId, strike: Strike, bass: Option<usize>) {
        let Some(stroke) = strike.stroke else { return };
        let Some(grip) = self.grips.get(id.0 as usize) else { return };
        let (count, share, ring) = match stroke {
            Stroke::Down => (self.style.down_strings, 1.0, self.ring),
            Stroke::Up => (self.style.up_strings, self.feel.up(), self.ring),
            Stroke::Chop => (self.style.down_strings, 1.0, self.clip),
            // A bow's: no bar of the guitar has one.
            Stroke::Tone | Stroke::DoubleStop => return,
        };
        // Now and then the pick goes one string further.
        let thicker = self.feel.varies() && self.feel.draw(cue.at, 4) < THICKER;
        let count = usize::from(count) + usize::from(thicker);
        let upper = grip.notes.iter().rev().take(count).copied();
        let mut notes: Vec<_> = upper.filter(|&(string, _)| Some(string) != bass).collect();
        // Down, the pick goes on from the bass string, where that lies among the strings of the stroke.
        if stroke != Stroke::Up
            && let Some(bass) = bass
        {
            notes.retain(|&(string, _)| string > bass);
        }
        if stroke != Stroke::Up {
            notes.reverse();
        }
        // Down, the pick comes to them from the bass string.
        let crossed = usize::from(bass.is_some() && stroke != Stroke::Up);
        let spread = self.spread;
        let (loud, notes) = (strike.loud, &notes[..]);
        let strum = Strum { notes, crossed, spread, loud, share, ring, whole: false };
        strum.play(cue, &mut self.feel, &mut self.strings);
    }

    fn whole_chord(&mut self, cue: Cue, id: ChordId, ring: Ring) {
        let Some(grip) = self.grips.get(id.0 as usize) else { return };
        let (notes, loud) = (&grip.notes, Loud::Accent);
        let spread = self.spread;
        let strum = Strum { notes, crossed: 0, spread, loud, share: 1.0, ring, whole: true };
        strum.play(cue, &mut self.feel, &mut self.strings);
        self.bass = None;
    }

    /// The string and pitch of a chord degree on the bass strings.
    fn degree(&self, id: ChordId, degree: Degree, octave: i8) -> Option<(usize, MidiNote)> {
        let grip = self.grips.get(id.0 as usize)?;
        let chord = self.song.chord(id)?;
        match (degree, octave) {
            (Degree::Root, 0) => return Some(grip.bass.root),
            (Degree::Fifth, 0) => return Some(grip.bass.fifth.unwrap_or(grip.bass.root)),
            _ => {}
        }
        let above_root = interval(chord, degree, self.song.key);
        let up = match degree {
            Degree::Root | Degree::Octave => above_root,
            _ => over_bass(chord, above_root),
        };
        let capo = i32::from(self.song.capo);
        let (low, high) = (
            i32::from(BASS_STRINGS[0]) + capo,
            i32::from(BASS_STRINGS[2]) + capo + i32::from(REACH),
        );
        let root = i32::from(grip.bass.root.1.get());
        let mut note = root + up + 12 * i32::from(octave);
        while note > high {
            note -= 12;
        }
        while note < low {
            note += 12;
        }
        let note = MidiNote::clamped(note);
        Some((bass_string(note, self.song.capo), note))
    }

    fn run_to(&self, id: ChordId, steps: usize, to: ChordId) -> Vec<MidiNote> {
        let goal = self.grips.get(to.0 as usize).map(|grip| grip.bass.root.1);
        let (Some(goal), Some(chord)) = (goal, self.song.chord(id)) else { return Vec::new() };
        let from = self
            .bass
            .and_then(|string| self.strings.pitch(string))
            .or_else(|| self.grips.get(id.0 as usize).map(|grip| grip.bass.root.1))
            .unwrap_or(goal);
        let low = BASS_STRINGS[0].saturating_add(self.song.capo);
        let high = BASS_STRINGS[2].saturating_add(self.song.capo).saturating_add(REACH);
        walk(from, goal, steps, self.song.key, chord, low..=high)
    }
}

/// Semitones, 0 to 11, from the chord's bass note up to what lies `interval` above its root: over
/// the B of G/B, the fifth of G is a third away.
fn over_bass(chord: &Chord, interval: i32) -> i32 {
    let root = i32::from(chord.root.pitch_class());
    (root + interval - i32::from(chord.bass_class())).rem_euclid(12)
}

/// The bass string, 0 to 2 from the low E, that a run plays a note on: the highest that has it.
fn bass_string(note: MidiNote, capo: u8) -> usize {
    let open = |string: &u8| string.saturating_add(capo);
    BASS_STRINGS.iter().rposition(|string| open(string) <= note.get()).unwrap_or(0)
}

/// The string, 0 to 5 from the low E, that a note is played on beside the nut or the capo: the highest
/// that has it.
fn string_of(note: MidiNote, capo: u8) -> usize {
    let open = |string: &u8| string.saturating_add(capo);
    GUITAR.open.iter().rposition(|string| open(string) <= note.get()).unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn degrees_are_the_chords_and_not_the_slash_basss() {
        let over = |chord, interval| over_bass(&Chord::parse(chord).unwrap(), interval);
        assert_eq!(over("G", 4), 4);
        assert_eq!(over("G/B", 4), 0, "the B itself");
        assert_eq!(over("G/B", 7), 3, "D over B");
        assert_eq!(over("D/C#", 4), 5, "F sharp over C sharp");
    }
}
