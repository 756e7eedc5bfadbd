//! A recording of a player beside the band: written so that it lies on the song's bars, and read back.

use std::io;

use midly::live::LiveEvent;
use midly::num::{u15, u24};
use midly::{Format, Header, MetaMessage, Smf, Timing, Track, TrackEventKind};

use super::{Line, time_signature};
use crate::take::{HeardBar, Played, Recorded, RecordedBar};
use crate::theory::Key;
use crate::time::{Meter, Tempo, Ticks};

/// The name of the track with what was played.
const TAKE: &[u8] = b"take";

/// What stands before the title of the song that it was played beside. A track's name would not do: other
/// programs put tracks in an order of their own.
const BESIDE: &str = "openchair: beside ";

/// The bytes of a recording as a Standard MIDI File: a conductor track with title, tempos, meters, keys, a
/// marker for each pass of the form and a text for each bar, and a track `take` with what was played.
///
/// # Errors
/// Only if a track outgrows the 4 GiB that its header can state.
pub fn recorded_to_bytes(recorded: &Recorded) -> io::Result<Vec<u8>> {
    let texts: Vec<String> = recorded.bars.iter().map(|bar| bar.heard.to_text()).collect();
    let mut smf =
        Smf::new(Header::new(Format::Parallel, Timing::Metrical(u15::new(Ticks::PER_QUARTER))));
    let beside = format!("{BESIDE}{}", recorded.title);
    smf.tracks.push(conductor(recorded, &beside, &texts));
    smf.tracks.push(take(recorded));
    let mut bytes = Vec::new();
    smf.write_std(&mut bytes)?;
    Ok(bytes)
}

fn conductor<'a>(recorded: &'a Recorded, beside: &'a str, texts: &'a [String]) -> Track<'a> {
    let mut metas: Vec<(Ticks, MetaMessage)> = vec![
        (Ticks::ZERO, MetaMessage::TrackName(recorded.title.as_bytes())),
        (Ticks::ZERO, MetaMessage::Text(beside.as_bytes())),
    ];
    metas.extend(recorded.tempos.iter().map(|&(at, tempo)| {
        (at.max(Ticks::ZERO), MetaMessage::Tempo(u24::new(tempo.micros_per_quarter())))
    }));
    let (mut meter, mut key): (Option<Meter>, Option<Key>) = (None, None);
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
            metas.push((bar.start, MetaMessage::KeySignature(accidentals, minor)));
        }
        if let Some(pass) = &bar.pass {
            metas.push((bar.start, MetaMessage::Marker(pass.as_bytes())));
        }
        metas.push((bar.start, MetaMessage::Text(text.as_bytes())));
    }
    // A stable sort: at one place in this order.
    metas.sort_by_key(|(at, _)| *at);
    let mut line = Line::new(metas.len());
    for (at, meta) in metas {
        line.push(at, TrackEventKind::Meta(meta));
    }
    line.finish(recorded.end())
}

fn take(recorded: &Recorded) -> Track<'_> {
    let mut line = Line::new(recorded.played.len() + 2);
    line.push(Ticks::ZERO, TrackEventKind::Meta(MetaMessage::TrackName(TAKE)));
    for (at, played) in &recorded.played {
        if let Ok(LiveEvent::Midi { channel, message }) = LiveEvent::parse(played.bytes()) {
            line.push(*at, TrackEventKind::Midi { channel, message });
        }
    }
    line.finish(recorded.end())
}

