//! The line that whoever leads plays: the tune where it is written out, else a break made up on the style's rhythm.

use super::event::Event;
use super::leader::{Leader, leader};
use super::pickup::{picks_up, pickups};
use super::rhythm::reshape;
use super::slot::{Slot, What};
use super::solo::{Wanted, break_notes};
use super::stroke::{Does, Stroke};
use super::together::together;
use super::tone::Tone;
use super::tune::TuneShift;
use crate::arrange::{Arrangement, Bar};
use crate::chart::Role;
use crate::perform::choice::Seat;
use crate::perform::cue::{Act, Cue};
use crate::perform::cues::cues;
use crate::style::Loud;
use crate::theory::MidiNote;
use crate::time::{Meter, Ticks};

/// All that happens in the lead's part, in the order of time, but for the written tune in the bars of `broken`.
pub(super) fn events(seat: &Seat<'_>, broken: &[usize]) -> Vec<Event> {
    let Seat { song, seed, .. } = *seat;
    let mut cued: Vec<Cue> = Vec::new();
    cues(seat, |cue| cued.push(cue));
    let made: Vec<Slot> = cued.iter().filter_map(|cue| slot(song, cue)).collect();
    let mut made = reshape(song, seed, &made);
    made.extend(pickups(song, seed));
    made.sort_by_key(|slot| slot.at);
    let wanted = wanted(song, &made);
    let pitches: Vec<MidiNote> = break_notes(song, &wanted, seed);
    let mut found = wanted.iter().zip(pitches);
    let mut made = made.into_iter().peekable();
    let mut cued = cued.into_iter().peekable();
    let mut out = Vec::new();
    let mut shift = TuneShift::default();
    let mut sounding = false;
    for (index, bar) in song.bars.iter().enumerate() {
        let number = index as u32;
        let is_broken = broken.binary_search(&index).is_ok();
        let plays = leader(song, bar).is_some() && !is_broken;
        let rests = bar.resting.contains(Role::Lead);
        if sounding && !plays {
            out.push(Event::Plain(Stroke::silent(bar.start, number, Does::Stop)));
        }
        while let Some(cue) = cued.next_if(|cue| cue.bar == number) {
            // One who rests is told so in the first bar of the rest.
            let does = match cue.act {
                Act::Again => Does::Again,
                Act::Damp if rests => Does::Stop,
                _ => continue,
            };
            out.push(Event::Plain(Stroke::silent(cue.at, number, does)));
        }
        while let Some(slot) = made.next_if(|slot| slot.bar == number) {
            let note = if slot.what.is_struck() { found.next() } else { None };
            out.extend(event(song, &slot, note));
        }
        if plays && bar.melody.is_some() && !rests {
            lay_tune(song, bar, number, &mut shift, index, &mut out);
        }
        sounding = plays && !rests;
    }
    with_stops(out)
}

/// What a cue asks of a made-up break; `None` where there is none.
fn slot(song: &Arrangement, cue: &Cue) -> Option<Slot> {
    let bar = song.bars.get(cue.bar as usize)?;
    if bar.melody.is_some() || leader(song, bar).is_none() || bar.resting.contains(Role::Lead) {
        return None;
    }
    let chord = song.spans.get(cue.span).and_then(|span| span.chord);
    let what = match cue.act {
        Act::Damp => What::Rest,
        Act::Again => return None,
        Act::Change => What::Change,
        _ if chord.is_none() => return None,
        Act::Strike(strike) | Act::Walk { strike, .. } => What::Note(strike.loud),
        Act::Hit => What::Hit,
        Act::FinalHit => What::End,
    };
    Some(Slot { at: cue.at, even: cue.even, bar: cue.bar, span: cue.span, what })
}

