//! What holds for every exported file, whatever the song: its form, who plays and who is silent,
//! when, and what of it is the chart's.
#![allow(dead_code)] // Not every test binary looks at everything.

use openchair::chart::Role;
use openchair::style::Style;
use openchair::theory::{Key, Mode};
use openchair::time::BarMeter;

use super::midi_file::{
    CUE_POINT, KEY_SIGNATURE, MARKER, MidiFile, Note, TEMPO, TEXT, TIME_SIGNATURE, TRACK_NAME,
    Track,
};
use super::played::Played;
use super::timetable::{Timetable, bar_length, quarters_a_beat};

/// Checks the whole file.
pub fn hold(file: &MidiFile, title: &str, sheet: &Timetable, style: &Style) {
    assert_eq!((file.format, file.division), (1, 960));
    conductor(&file.tracks[0], title, sheet);
    let names: Vec<String> = file.tracks[1..].iter().map(|t| t.name().unwrap()).collect();
    let mut wanted: Vec<&str> = Role::ALL.map(Role::as_str).to_vec();
    wanted.push("count-in");
    wanted.retain(|name| names.iter().any(|other| other == name));
    assert_eq!(names, wanted, "one track a role, in the order of the roles, named by it");
    let channels: Vec<Vec<u8>> = file.tracks[1..].iter().map(Track::channels).collect();
    for (at, own) in channels.iter().enumerate() {
        assert_eq!(own.len(), 1, "{} keeps to one channel", names[at]);
        assert!(!channels[..at].contains(own), "{} has a channel of its own", names[at]);
    }
    for track in &file.tracks {
        assert_eq!(track.end(), sheet.end, "every track ends with the song");
    }
    count_in(file, sheet);
    for role in Role::ALL {
        let Some(part) = style.part(role) else { continue };
        let track = file.track(role.as_str());
        if let Some(expected) = can_be_heard(sheet, part, role) {
            assert_eq!(track.is_some(), expected, "a track for {role}");
        }
        if let Some(track) = track {
            Played::new(role, track, sheet, part).hold(track);
        }
    }
}

fn conductor(track: &Track, title: &str, sheet: &Timetable) {
    assert_eq!(track.texts(TRACK_NAME), [(0, title.to_owned())], "the title");
    let tempos: Vec<(i64, [u8; 4])> =
        sheet.tempos.iter().map(|&(at, micros)| (at, micros.to_be_bytes())).collect();
    let tempos: Vec<(i64, &[u8])> = tempos.iter().map(|(at, bytes)| (*at, &bytes[1..])).collect();
    assert_eq!(track.metas(TEMPO).collect::<Vec<_>>(), tempos, "each tempo where it begins");
    let (sharps, minor) = signature(sheet.key);
    let key = [sharps as u8, u8::from(minor)];
    assert_eq!(track.metas(KEY_SIGNATURE).collect::<Vec<_>>(), [(0, &key[..])], "{}", sheet.key);
    assert_eq!(track.texts(MARKER), sheet.passes, "a marker a pass");
    let cues = track.texts(CUE_POINT);
    assert_eq!(cues, sheet.cues, "what is no pass of the form as cue points");
    let name = |chord: Option<openchair::theory::Chord>| {
        chord.map_or("N.C.".to_owned(), |chord| chord.to_string())
    };
    let chords: Vec<(i64, String)> =
        sheet.chords.iter().map(|chord| (chord.start, name(chord.value))).collect();
    let bridged = track.texts(TEXT).into_iter().filter(|(_, text)| !text.is_empty());
    assert_eq!(bridged.collect::<Vec<_>>(), chords, "a text where the chord changes");
    let mut meters: Vec<(i64, BarMeter)> =
        vec![(0, if sheet.start > 0 { sheet.meter.into() } else { sheet.bars[0].meter })];
    for bar in &sheet.bars {
        if meters[meters.len() - 1].1 != bar.meter {
            meters.push((bar.start, bar.meter));
        }
    }
    let meters: Vec<(i64, [u8; 4])> =
        meters.into_iter().map(|(at, meter)| (at, time_signature(meter))).collect();
    let found: Vec<(i64, [u8; 4])> =
        track.metas(TIME_SIGNATURE).map(|(at, bytes)| (at, bytes.try_into().unwrap())).collect();
    assert_eq!(found, meters, "a time signature where the meter changes");
    assert_eq!(track.channels(), [0; 0], "the conductor plays nothing");
}