/// Reads a recording from a Standard MIDI File. `None` where it is no such file, or does not tell the bars
/// of a song: then it was not recorded beside the band, or another program has taken that out.
pub fn read_recorded(bytes: &[u8]) -> Option<Recorded> {
    let smf = Smf::parse(bytes).ok()?;
    let Timing::Metrical(per_quarter) = smf.header.timing else { return None };
    let per_quarter = i64::from(per_quarter.as_int());
    if per_quarter == 0 || smf.header.format == Format::Sequential {
        return None;
    }
    let mut title = None;
    let mut meters: Vec<(Ticks, Meter)> = Vec::new();
    let mut heard: Vec<(Ticks, HeardBar)> = Vec::new();
    let mut passes: Vec<(Ticks, String)> = Vec::new();
    let (mut tempos, mut played) = (Vec::new(), Vec::new());
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    for track in &smf.tracks {
        let mut ticks = 0_i64;
        for event in track {
            ticks += i64::from(event.delta.as_int());
            // Another program may have saved it in ticks of its own.
            let at = Ticks::new(ticks.saturating_mul(Ticks::QUARTER.get()) / per_quarter);
            match event.kind {
                TrackEventKind::Meta(MetaMessage::Tempo(micros)) => {
                    tempos.push((at, Tempo::from_micros(micros.as_int())));
                }
                TrackEventKind::Meta(MetaMessage::TimeSignature(upper, power, ..)) => {
                    let lower = 1_u32.checked_shl(power.into()).unwrap_or(0);
                    meters.push((at, Meter::parse(&format!("{upper}/{lower}"))?));
                }
                TrackEventKind::Meta(MetaMessage::Marker(name)) => passes.push((at, text(name))),
                TrackEventKind::Meta(MetaMessage::Text(words)) => {
                    let words = text(words);
                    heard.extend(HeardBar::from_text(&words).map(|bar| (at, bar)));
                    title = title.or(words.strip_prefix(BESIDE).map(str::to_owned));
                }
                TrackEventKind::Midi { channel, message } => {
                    let mut bytes = Vec::with_capacity(3);
                    LiveEvent::Midi { channel, message }.write_std(&mut bytes).ok()?;
                    played.extend(Played::from_bytes(&bytes).map(|it| (at, it)));
                }
                _ => {}
            }
        }
    }
    heard.sort_by_key(|(at, _)| *at);
    meters.sort_by_key(|(at, _)| *at);
    tempos.sort_by_key(|(at, _)| *at);
    played.sort_by_key(|(at, _)| *at);
    let bars: Vec<RecordedBar> = heard
        .into_iter()
        .map(|(start, heard)| {
            let begun = meters.partition_point(|(at, _)| *at <= start);
            let meter = meters.get(begun.checked_sub(1)?)?.1;
            let pass = passes.iter().find(|(at, _)| *at == start).map(|(_, label)| label.clone());
            Some(RecordedBar { start, meter, heard, pass })
        })
        .collect::<Option<_>>()?;
    let tells = !tempos.is_empty() && bars.iter().any(|bar| bar.song().is_some());
    tells.then(|| Recorded { title: title.unwrap_or_default(), bars, tempos, played })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::{Role, RoleSet};
    use crate::take::SongBar;

    fn recorded() -> Recorded {
        let bar = |start: i64, meter: Meter, heard, pass: Option<&str>| RecordedBar {
            start: Ticks::new(start),
            meter,
            heard,
            pass: pass.map(str::to_owned),
        };
        let song = |number, whole| {
            HeardBar::Song(SongBar {
                number,
                key: Key::parse("E dorian").unwrap(),
                silent: RoleSet::EMPTY.with(Role::Chop),
                goes_on: number != 1,
                whole,
            })
        };
        let says = |at: i64, bytes: &[u8]| (Ticks::new(at), Played::from_bytes(bytes).unwrap());
        Recorded {
            title: "Mud on the Doorstep".to_owned(),
            bars: vec![
                bar(0, Meter::FourFour, HeardBar::CountIn, None),
                bar(3840, Meter::FourFour, song(1, true), Some("verse: voice")),
                bar(7680, Meter::TwoFour, song(2, false), None),
                bar(9600, Meter::TwoFour, HeardBar::Silence, None),
                bar(11520, Meter::TwoFour, song(2, true), None),
            ],
            tempos: vec![
                (Ticks::ZERO, Tempo::from_micros(500_000)),
                (Ticks::new(7700), Tempo::from_micros(600_000)),
            ],
            played: vec![
                says(3835, &[0x90, 55, 90]),
                says(4000, &[0xE0, 0, 80]),
                says(4100, &[0xC0, 105]),
                says(5000, &[0x80, 55, 64]),
            ],
        }
    }

    #[test]
    fn it_is_read_as_it_was_written() {
        let recorded = recorded();
        let bytes = recorded_to_bytes(&recorded).unwrap();
        assert_eq!(read_recorded(&bytes), Some(recorded));
    }

    #[test]
    fn other_files_are_none() {
        let recorded = recorded();
        let no_song = Recorded { bars: recorded.bars[..1].to_vec(), ..recorded.clone() };
        assert_eq!(read_recorded(&recorded_to_bytes(&no_song).unwrap()), None);
        assert_eq!(read_recorded(b"RIFF"), None);
        let bytes = recorded_to_bytes(&recorded).unwrap();
        for length in 0..bytes.len() {
            // Whatever is missing, nothing panics.
            let _ = read_recorded(&bytes[..length]);
        }
    }
}
