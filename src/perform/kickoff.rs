//! What is played before the form. It has strings and a feel of its own, so that the song itself is
//! played to the tick as it would be without.

use std::ops::Range;

use super::Note;
use super::choice::Seat;
use super::cue::{Act, Cue};
use super::feel::Feel;
use super::hands::{Hands, Shuffle, written_line};
use super::strings::{Ring, Strings};
use super::strum::Strum;
use crate::arrange::{Arrangement, Bar, KickoffPlan, MelodyNote};
use crate::band::Home;
use crate::chart::{Kickoff, Lead, Role};
use crate::style::{Loud, RoleStyle};
use crate::theory::{Chord, MidiNote, Scale};
use crate::time::{Meter, Ticks};

/// How long a clipped stroke of a shuffle sounds, in milliseconds, where the style does not say
/// (common practice, no source).
const CLIP_MILLIS: f64 = 100.0;

/// The share of the written length that a bowed or picked note of a shuffle sounds: short enough to be
/// told from the next (common practice, no source).
const DETACHED: f64 = 0.85;

/// The share of a shuffle's long note that its short ones have.
const SHORT: f64 = 0.85;

/// The notes of the song's kickoff for a role; none where it has nothing in it. `feel` begins with the
/// kickoff.
pub(super) fn play(seat: &Seat<'_>, feel: Feel) -> Vec<Note> {
    let Seat { song, role, part: style, .. } = *seat;
    let Some(plan) = song.kickoff.filter(|plan| plan.players.contains(role)) else {
        return Vec::new();
    };
    if song.bars.first().is_some_and(|bar| bar.resting.contains(role)) {
        return Vec::new();
    }
    let until = song.form_start();
    if plan.kickoff == Kickoff::Line && role.row().is_leader {
        return led(seat, plan, feel, until);
    }
    let mut player = Player { song, plan, role, style, feel, strings: Strings::new(until) };
    match plan.kickoff {
        Kickoff::None => {}
        Kickoff::Pickup if plan.written.is_some() => player.written(),
        Kickoff::Pickup => player.pickup(),
        Kickoff::Shuffles => player.shuffles(),
        Kickoff::Line => player.line(),
    }
    player.strings.finish()
}

/// The bars of the form whose tune is played before it: the last line of its first pass.
fn last_line(song: &Arrangement) -> Range<usize> {
    let first = song.kickoff_bars();
    let own = |bar: &&Bar| song.bars.get(first).is_some_and(|head| head.pass == bar.pass);
    let end = first + song.bars.iter().skip(first).take_while(own).count();
    // As many as stand before the form.
    end.saturating_sub(first).max(first)..end
}

/// The same as whoever leads plays it, moved to its place before the form.
fn led(seat: &Seat<'_>, plan: KickoffPlan, feel: Feel, until: Ticks) -> Vec<Note> {
    let Seat { song, role, part: style, .. } = *seat;
    let bars = last_line(song);
    let Some(earlier) = song.bars.get(bars.start).map(|bar| bar.start - song.start) else {
        return Vec::new();
    };
    let mut notes = written_line(seat, bars.clone(), feel.clone());
    let pickup = pickup_of(song, until);
    let cut = pickup.first().map_or(until, |note| note.start);
    for note in &mut notes {
        note.start = (note.start - earlier).max(song.start);
        note.end = (note.end - earlier).min(cut);
        note.bar = note.bar.saturating_sub(u32::try_from(bars.start).unwrap_or(0));
    }
    notes.retain(|note| note.start < note.end);
    let near = notes.last().map(|note| i32::from(note.pitch.get()));
    let mut into = Strings::new(until);
    into.set_bar(u32::try_from(bars.len().saturating_sub(1)).unwrap_or(0));
    let mut player = Player { song, plan, role, style, feel, strings: into };
    for note in pickup {
        let written = i32::from(note.pitch.get());
        // In the octave of what was played last.
        let by = near.map_or(0, |near| (near - written + 6).div_euclid(12) * 12);
        player.sing(note.start, note.end, MidiNote::clamped(written + by));
    }
    notes.extend(player.strings.finish());
    notes
}

/// The notes of the tune's own pickup before the form, if whoever kicks off plays them.
fn pickup_of(song: &Arrangement, until: Ticks) -> Vec<MelodyNote> {
    song.melody.iter().take_while(|note| note.start < until).copied().collect()
}

