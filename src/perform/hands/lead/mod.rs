mod banjo;
mod bass;
mod event;
mod fiddle;
mod guitar;
mod hand;
mod leader;
mod line;
mod mandolin;
mod neck;
mod part;
mod pickup;
mod resonator;
mod rhythm;
mod slot;
mod solo;
mod sounding;
mod stroke;
mod together;
mod tone;
mod tune;
mod voice;

use std::ops::Range;

use super::Sounds;
use super::banjo::tune as banjo_tune;
use crate::arrange::{Arrangement, Bar};
use crate::chart::{Lead, Role};
use crate::perform::choice::Seat;
use crate::perform::feel::Feel;
use crate::perform::{Instrument, Note};
use event::Event;
use hand::Hand;
use leader::Leader;
use part::Part;
use pickup::{picks_up, playing};
use sounding::Open;
use stroke::{Does, Stroke};
use tone::Tone;

/// The notes of whoever leads, each with hands of their own: the tune where it is written out, as the instrument has
/// it, else a break made up on the style's rhythm.
pub(super) fn play(seat: &Seat<'_>, feel: Feel) -> Vec<Note> {
    let song = seat.song;
    // A banjo breaks the tune, and what it makes up itself.
    let broken = banjo_tune::breaks(song, Role::Lead);
    let mut notes = banjo_tune::play(seat, &broken, None, feel.clone());
    let events = line::events(seat, &broken);
    let rolled = banjo::rolled(seat, &events);
    notes.extend(banjo_tune::play(seat, &rolled.bars, Some(&rolled.line), feel.clone()));
    let strokes = strokes(seat, &events, &rolled.bars);
    notes.extend(sounding::sound(seat, feel, &strokes));
    notes.sort_by_key(|note| note.start);
    notes
}

/// The notes of the written tune in some bars, as whoever leads there plays it.
pub(in crate::perform) fn written_line(
    seat: &Seat<'_>,
    bars: Range<usize>,
    feel: Feel,
) -> Vec<Note> {
    let within = |bar: &usize| bars.contains(bar);
    let broken: Vec<usize> =
        banjo_tune::breaks(seat.song, Role::Lead).into_iter().filter(within).collect();
    let mut notes = banjo_tune::play(seat, &broken, None, feel.clone());
    let mut events = line::events(seat, &broken);
    events.retain(|event| within(&(bar_of(event) as usize)));
    notes.extend(sounding::sound(seat, feel, &strokes(seat, &events, &[])));
    notes.sort_by_key(|note| note.start);
    notes
}

/// What all hands do, in the order of time, with the strings that it is done on.
fn strokes(seat: &Seat<'_>, events: &[Event], rolled: &[usize]) -> Vec<(Stroke, Open)> {
    let Seat { song, seed, .. } = *seat;
    let mut out: Vec<(Stroke, Open)> = Vec::new();
    // What picks up into a pass is that leader's, though it sounds in the pass before.
    let pass = |event: &Event| {
        let index = bar_of(event) as usize;
        let picks = matches!(event, Event::Tone(_)) && picks_up(song, index).is_some();
        (song.bars.get(index).map(|bar| bar.pass), picks)
    };
    for of_pass in events.chunk_by(|one, next| pass(one) == pass(next)) {
        let Some(bar) = of_pass.first().and_then(|event| song.bars.get(bar_of(event) as usize))
        else {
            continue;
        };
        let picks = of_pass.first().filter(|event| pass(event).1);
        let picks = picks.and_then(|event| playing(song, bar_of(event) as usize));
        let leader = picks.unwrap_or_else(|| Leader::in_bar(song, bar));
        let open: Open = leader.neck.map_or((&[], 0), |neck| (neck.open, neck.capo));
        let mine = |bar: u32| rolled.binary_search(&(bar as usize)).is_err();
        let tones: Vec<Tone> = of_pass
            .iter()
            .filter_map(|event| match event {
                Event::Tone(tone) => Some(*tone).filter(|tone| mine(tone.bar)),
                Event::Plain(_) => None,
            })
            .collect();
        let hand = Hand { song, seed, leader: &leader };
        let own = played(hand, &tones);
        let plain = of_pass.iter().filter_map(|event| match event {
            Event::Plain(stroke) => Some(stroke.clone()),
            Event::Tone(_) => None,
        });
        // Whoever comes next has other strings: this one's are silent by then.
        let over = song.bars.iter().rfind(|other| other.pass == bar.pass).map(Bar::end);
        let ends = tones.last().into_iter().flat_map(|last| [Some(last.end), over]).flatten();
        let ends = ends.map(|end| Stroke::silent(end, bar_of_last(&tones), Does::Stop));
        out.extend(plain.chain(own).chain(ends).map(|stroke| (stroke, open)));
    }
    out.sort_by_key(|(stroke, _)| (stroke.at, rank(&stroke.does)));
    out
}

fn bar_of_last(tones: &[Tone]) -> u32 {
    tones.last().map_or(0, |tone| tone.bar)
}

/// What whoever leads makes of the line of a pass.
fn played(hand: Hand<'_>, tones: &[Tone]) -> Vec<Stroke> {
    let part = hand.leader.neck.map(|neck| Part::new(hand, neck, tones));
    match (hand.leader.lead, part) {
        (Some(Lead::Fiddle), Some(part)) => fiddle::play(&part),
        (Some(Lead::Mandolin), Some(part)) => mandolin::play(&part),
        (Some(Lead::Guitar), Some(part)) => guitar::play(&part),
        (Some(Lead::Resonator), Some(part)) => resonator::play(&part),
        (Some(Lead::Bass), Some(part)) => bass::play(&part),
        (Some(Lead::Banjo), Some(part)) => banjo::play(&part),
        (Some(_) | None, _) => voice::play(tones),
    }
}

fn bar_of(event: &Event) -> u32 {
    match event {
        Event::Tone(tone) => tone.bar,
        Event::Plain(stroke) => stroke.bar,
    }
}

/// What comes first of things at one place.
const fn rank(does: &Does) -> u8 {
    match does {
        Does::Again => 0,
        Does::Stop => 1,
        Does::Change(_) => 2,
        _ => 3,
    }
}

/// The part's sound at its beginning, and what it changes to and when: before each note that another
/// instrument plays than the one before. From the time on, the General MIDI program.
pub(super) fn sounds(song: &Arrangement, own: Instrument, notes: &[Note]) -> Sounds {
    let program = |note: &Note| {
        let leader = playing(song, note.bar as usize);
        leader.and_then(|leader| leader.program).unwrap_or(own.program)
    };
    let first = notes.first().map_or(own.program, program);
    let mut last = first;
    let mut changes = Vec::new();
    for note in notes {
        let now = program(note);
        if now != last {
            changes.push((note.start, now));
            last = now;
        }
    }
    (Instrument { program: first, ..own }, changes)
}
