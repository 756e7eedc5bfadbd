//! A recording of a player beside the band, as [`sink::smf`](crate::sink::smf) writes it.

use crate::midi_file::{Event, Timing, read};
use crate::take::{BESIDE, HeardBar, Played, Recorded, RecordedBar};
use crate::time::{BarMeter, Tempo, Ticks};

/// Reads a recording from a Standard MIDI File. `None` where it is no such file, or does not tell the bars
/// of a song: then it was not recorded beside the band, or another program has taken that out.
pub fn read_recorded(bytes: &[u8]) -> Option<Recorded> {
    let file = read(bytes).ok()?;
    let Timing::Quarter(per_quarter) = file.timing else { return None };
    let per_quarter = i64::from(per_quarter);
    if per_quarter == 0 || file.patterns {
        return None;
    }
    let mut title = None;
    let mut meters: Vec<(Ticks, BarMeter)> = Vec::new();
    let mut heard: Vec<(Ticks, HeardBar)> = Vec::new();
    let mut passes: Vec<(Ticks, String)> = Vec::new();
    let (mut tempos, mut played) = (Vec::new(), Vec::new());
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    for (ticks, event) in file.tracks.into_iter().flatten() {
        // Another program may have saved it in ticks of its own.
        let ticks = i64::try_from(ticks).unwrap_or(i64::MAX);
        let at = Ticks::new(ticks.saturating_mul(Ticks::QUARTER.get()) / per_quarter);
        match event {
            Event::Tempo(micros) => tempos.push((at, Tempo::from_micros(micros))),
            Event::TimeSignature { numerator, power, .. } => {
                let lower = 1_u32.checked_shl(power.into()).unwrap_or(0);
                meters.push((at, BarMeter::parse(&format!("{numerator}/{lower}"))?));
            }
            Event::Marker(name) => passes.push((at, text(name))),
            Event::Text(words) => {
                let words = text(words);
                heard.extend(HeardBar::from_text(&words).map(|bar| (at, bar)));
                title = title.or(words.strip_prefix(BESIDE).map(str::to_owned));
            }
            Event::Channel(bytes, length) => {
                let message = bytes.get(..length).unwrap_or_default();
                played.extend(Played::from_bytes(message).map(|it| (at, it)));
            }
            _ => {}
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
    let hits = Vec::new();
    tells.then(|| Recorded { title: title.unwrap_or_default(), bars, tempos, played, hits })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::{Role, RoleSet};
    use crate::sink::smf::recorded_to_bytes;
    use crate::take::SongBar;
    use crate::theory::Key;
    use crate::time::Meter;

    fn recorded() -> Recorded {
        let bar = |start: i64, meter: Meter, heard, pass: Option<&str>| RecordedBar {
            start: Ticks::new(start),
            meter: meter.into(),
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
                lost_time: number == 2,
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
            hits: Vec::new(),
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