/// FF 58 of the Standard MIDI-File Format Spec. 1.1: numerator, power of two, MIDI clocks (24 a
/// quarter) a beat, 32nds a quarter. Its own example for 6/8 in dotted quarters is 06 03 24 08.
fn time_signature(meter: BarMeter) -> [u8; 4] {
    // A metronome clicks 24 MIDI clocks to the quarter: beats, or single eighths where they don't go by threes.
    let (power, clocks) = match (meter, meter.denominator()) {
        (BarMeter::Of(meter), under) => (under.ilog2(), (24.0 * quarters_a_beat(meter)) as u8),
        (BarMeter::Crooked(_), 4) => (2, 24),
        (BarMeter::Crooked(_), 8) if meter.numerator().is_multiple_of(3) => (3, 36),
        (BarMeter::Crooked(_), _) => (3, 12),
    };
    [meter.numerator(), power as u8, clocks, 8]
}

/// FF 59: sharps or flats by the circle of fifths, F C G D A E B; modes have the signature of the
/// major key whose notes they use.
fn signature(key: Key) -> (i8, bool) {
    let letter = "FCGDAEB".find(key.tonic.letter.as_char()).unwrap() as i8 - 1;
    let major = letter + 7 * key.tonic.accidental;
    let sharps = match key.mode {
        Mode::Major => major,
        Mode::Mixolydian => major - 1,
        Mode::Dorian => major - 2,
        Mode::Minor => major - 3,
    };
    let written = match sharps {
        ..-7 => sharps + 12,
        8.. => sharps - 12,
        _ => sharps,
    };
    (written, key.mode == Mode::Minor)
}

fn count_in(file: &MidiFile, sheet: &Timetable) {
    let track = file.track("count-in");
    assert_eq!(track.is_some(), sheet.start > 0, "clicks where there is a count-in");
    let Some(track) = track else { return };
    // General MIDI percussion: channel 10, which is 9 in the file; 76 and 77 the wood blocks.
    assert_eq!(track.channels(), [9]);
    let beat = (quarters_a_beat(sheet.meter) * 960.0) as i64;
    let bar = bar_length(sheet.meter);
    let wanted: Vec<(i64, u8)> = (0..sheet.start)
        .step_by(beat as usize)
        .map(|at| (at, if at % bar == 0 { 76 } else { 77 }))
        .collect();
    let clicks = track.notes().unwrap();
    let found: Vec<(i64, u8)> = clicks.iter().map(|note| (note.start, note.key)).collect();
    assert_eq!(found, wanted);
    assert!(clicks.iter().all(|click: &Note| click.end <= sheet.start));
}

/// True if the role has a whole bar to play in, false if it has nowhere to; `None` where its bars
/// are part silence, so that its pattern may have nothing left.
fn can_be_heard(sheet: &Timetable, part: &openchair::style::RoleStyle, role: Role) -> Option<bool> {
    let unit = super::played::grid(part, sheet);
    let heard = |bar: &super::timetable::Bar| {
        let mut places = (bar.start..bar.end).step_by(unit as usize);
        let all = places.clone().all(|at| sheet.heard(role, at));
        (all, places.any(|at| sheet.heard(role, at)))
    };
    if sheet.bars.iter().any(|bar| bar.kickoff && sheet.heard(role, bar.start)) {
        return Some(true);
    }
    let bars: Vec<(bool, bool)> = sheet.bars.iter().filter(|bar| !bar.kickoff).map(heard).collect();
    if bars.iter().any(|&(all, _)| all) {
        return Some(true);
    }
    let new_root =
        role == Role::Bass && sheet.chords.iter().any(|chord| sheet.heard(role, chord.start));
    if new_root {
        return Some(true);
    }
    (!bars.iter().any(|&(_, any)| any)).then_some(false)
}