/// The places at which the break has a note.
fn wanted(song: &Arrangement, made: &[Slot]) -> Vec<Wanted> {
    let mut out = Vec::new();
    for (index, slot) in made.iter().enumerate() {
        let chord = song.spans.get(slot.span).and_then(|span| span.chord);
        let (true, Some(chord)) = (slot.what.is_struck(), chord) else { continue };
        let stops = |next: &&Slot| next.at > slot.at && next.what != What::Change;
        let next = made.iter().skip(index + 1).find(stops);
        let picks_up = picks_up(song, slot.bar as usize).is_some();
        // What picks up begins the phrase that it leads into.
        let phrase = song.bars.get(slot.bar as usize + usize::from(picks_up));
        out.push(Wanted {
            at: slot.at,
            length: next.map_or(song.end, |next| next.at) - slot.at,
            bar: slot.bar,
            chord,
            pass: phrase.map_or(0, |bar| bar.pass),
            line: phrase.map_or(0, |bar| bar.line),
            picks_up,
            rests: next.is_some_and(|next| next.what == What::Rest),
            home: slot.what == What::End,
        });
    }
    out
}

/// What a slot of the break comes to, with the note that was found for it.
fn event(song: &Arrangement, slot: &Slot, note: Option<(&Wanted, MidiNote)>) -> Option<Event> {
    let &Slot { at, even, bar, span, what } = slot;
    let silent = |does| Some(Event::Plain(Stroke::silent(at, bar, does)));
    match (what, note) {
        (What::Rest, _) => silent(Does::Stop),
        (What::Change, _) => silent(Does::Change(span)),
        (What::Note(loud), Some((wanted, pitch))) => Some(Event::Tone(Tone {
            at,
            end: at + wanted.length,
            even,
            bar,
            span,
            pitch,
            loud,
            written: false,
            rests: wanted.rests,
        })),
        (What::Hit | What::End, Some((_, pitch))) => {
            let leader = Leader::in_bar(song, song.bars.get(bar as usize)?);
            let strings = together(song, &leader, span, pitch);
            let does = if what == What::Hit { Does::Hits(strings) } else { Does::Ends(strings) };
            let stroke = Stroke { even, loud: Loud::Accent, ..Stroke::silent(at, bar, does) };
            Some(Event::Plain(stroke))
        }
        _ => None,
    }
}

/// Lays the written notes of a bar.
fn lay_tune(
    song: &Arrangement,
    bar: &Bar,
    number: u32,
    shift: &mut TuneShift,
    index: usize,
    out: &mut Vec<Event>,
) {
    let even = bar.gait == Meter::SixEight || song.meter == Meter::SixEight;
    let shift = shift.of(song, index);
    let notes = bar.melody.clone().and_then(|notes| song.melody.get(notes)).unwrap_or_default();
    let span_at = |at: Ticks| {
        let mut spans = bar.spans.clone();
        let begun = |span: &usize| song.spans.get(*span).is_some_and(|span| span.start <= at);
        spans.rfind(begun).unwrap_or(bar.spans.start)
    };
    for (place, note) in notes.iter().enumerate() {
        let pitch = shift.apply(note.pitch);
        let next = notes.get(place + 1).map_or(bar.end(), |next| next.start);
        let rests = next > note.end;
        if note.tied
            && let Some(Event::Tone(last)) = out.last_mut()
            && (last.pitch, last.end) == (pitch, note.start)
        {
            (last.end, last.rests) = (note.end, rests);
        } else {
            out.push(Event::Tone(Tone {
                at: note.start,
                end: note.end,
                even,
                bar: number,
                span: span_at(note.start),
                pitch,
                loud: Loud::Normal,
                written: true,
                rests,
            }));
        }
    }
}

/// What sounds stops where it ends, if nothing follows there.
fn with_stops(events: Vec<Event>) -> Vec<Event> {
    let mut out: Vec<Event> = Vec::with_capacity(events.len());
    let mut open: Option<usize> = None;
    for event in events {
        let at = match &event {
            Event::Tone(tone) => tone.at,
            Event::Plain(stroke) => stroke.at,
        };
        if let Some(Event::Tone(last)) = open.take().and_then(|index| out.get_mut(index))
            && last.end < at
        {
            last.rests = true;
            let stop = Stroke::silent(last.end, last.bar, Does::Stop);
            out.push(Event::Plain(stop));
        }
        if matches!(event, Event::Tone(_)) {
            open = Some(out.len());
        }
        out.push(event);
    }
    out
}
