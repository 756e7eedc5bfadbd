use crate::arrange::Arrangement;
use crate::hash::split_mix;
use crate::perform::Note;
use crate::perform::around::rings_until;
use crate::perform::choice::Seat;
use crate::perform::cue::{Act, Cue};
use crate::perform::cues::cues;
use crate::perform::feel::Feel;
use crate::perform::slurs::SLURRED;
use crate::perform::strings::{CHOKE_MILLIS, Ring, STRINGS, Strings};
use crate::style::{Loud, Strike, Stroke};
use crate::theory::fretboard::{DoubleStop, FIDDLE, double_stops, least_movement};
use crate::theory::{Chord, MidiNote, Scale};
use crate::time::Ticks;

/// How long a chop of the bow sounds where the style does not say, in milliseconds: the bow bites and
/// stops (common practice, no source).
const CLIP_MILLIS: f64 = 80.0;

/// A chop of the bow's share of a tone's loudness: it is felt under the mandolin's (common practice, no
/// source).
const CHOP_SHARE: f64 = 0.8;

/// The lowest home note of a drone: the open D string.
pub(super) const DRONE: u8 = 62;

/// As far up a string as a single tone is stopped: the fourth finger in first position.
const FOURTH_FINGER: u8 = 7;

/// The fiddle's notes.
pub(super) fn play(seat: &Seat<'_>, feel: Feel) -> Vec<Note> {
    let Seat { song, part: style, seed, .. } = *seat;
    let ticks = |millis| song.tempo.ticks_in_millis(millis);
    let mut fiddle = Fiddle {
        song,
        feel,
        seed,
        stops: stops(song),
        ring: Ring { share: style.length, at_most: None },
        clip: Ring { share: 1.0, at_most: Some(ticks(style.clip.unwrap_or(CLIP_MILLIS))) },
        choke: Ring { share: 1.0, at_most: Some(ticks(CHOKE_MILLIS)) },
        strings: Strings::new(rings_until(song)),
        tone: None,
        caught: None,
        changes: false,
        hangs: None,
    };
    let mut all = Vec::new();
    cues(seat, |cue| all.push(cue));
    for (at, &cue) in all.iter().enumerate() {
        fiddle.resolve(cue.at);
        let next = all.get(at + 1).filter(|next| next.at == cue.at);
        let after = all.iter().skip(at + 1).find(|next| next.at > cue.at);
        fiddle.act(cue, next.map(|next| next.act), after.map_or(song.end, |next| next.at));
    }
    fiddle.resolve(song.end);
    fiddle.strings.finish()
}

/// For each span of the song, the double stop that the hand takes.
fn stops(song: &Arrangement) -> Vec<Option<DoubleStop>> {
    let candidates: Vec<Vec<DoubleStop>> = song.chords.iter().map(double_stops).collect();
    let sequence: Vec<usize> =
        song.spans.iter().filter_map(|span| Some(span.chord?.0 as usize)).collect();
    let mut chosen = least_movement(&candidates, &sequence).into_iter();
    song.spans
        .iter()
        .map(|span| {
            let id = span.chord?.0 as usize;
            candidates.get(id)?.get(chosen.next()?).copied()
        })
        .collect()
}

struct Fiddle<'a> {
    song: &'a Arrangement,
    feel: Feel,
    seed: u64,
    stops: Vec<Option<DoubleStop>>,
    ring: Ring,
    clip: Ring,
    choke: Ring,
    strings: Strings,
    /// The last single tone: in which span and bar, how often the bow has turned there, and what it was.
    tone: Option<(usize, u32, usize, MidiNote)>,
    /// Where the bow last went to a new chord before any stroke is written: what is written an eighth later is that
    /// chord's, which sounds already.
    caught: Option<Ticks>,
    /// True if the chord changes with the stroke that comes.
    changes: bool,
    /// The note that hangs over from the chord before: where it gives way, on which string, in which bar and to what.
    hangs: Option<(Cue, usize, MidiNote)>,
}

/// First finger to fourth, in half steps.
const FRAME: u8 = 5;

/// Of a hundred changes of chord behind a singer that could have a suspension, so many do (common practice, no
/// source).
const SUSPENDED: u64 = 80;

