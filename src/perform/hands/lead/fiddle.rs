//! A fiddle's lead: long bows with a string beside the tune, shuffles, two notes to a bow, slides into what lasts.

use super::neck::Place;
use super::part::Part;
use super::stroke::{Does, Others, Stroke};
use super::tone::Tone;
use crate::theory::MidiNote;
use crate::time::Ticks;

/// Of a hundred places in so many; common practice, no source.
mod share {
    /// A second string: where a phrase ends, on a strong beat that lasts and one that does not, elsewhere.
    pub const ENDS: u64 = 85;
    pub const STRONG: u64 = 45;
    pub const SHORT: u64 = 22;
    pub const ELSEWHERE: u64 = 8;
    /// A second note in the same bow.
    pub const BOWED: u64 = 40;
    /// A slide into a note that lasts.
    pub const SLID: u64 = 35;
    /// A half note of the tune in a shuffle, and a quarter with the note on the way to the next.
    pub const SHUFFLED: u64 = 60;
    pub const PASSING: u64 = 40;
}

/// The widest step in one bow: what four fingers reach on a string, in half steps.
const FINGERS: u8 = 5;

/// What a fiddler makes of the line.
pub(super) fn play(part: &Part<'_>) -> Vec<Stroke> {
    let mut out = Vec::new();
    let mut doubled = false;
    for (index, tone, place) in part.notes() {
        let strings = strings(part, tone, place);
        let joined = !doubled && strings.len() == 1 && bowed(part, index);
        let slid = !joined && strings.len() == 1 && slides(part, tone);
        let from = if slid { part.slid(index, 2, 0.7, Others::Stop) } else { None };
        let loud = loudness(part, tone);
        doubled = strings.len() > 1;
        if joined {
            out.push(Stroke::of(tone, Does::Joins(place.string, tone.pitch)).at_share(loud));
        } else if let Some(grace) = from {
            out.extend(grace);
            out.push(Stroke::of(tone, Does::Slides(place.string, tone.pitch)).at_share(loud));
        } else {
            let does = Does::Strikes(strings.clone(), Others::Stop);
            out.push(Stroke::of(tone, does).at_share(loud));
        }
        if tone.written {
            fill(part, index, tone, place, &strings, &mut out);
        }
    }
    out
}

/// The note of the tune, with the string below or the open one above it.
fn strings(part: &Part<'_>, tone: &Tone, place: Place) -> Vec<(usize, MidiNote)> {
    let own = (place.string, tone.pitch);
    let long = tone.length() >= part.hand.beat(tone.bar);
    let most = match tone.rests || tone.length() >= part.hand.beat(tone.bar) * 2 {
        true => share::ENDS,
        false if long && part.hand.is_strong(tone) => share::STRONG,
        false if part.hand.is_strong(tone) => share::SHORT,
        false => share::ELSEWHERE,
    };
    let wanted = part.hand.throw(11, tone) < most;
    let Some(chord) = part.chord(tone).filter(|_| wanted) else { return vec![own] };
    let below = part.neck.beside(place, tone.pitch, chord, false);
    let open = |(string, note): &(usize, MidiNote)| part.neck.note(*string, 0) == Some(*note);
    let above = || part.neck.beside(place, tone.pitch, chord, true).filter(open);
    below.or_else(above).into_iter().chain([own]).collect()
}

/// True if a tone lies in the bow of the one before.
fn bowed(part: &Part<'_>, index: usize) -> bool {
    let Some((last, _)) = part.is_near(index, FINGERS) else { return false };
    let Some(tone) = part.tones.get(index) else { return false };
    part.hand.on_beat(last)
        && !part.hand.on_beat(tone)
        && tone.at - last.at <= part.hand.step(tone.bar)
        && part.hand.throw(12, tone) < share::BOWED
}

fn slides(part: &Part<'_>, tone: &Tone) -> bool {
    part.hand.on_beat(tone)
        && tone.length() >= part.hand.beat(tone.bar)
        && part.hand.throw(13, tone) < share::SLID
}

/// The bow leans on the backbeats (common practice, no source).
fn loudness(part: &Part<'_>, tone: &Tone) -> f64 {
    match (part.hand.is_back(tone), part.hand.on_beat(tone)) {
        (true, _) => 1.03,
        (_, true) => 0.97,
        (_, false) => 0.88,
    }
}

/// What a long note of the tune becomes: long, short, short, or with the note between it and the next.
fn fill(
    part: &Part<'_>,
    index: usize,
    tone: &Tone,
    place: Place,
    strings: &[(usize, MidiNote)],
    out: &mut Vec<Stroke>,
) {
    let (step, beat) = (part.hand.step(tone.bar), part.hand.beat(tone.bar));
    let Some(next) = part.after(index).filter(|next| next.at == tone.end) else { return };
    if beat != step * 2 || !part.hand.on_beat(tone) || tone.rests {
        return;
    }
    if tone.length() == beat && part.hand.throw(14, tone) < share::PASSING {
        let between = part.between(tone, next.pitch);
        let found = between.and_then(|note| Some((part.near(place, note)?, note)));
        if let Some((near, note)) = found {
            let does = Does::Strikes(vec![(near.string, note)], Others::Stop);
            out.push(Stroke::of(tone, does).moved(tone.at + step).at_share(0.84));
        }
        return;
    }
    if tone.length() < beat * 2 || part.hand.throw(15, tone) >= share::SHUFFLED {
        return;
    }
    let mut at = tone.at + beat;
    while at + beat <= tone.end {
        for later in [Ticks::ZERO, step] {
            let (bar, _) = part.spot(tone, at + later);
            let does = Does::Strikes(strings.to_vec(), Others::Stop);
            let short = Stroke { bar, ..Stroke::of(tone, does).moved(at + later).at_share(0.9) };
            out.push(short);
        }
        let (bar, _) = part.spot(tone, at + beat);
        if at + beat + beat <= tone.end {
            let does = Does::Strikes(strings.to_vec(), Others::Stop);
            out.push(Stroke { bar, ..Stroke::of(tone, does).moved(at + beat) });
        }
        at += beat * 2;
    }
}
