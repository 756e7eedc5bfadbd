//! A recording of a player beside the band, written so that it lies on the song's bars.

use std::io;

use super::time_signature;
use crate::midi_file::{Event, TrackWriter, WrittenTrack, write};
use crate::take::{BESIDE, Recorded};
use crate::theory::Key;
use crate::time::{BarMeter, Ticks};

/// The name of the track with what was played.
const TAKE: &[u8] = b"take";

/// The bytes of a recording as a Standard MIDI File: a conductor track with title, tempos, meters, keys, a
/// marker for each pass of the form and a text for each bar, and a track `take` with what was played.
///
/// # Errors
/// Only if a track outgrows the 4 GiB that its header can state.
pub fn recorded_to_bytes(recorded: &Recorded) -> io::Result<Vec<u8>> {
    let texts: Vec<String> = recorded.bars.iter().map(|bar| bar.heard.to_text()).collect();
    let beside = format!("{BESIDE}{}", recorded.title);
    write(vec![conductor(recorded, &beside, &texts), take(recorded)])
}

fn conductor<'a>(recorded: &'a Recorded, beside: &'a str, texts: &'a [String]) -> WrittenTrack<'a> {
    let mut metas: Vec<(Ticks, Event<'_>)> = vec![
        (Ticks::ZERO, Event::TrackName(recorded.title.as_bytes())),
        (Ticks::ZERO, Event::Text(beside.as_bytes())),
    ];
    metas.extend(
        recorded
            .tempos
            .iter()
            .map(|&(at, tempo)| (at.max(Ticks::ZERO), Event::Tempo(tempo.micros_per_quarter()))),
    );
    let (mut meter, mut key): (Option<BarMeter>, Option<Key>) = (None, None);
    // What sounds first is known before: in a count-in too.
    let first = recorded.bars.iter().find_map(|bar| bar.song().map(|song| song.key));
    for (bar, text) in recorded.bars.iter().zip(texts) {
        if meter.replace(bar.meter) != Some(bar.meter) {
            metas.push((bar.start, time_signature(bar.meter)));
        }
        if let Some(here) = bar.song().map(|song| song.key).or(first.filter(|_| key.is_none()))
            && key.replace(here) != Some(here)
        {
            let (accidentals, minor) = here.signature();
            metas.push((bar.start, Event::KeySignature { accidentals, minor }));
        }
        if let Some(pass) = &bar.pass {
            metas.push((bar.start, Event::Marker(pass.as_bytes())));
        }
        metas.push((bar.start, Event::Text(text.as_bytes())));
    }
    // A stable sort: at one place in this order.
    metas.sort_by_key(|(at, _)| *at);
    let mut line = TrackWriter::new(metas.len());
    for (at, meta) in metas {
        line.push(at, meta);
    }
    line.finish(recorded.end())
}

fn take(recorded: &Recorded) -> WrittenTrack<'_> {
    let mut line = TrackWriter::new(recorded.played.len() + 2);
    line.push(Ticks::ZERO, Event::TrackName(TAKE));
    for (at, played) in &recorded.played {
        line.push(*at, Event::channel(played.bytes()));
    }
    line.finish(recorded.end())
}