impl Fiddle<'_> {
    /// Does what `cue` says; `next` is what comes at the same place, `until` where the next thing comes.
    fn act(&mut self, cue: Cue, next: Option<Act>, until: Ticks) {
        self.strings.set_bar(cue.bar);
        let changes = std::mem::take(&mut self.changes);
        let bows = |act: Act| matches!(act, Act::Strike(_) | Act::Walk { .. });
        let moves = (changes && bows(cue.act)) || (cue.act == Act::Change && next.is_none());
        if moves && self.suspend(cue, until) {
            return;
        }
        match cue.act {
            Act::Damp => {
                let at = self.feel.place(cue.at, cue.even);
                self.strings.damp_all(at);
                self.tone = None;
            }
            Act::Again => self.strings.end_round(),
            // The stroke that comes with it moves the fingers.
            Act::Change if next.is_some() => self.changes = true,
            Act::Change => self.change(cue),
            Act::Strike(Strike { stroke: Some(Stroke::Tone | Stroke::DoubleStop), .. })
                if self.caught.take() == Some(cue.at - Ticks::EIGHTH) => {}
            Act::Strike(strike) | Act::Walk { strike, .. } => match strike.stroke {
                Some(Stroke::Tone) => self.tone(cue, strike.loud),
                Some(Stroke::DoubleStop) => self.both(cue, strike.loud, 1.0, self.ring),
                Some(Stroke::Chop) => self.both(cue, strike.loud, CHOP_SHARE, self.clip),
                // A pick's: no bar of the fiddle has one.
                Some(Stroke::Down | Stroke::Up) | None => {}
            },
            Act::Hit => self.both(cue, Loud::Accent, 1.0, self.choke),
            Act::FinalHit => self.both(cue, Loud::Accent, 1.0, Ring::FULL),
        }
    }

    fn chord(&self, span: usize) -> Option<&Chord> {
        self.song.chord(self.song.spans.get(span)?.chord?)
    }

    /// Lets a note of the chord before hang over the new one for a beat, to go on by step, behind a singer: a fourth
    /// to the third, a ninth to the root, a sixth to the fifth, a leading note up to the root (common practice, no
    /// source). True if one does.
    fn suspend(&mut self, cue: Cue, until: Ticks) -> bool {
        let (Some(bar), Some(chord)) = (self.song.bars.get(cue.bar as usize), self.chord(cue.span))
        else {
            return false;
        };
        let beat = bar.beat();
        let gives_way = cue.at + beat;
        let on_beat = (cue.at - bar.start).is_multiple_of(beat);
        let throw = split_mix(self.seed ^ 0x5355_5350, u64::from(cue.bar) + 1) % 100;
        let room = on_beat && until >= gives_way + beat && gives_way < bar.end();
        if !bar.facts.singer_sings || !room || throw >= SUSPENDED {
            return false;
        }
        // Down by step, or the leading note up.
        let gives = |pitch: MidiNote| {
            let near = [-1, -2, 1].map(|far| i32::from(pitch.get()) + far);
            let note = near
                .into_iter()
                .find(|note| chord.tones().any(|t| i32::from(t) == note.rem_euclid(12)))?;
            Some(MidiNote::clamped(note))
        };
        let hanging = (0..STRINGS).rev().find_map(|string| {
            let pitch = self.strings.pitch(string)?;
            let to = gives(pitch).filter(|_| !chord.contains(pitch.pitch_class()))?;
            let open = i32::from(*FIDDLE.get(string)?);
            (i32::from(to.get()) >= open).then_some((string, pitch, to))
        });
        let Some((string, from, to)) = hanging else { return false };
        // The other string, where the hand that it gives way to has one.
        let stop = self.stops.get(cue.span).copied().flatten();
        let fits = |other: usize, pitch: MidiNote| {
            let far = pitch.get().abs_diff(from.get());
            let stop = |string: usize, note: MidiNote| {
                FIDDLE.get(string).map_or(0, |open| note.get().saturating_sub(*open))
            };
            let (own, beside) = (stop(string, from), stop(other, pitch));
            let held = own == 0 || beside == 0 || own.abs_diff(beside) <= FRAME;
            held && !matches!(far, 0..=2 | 11)
        };
        let beside = stop.and_then(|stop| {
            let [low, high] = stop.notes();
            let found = match string.checked_sub(stop.string)? {
                0 if low == to => (string + 1, high),
                1 if high == to => (stop.string, low),
                _ => return None,
            };
            fits(found.0, found.1).then_some(found)
        });
        let at = self.feel.place(cue.at, cue.even);
        for other in (0..STRINGS).filter(|other| *other != string) {
            self.strings.damp(other, at);
        }
        if let Some((other, pitch)) = beside {
            let velocity = self.feel.velocity(cue.at, Loud::Normal, 1.0);
            self.strings.strike(other, at, pitch, velocity, self.ring);
        }
        self.tone = None;
        self.hangs = Some((Cue { at: gives_way, ..cue }, string, to));
        true
    }

    /// What hangs over gives way, if it is time.
    fn resolve(&mut self, now: Ticks) {
        let Some((cue, string, to)) = self.hangs.filter(|(cue, ..)| cue.at <= now) else { return };
        self.hangs = None;
        self.strings.set_bar(cue.bar);
        let at = self.feel.place(cue.at, cue.even);
        let velocity = self.feel.velocity(cue.at, Loud::Normal, SLURRED);
        self.strings.slur(string, at, to, velocity, self.ring);
    }

    /// The chord changes under the bow: the fingers move, if what sounds does not belong to it.
    fn change(&mut self, cue: Cue) {
        let sounding = || (0..STRINGS).filter_map(|string| self.strings.pitch(string));
        let Some(chord) = self.chord(cue.span) else { return };
        let count = sounding().count();
        if sounding().all(|pitch| chord.tones().any(|tone| tone == pitch.pitch_class())) {
            return;
        }
        self.caught = Some(cue.at);
        if count > 1 {
            self.both(cue, Loud::Normal, 1.0, self.ring);
        } else {
            self.tone(cue, Loud::Normal);
        }
    }

    /// Both notes of the double stop.
    fn both(&mut self, cue: Cue, loud: Loud, share: f64, ring: Ring) {
        let Some(&Some(stop)) = self.stops.get(cue.span) else { return };
        self.tone = None;
        let notes = [(stop.string, stop.notes()[0]), (stop.string + 1, stop.notes()[1])];
        self.bow(cue, &notes, loud, share, ring);
    }

    /// A single tone: the guide tone of the double stop at first, then, in the same bar over the same
    /// chord, the chord's tones next to it by turns.
    fn tone(&mut self, cue: Cue, loud: Loud) {
        let (Some(&Some(stop)), Some(chord)) = (self.stops.get(cue.span), self.chord(cue.span))
        else {
            return;
        };
        let guide = stop.guide(chord);
        let home = (stop.string + guide, stop.notes()[guide]);
        let (count, (string, pitch)) = match self.tone {
            Some((span, bar, count, last)) if (span, bar) == (cue.span, cue.bar) => {
                let up = goes_up(self.seed, cue.bar);
                let bar = self.song.bars.get(cue.bar as usize);
                let answers = bar.filter(|bar| bar.facts.singer_pauses);
                let next = match answers {
                    // Up and down by step, so that it says something.
                    Some(bar) => {
                        let up = (count / 2 % 2 == 0) == up;
                        let on_beat = (cue.at - bar.start).is_multiple_of(bar.beat() * 2);
                        let scale = Scale::of(self.song.key, chord);
                        let passing = if on_beat { None } else { next_step(scale, last, up) };
                        passing.or_else(|| next_tone(chord, last, up))
                    }
                    None => next_tone(chord, last, (count % 2 == 0) == up),
                };
                (count + 1, next.unwrap_or(home))
            }
            _ => (0, home),
        };
        self.tone = Some((cue.span, cue.bar, count, pitch));
        self.bow(cue, &[(string, pitch)], loud, 1.0, self.ring);
    }

    /// One stroke of the bow; it leaves every other string.
    fn bow(&mut self, cue: Cue, notes: &[(usize, MidiNote)], loud: Loud, share: f64, ring: Ring) {
        let at: Ticks = self.feel.place(cue.at, cue.even);
        let velocity = self.feel.velocity(cue.at, loud, share);
        self.strings.damp_all(at);
        for &(string, pitch) in notes {
            self.strings.strike(string, at, pitch, velocity, ring);
        }
    }
}