struct Player<'a> {
    song: &'a Arrangement,
    plan: KickoffPlan,
    role: Role,
    style: &'a RoleStyle,
    feel: Feel,
    strings: Strings,
}

impl Player<'_> {
    /// Up to three steps of the scale that lead from below into the root of the first chord: 5 6 7 into
    /// the 1 (common practice, no source).
    fn pickup(&mut self) {
        let chord = self.first_chord();
        let lowest = lowest_home(self.role, self.plan.lead, self.song.capo) - A_FOURTH;
        let scale = Scale::of(self.song.key, &chord);
        let steps = into(chord.bass_class(), lowest, &scale);
        let (places, length) = pickup_places(self.song.meter);
        let start = self.song.start;
        let unused = places.len().saturating_sub(steps.len());
        let spare = steps.len().saturating_sub(places.len());
        let ring = Ring { share: self.style.length, at_most: None };
        for (&place, pitch) in places.iter().skip(unused).zip(steps.into_iter().skip(spare)) {
            let at = start + place;
            self.note(at, length, &[pitch], 1.0, ring);
        }
    }

    /// The tune's own pickup, an octave or two from where it is written if the instrument asks for it.
    fn written(&mut self) {
        let lowest = i32::from(lowest_home(self.role, self.plan.lead, self.song.capo) - A_FOURTH);
        let until = self.song.form_start();
        let notes = pickup_of(self.song, until);
        let mut by = 0;
        if let Some(note) = notes.iter().map(|note| i32::from(note.pitch.get())).min() {
            while note + by < lowest {
                by += 12;
            }
            while note + by >= lowest + TWO_OCTAVES {
                by -= 12;
            }
        }
        for note in notes {
            let pitch = MidiNote::clamped(i32::from(note.pitch.get()) + by);
            self.sing(note.start, note.end, pitch);
        }
    }

    /// A note of the tune.
    fn sing(&mut self, start: Ticks, end: Ticks, pitch: MidiNote) {
        let ring = Ring { share: self.style.length, at_most: None };
        self.note(start, end - start, &[pitch], 1.0, ring);
    }

    /// The tune's last line, note by note.
    fn line(&mut self) {
        let bars = last_line(self.song);
        let of_line = self.song.bars.get(bars).unwrap_or_default();
        let Some(earlier) = of_line.first().map(|bar| bar.start - self.song.start) else { return };
        let lowest = i32::from(lowest_home(self.role, self.plan.lead, self.song.capo)) - 5;
        let pickup = pickup_of(self.song, self.song.form_start());
        let cut = pickup.first().map_or(self.song.form_start(), |note| note.start) + earlier;
        let mut notes: Vec<MelodyNote> = of_line
            .iter()
            .filter_map(|bar| self.song.melody.get(bar.melody.clone()?))
            .flatten()
            .filter(|note| note.start < cut)
            .map(|note| MelodyNote { end: note.end.min(cut), ..*note })
            .collect();
        // As if it stood after its line.
        notes.extend(pickup.iter().map(|note| MelodyNote {
            start: note.start + earlier,
            end: note.end + earlier,
            ..*note
        }));
        // All by so many octaves that the lowest lies well.
        let least = notes.iter().map(|note| i32::from(note.pitch.get())).min().unwrap_or(lowest);
        let by = (lowest - least).div_euclid(12) * 12;
        let by = if least + by < lowest { by + 12 } else { by };
        let mut bar = 0;
        for note in notes.iter().filter(|note| !note.tied) {
            let held = notes.iter().filter(|other| other.tied && other.start == note.end);
            let end = held.map(|other| other.end).max().unwrap_or(note.end);
            while of_line.get(bar).is_some_and(|own| own.end() <= note.start) {
                bar += 1;
            }
            self.strings.set_bar(u32::try_from(bar).unwrap_or(0));
            let pitch = MidiNote::clamped(i32::from(note.pitch.get()) + by);
            self.sing(note.start - earlier, end - earlier, pitch);
        }
    }

    /// Four shuffles, two to the bar: long, short, short; in 6/8 long, short.
    fn shuffles(&mut self) {
        let half = Ticks::new(self.song.meter.bar().get() / 2);
        let unit = if self.in_six() { half.get() / 3 } else { half.get() / 4 };
        let shorts: &[i64] = if self.in_six() { &[2] } else { &[2, 3] };
        for shuffle in 0..4 {
            let at = self.song.start + half * shuffle;
            self.strings.set_bar(u32::try_from(shuffle / 2).unwrap_or(0));
            self.shuffle_note(at, Ticks::new(unit * 2), true);
            for &place in shorts {
                self.shuffle_note(at + Ticks::new(unit * place), Ticks::new(unit), false);
            }
        }
    }

    fn shuffle_note(&mut self, at: Ticks, length: Ticks, long: bool) {
        let home = self.song.key.tonic_chord();
        let share = if long { 1.0 } else { SHORT };
        let ring = Ring { share: DETACHED, at_most: None };
        match Hands::of(self.role).shuffle {
            Shuffle::Drone { lowest } => {
                let tonic = at_or_above(lowest, home.root.pitch_class());
                let fifth = MidiNote::clamped(i32::from(tonic.get()) + 7);
                self.note(at, length, &[tonic, fifth], share, ring);
            }
            Shuffle::Leads { drone } if self.plan.lead == Some(Lead::Fiddle) => {
                let tonic = at_or_above(drone, home.root.pitch_class());
                let fifth = MidiNote::clamped(i32::from(tonic.get()) + 7);
                self.note(at, length, &[tonic, fifth], share, ring);
            }
            Shuffle::Strum(strings) => {
                self.strum(&strings(&home, self.song.capo, self.style), at, long);
            }
            Shuffle::Home | Shuffle::Leads { .. } => {
                let tonic = at_or_above(
                    lowest_home(self.role, self.plan.lead, self.song.capo),
                    home.root.pitch_class(),
                );
                self.note(at, length, &[tonic], share, ring);
            }
        }
    }

    /// Strikes a note on each string from the lowest, and stops them at the end of their length.
    fn note(&mut self, at: Ticks, length: Ticks, pitches: &[MidiNote], share: f64, ring: Ring) {
        let even = self.in_six();
        let start = self.feel.place(at, even);
        for (string, &pitch) in pitches.iter().enumerate() {
            let velocity = self.feel.velocity(at, Loud::Normal, share);
            self.strings.strike(string, start, pitch, velocity, ring);
        }
        let stop = self.feel.place(at + length, even);
        self.strings.damp_all(stop);
    }

    /// A short stroke over the home chord, soft so that it does not take the lead.
    fn strum(&mut self, notes: &[(usize, MidiNote)], at: Ticks, long: bool) {
        let tempo = self.song.tempo;
        let clip = tempo.ticks_in_millis(self.style.clip.unwrap_or(CLIP_MILLIS));
        let ring = Ring { share: 1.0, at_most: Some(clip) };
        let loud = if long { Loud::Normal } else { Loud::Ghost };
        let spread = tempo.ticks_in_millis(self.style.spread);
        let strum = Strum { notes, crossed: 0, spread, loud, share: 1.0, ring, whole: true };
        let cue = Cue { even: self.in_six(), ..Cue::new(at, 0, 0, Act::Hit) };
        strum.play(cue, &mut self.feel, &mut self.strings);
    }

    fn in_six(&self) -> bool {
        self.song.meter == Meter::SixEight
    }

    /// The chord that the form begins with, or the key's own.
    fn first_chord(&self) -> Chord {
        let first = self.song.bars.get(self.song.kickoff_bars());
        let span = first.and_then(|bar| self.song.spans.get(bar.spans.start));
        let chord = span.and_then(|span| self.song.chord(span.chord?)).copied();
        chord.unwrap_or(self.song.key.tonic_chord())
    }
}

