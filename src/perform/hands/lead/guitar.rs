//! A flat-picked guitar's lead: eighths down and up over open strings, hammered on and pulled off here and there, and
//! strums where the line waits.

use super::neck::Place;
use super::part::Part;
use super::stroke::{Does, Others, Stroke};
use super::tone::Tone;
use crate::style::Loud;
use crate::theory::fretboard::guitar_shape;
use crate::theory::{MidiNote, Scale, line};
use crate::time::Ticks;

/// Of a hundred notes off the beat that a finger could make alone, so many are (common practice, no source).
const SLURRED: u64 = 30;

/// How loud beside the line a strum is, an up-stroke, and a note that fills (common practice, no source).
const STRUM: f64 = 0.62;
const UP: f64 = 0.86;
const FILL: f64 = 0.84;

/// The strings of a strum, the highest of them: the line's own bass strings are left alone.
const STRUM_STRINGS: usize = 4;

/// The fastest that a pick fills a line, in milliseconds a note (common practice, no source: nine a second).
const FASTEST_MILLIS: f64 = 105.0;

/// What a guitarist makes of the line.
pub(super) fn play(part: &Part<'_>) -> Vec<Stroke> {
    let mut out = Vec::new();
    for (index, tone, place) in part.notes() {
        let on_beat = part.hand.on_beat(tone);
        let loud = if on_beat { 1.0 } else { UP };
        let slurred = !on_beat
            && part.hand.throw(31, tone) < SLURRED
            && part.is_near(index, 2).is_some_and(|(last, from)| {
                // Up is hammered on, down is pulled off to an open string or a finger that lies there.
                tone.pitch > last.pitch || place.fret == 0 || from.hand == place.hand
            });
        let does = match slurred {
            true => Does::Joins(place.string, tone.pitch),
            false => Does::Strikes(vec![(place.string, tone.pitch)], Others::OpenRing),
        };
        out.push(Stroke::of(tone, does).at_share(loud));
        if tone.written {
            fill(part, index, tone, place, &mut out);
        }
        strums(part, index, tone, &mut out);
    }
    out
}

/// The eighths between a note of the tune and the next: a line that leads there.
fn fill(part: &Part<'_>, index: usize, tone: &Tone, place: Place, out: &mut Vec<Stroke>) {
    /// So many steps at most: what waits longer is strummed.
    const MOST: i64 = 3;
    let step = part.hand.step(tone.bar);
    let Some(next) = part.after(index).filter(|next| next.at == tone.end && !tone.rests) else {
        return;
    };
    let steps = (tone.length().get() / step.get() - 1).min(MOST);
    let even = tone.length().is_multiple_of(step) && part.hand.place(tone).is_multiple_of(step);
    let Some(chord) = part.chord(tone) else { return };
    if steps < 1 || !even || part.hand.millis(step) < FASTEST_MILLIS {
        return;
    }
    let range = part.hand.leader.range.clone();
    let key = part.hand.song.key;
    let count = usize::try_from(steps).unwrap_or(0);
    let found = match count {
        1 => Some(vec![between(part, tone, place, next.pitch)]),
        _ => line(tone.pitch, next.pitch, count, key, chord, range).map(|line| line.notes),
    };
    let Some(found) = found else { return };
    let first = tone.end - step * steps;
    let mut hand = place;
    for (number, note) in (0..).zip(found) {
        let at = first + step * number;
        let (bar, _) = part.spot(tone, at);
        let Some(near) = part.near(hand, note).or_else(|| lowest(part, note)) else { continue };
        hand = near;
        let does = Does::Strikes(vec![(near.string, note)], Others::OpenRing);
        out.push(Stroke { bar, ..Stroke::of(tone, does).moved(at).at_share(FILL) });
    }
}

/// The note between two of the tune: on the way of a third; the blue one into a major third; else now the same again,
/// now a string beside it, now the scale's next note.
fn between(part: &Part<'_>, tone: &Tone, place: Place, next: MidiNote) -> MidiNote {
    let Some(chord) = part.chord(tone) else { return tone.pitch };
    let third = chord.quality.third().map(|third| (chord.root.pitch_class() + third) % 12);
    let up_to_third = third == Some(next.pitch_class()) && next.get() == tone.pitch.get() + 2;
    let throw = part.hand.throw(32, tone);
    if let Some(note) = part.between(tone, next) {
        return note;
    }
    if up_to_third && throw < 60 {
        return MidiNote::clamped(i32::from(next.get()) - 1);
    }
    let beside = || part.neck.beside(place, tone.pitch, chord, false).map(|(_, note)| note);
    let scale = Scale::of(part.hand.song.key, chord);
    let above = [2, 1].map(|far| i32::from(next.get().max(tone.pitch.get())) + far);
    let above = || above.into_iter().find(|note| scale.has(*note)).map(MidiNote::clamped);
    let found = match throw % 10 {
        0..=3 => None,
        4..=7 => beside(),
        _ => above(),
    };
    found.unwrap_or(tone.pitch)
}

/// Near the nut.
fn lowest(part: &Part<'_>, note: MidiNote) -> Option<Place> {
    part.neck.places(&[(Ticks::ZERO, note)]).first().copied()
}

/// The chord on the backbeats for as long as the line waits or rests.
fn strums(part: &Part<'_>, index: usize, tone: &Tone, out: &mut Vec<Stroke>) {
    let song = part.hand.song;
    let beat = part.hand.beat(tone.bar);
    let filled = if tone.written && !tone.rests { beat * 2 } else { Ticks::ZERO };
    let pass = part.hand.bar(tone.bar).map(|bar| bar.pass);
    let until = match part.after(index) {
        Some(next) => next.at,
        None => match song.bars.iter().rfind(|bar| Some(bar.pass) == pass) {
            Some(last) => last.end(),
            None => return,
        },
    };
    let waits = until - tone.at;
    if waits < beat * 2 + filled {
        return;
    }
    let mut at = tone.at - Ticks::new(part.hand.place(tone).get() % beat.get()) + beat;
    while at + beat <= until - filled {
        let (bar, span) = part.spot(tone, at);
        let Some(own) = part.hand.bar(bar) else { return };
        let stopped = !own.stops.is_empty();
        let is_back = !(at - own.start).is_multiple_of(super::hand::strong(own.gait));
        if let Some(chord) = part.hand.chord(span)
            && is_back
            && !stopped
        {
            let notes = guitar_shape(chord, song.capo).notes();
            let held =
                notes.iter().enumerate().filter_map(|(string, note)| Some((string, (*note)?)));
            let own = |(string, _): &(usize, MidiNote)| *string + STRUM_STRINGS >= notes.len();
            let strings: Vec<_> = held.filter(own).collect();
            let does = Does::Strikes(strings, Others::Ring);
            let stroke = Stroke { bar, loud: Loud::Normal, ..Stroke::of(tone, does) };
            out.push(stroke.moved(at).at_share(STRUM));
        }
        at += beat;
    }
}
