//! A bass's lead: a walk, or the tune on its beats with what leads from one to the next.

use super::part::Part;
use super::stroke::{Does, Others, Stroke};
use super::tone::Tone;
use crate::band::Role;
use crate::style::Loud;
use crate::theory::{MidiNote, line};

/// Of a hundred strong beats that the finger slides into, so many (common practice, no source).
const SLID: u64 = 14;

/// How loud a skip is, a note that leads, and a backbeat.
const SKIP: f64 = 0.85;
const LEADING: f64 = 0.9;

/// What a bass player makes of the line.
pub(super) fn play(part: &Part<'_>) -> Vec<Stroke> {
    let mut out = Vec::new();
    for (index, tone, place) in part.notes() {
        let beat = part.hand.beat(tone.bar);
        let slow = 1000.0 / part.hand.millis(beat) <= Role::Bass.row().playing.steps_a_second;
        if tone.written && !stays(part, index, tone, slow) {
            continue;
        }
        let strong = part.hand.is_strong(tone);
        let loud = match (tone.loud, strong) {
            (Loud::Ghost, _) => SKIP,
            (_, true) => 1.0,
            (_, false) => 0.95,
        };
        let slides = strong && part.hand.throw(51, tone) < SLID;
        let from = if slides { part.slid(index, 2, 0.75, Others::Stop) } else { None };
        if let Some(grace) = from {
            out.extend(grace);
            out.push(Stroke::of(tone, Does::Slides(place.string, tone.pitch)).at_share(loud));
        } else {
            let loud = Stroke {
                loud: Loud::Normal,
                ..Part::plain(tone, place, Others::Stop).at_share(loud)
            };
            out.push(loud);
        }
        if tone.written && slow {
            leads(part, index, tone, &mut out);
        }
    }
    out
}

/// True for a note of the tune that the bass plays: on a beat, where beats are fast on a strong one; and the first
/// after a rest.
fn stays(part: &Part<'_>, index: usize, tone: &Tone, slow: bool) -> bool {
    part.hand.is_strong(tone)
        || (slow && part.hand.on_beat(tone))
        || (part.before(index).is_none() && tone.length() >= part.hand.beat(tone.bar))
}

/// What leads from a note that lasts into the next that is played: a note on each beat between.
fn leads(part: &Part<'_>, index: usize, tone: &Tone, out: &mut Vec<Stroke>) {
    let beat = part.hand.beat(tone.bar);
    let rest = part.tones.get(index + 1..).unwrap_or_default();
    let next = rest.iter().find(|next| part.hand.on_beat(next));
    let Some(next) = next.filter(|_| part.hand.on_beat(tone) && !tone.rests) else { return };
    // A breath of the tune is one of the bass's too.
    let between = rest.iter().take_while(|other| other.at < next.at);
    if between.clone().any(|other| other.rests) {
        return;
    }
    let steps = (next.at - tone.at).get() / beat.get() - 1;
    let Some(chord) = part.chord(tone).filter(|_| (1..=3).contains(&steps)) else { return };
    let (key, range) = (part.hand.song.key, part.hand.leader.range.clone());
    let count = usize::try_from(steps).unwrap_or(0);
    let Some(found) = line(tone.pitch, next.pitch, count, key, chord, range) else { return };
    for (number, note) in (1..).zip(found.notes) {
        let at = tone.at + beat * number;
        let (bar, _) = part.spot(tone, at);
        let string = string_of(part, note);
        let does = Does::Strikes(vec![(string, note)], Others::Stop);
        out.push(Stroke { bar, ..Stroke::of(tone, does).moved(at).at_share(LEADING) });
    }
}

/// The highest string that has a note.
fn string_of(part: &Part<'_>, note: MidiNote) -> usize {
    let strings = 0..part.neck.open.len();
    strings.rev().find(|string| part.neck.fret(*string, note).is_some()).unwrap_or(0)
}