/// How far below the home note a line reaches: from the 1 down to the 5.
const A_FOURTH: u8 = 5;

/// Past two octaves above its lowest home note a tune lies high on any of the instruments.
const TWO_OCTAVES: i32 = 24;

/// The lowest home note of a role's lines. Who plays on the lead's instrument has that one's.
fn lowest_home(role: Role, lead: Option<Lead>, capo: u8) -> u8 {
    let own = role.row();
    let lent = lead.filter(|_| own.is_leader).and_then(Lead::drops);
    let Home { lowest, on_capo } = lent.map_or(own.home, |role| role.row().home);
    if on_capo { lowest.saturating_add(capo) } else { lowest }
}

/// The note of a pitch class in the octave from `lowest` up.
fn at_or_above(lowest: u8, class: u8) -> MidiNote {
    let up = (i32::from(class) - i32::from(lowest)).rem_euclid(12);
    MidiNote::clamped(i32::from(lowest) + up)
}

/// Two or three steps of the scale from below into a pitch class, as low as they can lie with none lower
/// than `lowest`.
fn into(class: u8, lowest: u8, scale: &Scale) -> Vec<MidiNote> {
    let target = at_or_above(lowest, class);
    let steps = below(target, lowest, scale);
    if steps.len() >= 2 { steps } else { below(at_or_above(lowest + 12, class), lowest, scale) }
}

