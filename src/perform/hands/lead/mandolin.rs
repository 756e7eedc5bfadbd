//! A mandolin's lead: tremolo on what lasts, three strings crossed where the line waits, down and up in between.

use super::neck::Place;
use super::part::Part;
use super::stroke::{Does, Others, Stroke};
use super::tone::Tone;
use crate::theory::MidiNote;
use crate::time::Ticks;

/// Of a hundred places in so many; common practice, no source.
mod share {
    /// A second string under what lasts.
    pub const DOUBLED: u64 = 55;
    /// A long note crossed over three strings instead of tremolo.
    pub const CROSSED: u64 = 45;
    /// A quarter struck down and up.
    pub const AGAIN: u64 = 45;
    /// A note hammered on.
    pub const HAMMERED: u64 = 20;
    /// In six eighths the beat's eighth struck twice in its time.
    pub const TREBLED: u64 = 40;
    /// A second string under the beat of six eighths.
    pub const LEANT_ON: u64 = 35;
}

/// The shortest note that has tremolo, in milliseconds; and the shortest stroke of it: twelve or thirteen a second
/// (common practice, no source).
const TREMOLO_MILLIS: f64 = 640.0;
const STROKE_MILLIS: f64 = 76.0;

const OCTAVE: u8 = 12;

/// An up-stroke's share, and what tremolo begins with and comes up to.
const UP: f64 = 0.86;
const SOFT: f64 = 0.8;

/// What a mandolin player makes of the line.
pub(super) fn play(part: &Part<'_>) -> Vec<Stroke> {
    let mut out = Vec::new();
    for (index, tone, place) in part.notes() {
        let hand = &part.hand;
        let (step, beat) = (hand.step(tone.bar), hand.beat(tone.bar));
        let lasts = tone.length() >= beat && hand.millis(tone.length()) >= TREMOLO_MILLIS;
        let waits = tone.length() >= step * 4 && hand.on_beat(tone);
        if waits && hand.throw(21, tone) < share::CROSSED && crossed(part, tone, place, &mut out) {
            continue;
        }
        let jig = beat == step * 3 && hand.on_beat(tone);
        let doubled = if lasts {
            tone.rests || hand.throw(22, tone) < share::DOUBLED
        } else {
            jig && hand.throw(25, tone) < share::LEANT_ON
        };
        // An octave says nothing that the note does not, and wears thin while tremolo lasts.
        let beside = part
            .chord(tone)
            .filter(|_| doubled)
            .and_then(|chord| part.neck.beside(place, tone.pitch, chord, false))
            .filter(|(_, other)| !lasts || other.get() + OCTAVE != tone.pitch.get());
        let strings: Vec<_> = beside.into_iter().chain([(place.string, tone.pitch)]).collect();
        if lasts && hand.on_beat(tone) {
            tremolo(part, tone, &strings, &mut out);
            continue;
        }
        let loud = if hand.on_beat(tone) { 1.0 } else { UP };
        if !hand.on_beat(tone) && hand.throw(23, tone) < share::HAMMERED {
            let up = part.is_near(index, 2).is_some_and(|(last, _)| last.pitch < tone.pitch);
            if up {
                out.push(Stroke::of(tone, Does::Joins(place.string, tone.pitch)).at_share(loud));
                continue;
            }
        }
        out.push(Stroke::of(tone, Does::Strikes(strings, Others::Stop)).at_share(loud));
        let again = tone.length() == step * 2 && hand.on_beat(tone);
        if again && !tone.rests && hand.throw(24, tone) < share::AGAIN {
            out.push(Part::plain(tone, place, Others::Stop).moved(tone.at + step).at_share(UP));
        }
        let half = step.split(2).filter(|half| hand.millis(*half) >= STROKE_MILLIS);
        if let Some(half) = half.filter(|_| jig && tone.length() == step && !tone.rests)
            && hand.throw(26, tone) < share::TREBLED
        {
            out.push(Part::plain(tone, place, Others::Stop).moved(tone.at + half).at_share(UP));
        }
    }
    out
}

/// Even strokes down and up for as long as the note lasts, growing.
fn tremolo(part: &Part<'_>, tone: &Tone, strings: &[(usize, MidiNote)], out: &mut Vec<Stroke>) {
    let fits = |parts: &i64| {
        Ticks::QUARTER.split(*parts).is_some_and(|one| part.hand.millis(one) >= STROKE_MILLIS)
    };
    let Some(parts) = [12, 8, 6, 4, 3, 2].into_iter().find(fits) else {
        out.push(Stroke::of(tone, Does::Strikes(strings.to_vec(), Others::Stop)));
        return;
    };
    let stroke = Ticks::QUARTER.split(parts).unwrap_or(Ticks::EIGHTH);
    // It lets go before a rest, so that the last stroke rings.
    let until = if tone.rests { tone.end - stroke } else { tone.end };
    let count = ((until - tone.at).get() / stroke.get()).max(1);
    for number in 0..count {
        let at = tone.at + stroke * number;
        let grown = SOFT + (1.0 - SOFT) * number as f64 / count as f64;
        let loud = if number == 0 { 1.0 } else { grown };
        let way = if number % 2 == 0 { 1.0 } else { UP };
        let (bar, _) = part.spot(tone, at);
        let does = Does::Strikes(strings.to_vec(), Others::Stop);
        out.push(Stroke {
            bar,
            even: true,
            ..Stroke::of(tone, does).moved(at).at_share(loud * way)
        });
    }
}

/// The note of the line and two strings of the chord beside it, three and three and two; false where the hand has no
/// such strings.
fn crossed(part: &Part<'_>, tone: &Tone, place: Place, out: &mut Vec<Stroke>) -> bool {
    let Some(chord) = part.chord(tone) else { return false };
    let beside = |place: Place, note, above| {
        let (string, note) = part.neck.beside(place, note, chord, above)?;
        Some((Place { string, fret: part.neck.fret(string, note)?, ..place }, note))
    };
    let Some((second, low)) = beside(place, tone.pitch, false) else { return false };
    let third = beside(second, low, false).or_else(|| beside(place, tone.pitch, true));
    let Some((third, other)) = third else { return false };
    let cycle = [(place.string, tone.pitch), (second.string, low), (third.string, other)];
    let step = part.hand.step(tone.bar);
    let until = if tone.rests { tone.end - step } else { tone.end };
    let count = (until - tone.at).get() / step.get();
    for number in 0..count {
        let at = tone.at + step * number;
        let (bar, span) = part.spot(tone, at);
        if span != tone.span {
            break;
        }
        let which = usize::try_from(number % 8 % 3).unwrap_or(0);
        let Some(&struck) = cycle.get(which) else { continue };
        let loud = if which == 0 { 1.0 } else { SOFT };
        let does = Does::Strikes(vec![struck], Others::Ring);
        out.push(Stroke { bar, ..Stroke::of(tone, does).moved(at).at_share(loud) });
    }
    true
}