/// Whether the tones of a bar set off upward.
const fn goes_up(seed: u64, bar: u32) -> bool {
    split_mix(seed, bar as u64 + 1) >> 63 == 1
}

/// The scale's next note above or below, with the string that has it in first position.
fn next_step(scale: Scale, from: MidiNote, up: bool) -> Option<(usize, MidiNote)> {
    let way = if up { 1 } else { -1 };
    let note =
        (1..=2).map(|far| i32::from(from.get()) + way * far).find(|note| scale.has(*note))?;
    in_first_position(note)
}

/// The chord's next tone above or below, with the string that has it in first position.
fn next_tone(chord: &Chord, from: MidiNote, up: bool) -> Option<(usize, MidiNote)> {
    let way = if up { 1 } else { -1 };
    let tone = |note: &i32| chord.tones().any(|tone| i32::from(tone) == note.rem_euclid(12));
    let note = (1..12).map(|far| i32::from(from.get()) + way * far).find(tone)?;
    in_first_position(note)
}

/// A note with the string that has it in first position.
fn in_first_position(note: i32) -> Option<(usize, MidiNote)> {
    let string = FIDDLE.iter().rposition(|&open| i32::from(open) <= note)?;
    let open = i32::from(*FIDDLE.get(string)?);
    (note - open <= i32::from(FOURTH_FINGER)).then_some((string, MidiNote::clamped(note)))
}