/// Up to three steps of the scale from below into `target`, none lower than `lowest`.
fn below(target: MidiNote, lowest: u8, scale: &Scale) -> Vec<MidiNote> {
    let next = |note: i32| {
        // Where the scale leaps further, as in a harmonic minor, the semitone.
        let step = (1..=2).find(|&far| scale.has(note - far)).unwrap_or(1);
        Some(note - step)
    };
    let steps = std::iter::successors(next(i32::from(target.get())), |&note| next(note));
    let steps = steps.take(3).take_while(|&note| note >= i32::from(lowest));
    let mut steps: Vec<MidiNote> = steps.map(MidiNote::clamped).collect();
    steps.reverse();
    steps
}

/// Where the steps of a pickup stand in its bar, and how long each is.
const fn pickup_places(meter: Meter) -> (&'static [Ticks], Ticks) {
    const QUARTERS: [Ticks; 3] = [Ticks::new(960), Ticks::new(1920), Ticks::new(2880)];
    const EIGHTHS: [Ticks; 3] = [Ticks::new(480), Ticks::new(960), Ticks::new(1440)];
    const OF_SIX: [Ticks; 3] = [Ticks::new(1440), Ticks::new(1920), Ticks::new(2400)];
    const OF_THREE: [Ticks; 2] = [Ticks::new(960), Ticks::new(1920)];
    match meter {
        Meter::FourFour | Meter::TwoTwo => (&QUARTERS, Ticks::QUARTER),
        Meter::TwoFour => (&EIGHTHS, Ticks::EIGHTH),
        Meter::ThreeFour => (&OF_THREE, Ticks::QUARTER),
        Meter::SixEight => (&OF_SIX, Ticks::EIGHTH),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::theory::Key;

    fn line(role: Role, key: &str, chord: &str) -> Vec<u8> {
        let (key, chord) = (Key::parse(key).unwrap(), Chord::parse(chord).unwrap());
        let lowest = lowest_home(role, None, 0) - A_FOURTH;
        into(chord.bass_class(), lowest, &Scale::of(key, &chord))
            .iter()
            .map(|note| note.get())
            .collect()
    }

    // Common practice, no source: the runs that every guitar player starts a song with.
    #[test]
    fn a_pickup_leads_into_the_first_root() {
        assert_eq!(line(Role::Guitar, "G", "G"), [40, 42], "E F#, G on the low E string");
        assert_eq!(line(Role::Guitar, "C", "C"), [43, 45, 47], "G A B, C");
        assert_eq!(line(Role::Guitar, "D", "D"), [45, 47, 49], "A B C#, D");
        assert_eq!(line(Role::Guitar, "A mixolydian", "A"), [40, 42, 43], "E F# G, A");
        assert_eq!(
            line(Role::Guitar, "G", "C"),
            [43, 45, 47],
            "G A B, C: the song begins on its 4"
        );
        assert_eq!(line(Role::Bass, "A", "A"), [28, 30, 32], "E F# G#, A");
        assert_eq!(line(Role::Fiddle, "G", "G"), [62, 64, 66], "D E F#, G");
    }

    #[test]
    fn a_pickup_arrives_by_step_in_every_key() {
        for key in [
            "C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B", "Em", "Gm", "A dorian",
        ] {
            let tonic = Key::parse(key).unwrap().tonic_chord();
            for role in Role::ALL {
                let line = line(role, key, &tonic.to_string());
                assert!(line.len() >= 2, "{role} {key}: {line:?}");
                let last = *line.last().unwrap();
                let up = (i32::from(tonic.bass_class()) - i32::from(last)).rem_euclid(12);
                assert!((1..=2).contains(&up), "{role} {key}: {line:?}");
                assert!(line.windows(2).all(|pair| (1..=2).contains(&(pair[1] - pair[0]))));
            }
        }
    }
}
