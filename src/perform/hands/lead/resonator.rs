//! A resonator guitar's lead: long notes that the bar slides into, hammered on from open strings, and open strings
//! rolled where they wait.

use super::neck::Place;
use super::part::Part;
use super::stroke::{Does, Others, Stroke};
use super::tone::Tone;
use crate::theory::MidiNote;

/// Of a hundred places in so many; common practice, no source.
mod share {
    /// A slide into a note on a strong beat, on another, and on from the one before.
    pub const SLID: u64 = 60;
    pub const BACK: u64 = 22;
    pub const ON: u64 = 45;
    /// A second string under the bar.
    pub const DOUBLED: u64 = 30;
}

/// The farthest that the bar slides up into a note, in frets; and on from another.
const INTO: u8 = 3;
const ON: u8 = 4;

/// How loud the stroke is that a slide sets off from: the pick's, for the bar makes the rest.
const GRACE: f64 = 0.95;

/// How loud the strings are that are rolled under a long note.
const ROLLED: f64 = 0.62;

/// What a resonator player makes of the line.
pub(super) fn play(part: &Part<'_>) -> Vec<Stroke> {
    let mut out = Vec::new();
    for (index, tone, place) in part.notes() {
        let on_beat = part.hand.on_beat(tone);
        let loud = if part.hand.is_strong(tone) { 1.0 } else { 0.92 };
        let begins = begins(part, index, tone, place, &mut out);
        let mut strings = vec![(place.string, tone.pitch)];
        if begins.is_none() && on_beat && part.hand.throw(41, tone) < share::DOUBLED {
            let chord = part.chord(tone);
            let beside = chord.and_then(|chord| part.neck.beside(place, tone.pitch, chord, false));
            strings.splice(0..0, beside);
        }
        let does = begins.unwrap_or(Does::Strikes(strings, Others::OpenRing));
        out.push(Stroke::of(tone, does).at_share(loud));
        rolls(part, tone, place, &mut out);
    }
    out
}

/// How the bar comes to a note, if not by striking it; what it sets off from is struck before.
fn begins(
    part: &Part<'_>,
    index: usize,
    tone: &Tone,
    place: Place,
    out: &mut Vec<Stroke>,
) -> Option<Does> {
    let string = place.string;
    let on_beat = part.hand.on_beat(tone);
    if let Some((last, from)) = part.is_near(index, ON)
        && !on_beat
        && part.hand.throw(42, tone) < share::ON
    {
        let open = from.fret == 0 || place.fret == 0;
        let near = last.pitch.get().abs_diff(tone.pitch.get()) <= 2;
        return match (open, near) {
            (true, true) => Some(Does::Joins(string, tone.pitch)),
            (true, false) => None,
            (false, _) => Some(Does::Slides(string, tone.pitch)),
        };
    }
    let most = if part.hand.is_strong(tone) { share::SLID } else { share::BACK };
    if !on_beat || place.fret == 0 || part.hand.throw(43, tone) >= most {
        return None;
    }
    // Near the nut the open string is hammered.
    if place.fret <= 2
        && let Some(open) = part.neck.note(string, 0)
    {
        let (at, bar) = part.grace(index)?;
        let grace = Does::Strikes(vec![(string, open)], Others::OpenRing);
        out.push(Stroke { bar, ..Stroke::of(tone, grace).moved(at).at_share(GRACE) });
        return Some(Does::Joins(string, tone.pitch));
    }
    out.extend(part.slid(index, INTO, GRACE, Others::OpenRing)?);
    Some(Does::Slides(string, tone.pitch))
}

/// Other strings of the chord, under the bar or open, while a long note rings: two of them by turns, every step from the
/// next beat on.
fn rolls(part: &Part<'_>, tone: &Tone, place: Place, out: &mut Vec<Stroke>) {
    let (step, beat) = (part.hand.step(tone.bar), part.hand.beat(tone.bar));
    let Some(chord) = part.chord(tone) else { return };
    if tone.length() < beat * 2 {
        return;
    }
    let strings: Vec<(usize, MidiNote)> = (0..part.neck.open.len())
        .rev()
        .filter(|string| *string != place.string)
        .filter_map(|string| {
            let frets = [place.fret, 0].map(|fret| part.neck.note(string, fret));
            let own = |note: &MidiNote| chord.contains(note.pitch_class()) && *note != tone.pitch;
            Some((string, frets.into_iter().flatten().find(own)?))
        })
        .filter(|(_, note)| note.get() < tone.pitch.get())
        .take(2)
        .collect();
    let until = if tone.rests { tone.end - step } else { tone.end };
    let mut at = tone.at + beat;
    let mut number = 0;
    while at < until && !strings.is_empty() {
        let (bar, span) = part.spot(tone, at);
        if span != tone.span {
            return;
        }
        if let Some(&struck) = strings.get(number % strings.len()) {
            let does = Does::Strikes(vec![struck], Others::Ring);
            out.push(Stroke { bar, ..Stroke::of(tone, does).moved(at).at_share(ROLLED) });
        }
        number += 1;
        at += step;
    }
}
