//! Standard MIDI Files of format 1: of a performance a conductor track, then one track a role; of a recording
//! a conductor track, then what was played.

mod recorded;

use std::io;

use crate::midi_file::{Event, TrackWriter, WrittenTrack, write};
use crate::perform::{
    CLICK_CHANNEL, Message, Performance, TimedMessage, note_messages, part_messages,
};
use crate::time::{BarMeter, Ticks};
pub use recorded::recorded_to_bytes;

/// The bytes of a performance as a Standard MIDI File.
///
/// # Errors
/// Only if a track outgrows the 4 GiB that its header can state.
pub fn to_bytes(performance: &Performance) -> io::Result<Vec<u8>> {
    let mut tracks = vec![conductor(performance)];
    for part in &performance.parts {
        let channel = part.role.channel();
        let set_up = Message::set_up(channel, part.instrument);
        let notes = part_messages(part);
        // Two messages a note.
        let size = part.notes.len() * 2 + part.programs.len();
        let track = track(part.role.as_str(), &set_up, notes, size, performance.end);
        tracks.push(track);
    }
    if !performance.clicks.is_empty() {
        let clicks = note_messages(CLICK_CHANNEL, &performance.clicks);
        let size = performance.clicks.len() * 2;
        tracks.push(track("count-in", &[], clicks, size, performance.end));
    }
    write(tracks)
}

/// Title, tempo, meters, key, passes and chords.
fn conductor(performance: &Performance) -> WrittenTrack<'_> {
    let mut metas: Vec<(Ticks, Event<'_>)> = vec![
        (Ticks::ZERO, Event::TrackName(performance.title.as_bytes())),
        (Ticks::ZERO, Event::Tempo(performance.tempo.micros_per_quarter())),
    ];
    let slower = performance.slowing.iter().map(|slowing| {
        let tempo = performance.tempo.stretched(slowing.permille);
        (slowing.at, Event::Tempo(tempo.micros_per_quarter()))
    });
    metas.extend(slower);
    metas.extend(performance.meters.iter().map(|&(at, meter)| (at, time_signature(meter))));
    let (accidentals, minor) = performance.key.signature();
    metas.push((Ticks::ZERO, Event::KeySignature { accidentals, minor }));
    let markers = performance.markers.iter();
    metas.extend(markers.map(|(at, name)| (*at, Event::Marker(name.as_bytes()))));
    // No passes of the form, so no markers.
    let cues = performance.cues.iter();
    metas.extend(cues.map(|(at, name)| (*at, Event::CuePoint(name.as_bytes()))));
    let chords = performance.chords.iter();
    metas.extend(chords.map(|(at, name)| (*at, Event::Text(name.as_bytes()))));
    metas.sort_by_key(|(at, _)| *at);
    let mut line = TrackWriter::new(metas.len());
    for (at, meta) in metas {
        line.push(at, meta);
    }
    line.finish(performance.end)
}

fn time_signature(meter: BarMeter) -> Event<'static> {
    // MIDI clocks a click: 24 a quarter, and the click is the beat (6/8 clicks dotted quarters: 24 hex).
    let clocks = (meter.click().get() * 24 / Ticks::QUARTER.get()) as u8;
    let power = meter.denominator().trailing_zeros() as u8;
    Event::TimeSignature { numerator: meter.numerator(), power, clocks }
}

/// A track of `size` messages after the set-up.
fn track<'a>(
    name: &'a str,
    set_up: &[Message],
    messages: impl Iterator<Item = TimedMessage>,
    size: usize,
    end: Ticks,
) -> WrittenTrack<'a> {
    let mut line = TrackWriter::new(size + set_up.len() + 2);
    line.push(Ticks::ZERO, Event::TrackName(name.as_bytes()));
    for &message in set_up {
        line.push(Ticks::ZERO, event(message));
    }
    for TimedMessage { at, message } in messages {
        line.push(at, event(message));
    }
    line.finish(end)
}

fn event(message: Message) -> Event<'static> {
    let (bytes, length) = message.bytes();
    Event::Channel(bytes, length)
}
