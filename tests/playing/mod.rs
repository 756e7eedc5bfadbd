//! Performances made up for tests: a bass, a chop and a guitar with chords, by a seed.
#![allow(dead_code, missing_docs, clippy::unwrap_used, clippy::panic)]

#[cfg(unix)]
pub mod jack;
#[cfg(unix)]
pub mod tape;

use openchair::chart::Role;
use openchair::perform::{Instrument, Note, Part, Performance};
use openchair::theory::{Key, Letter, MidiNote, Mode, PitchName};
use openchair::time::{Meter, Tempo, Ticks};

/// 150 beats a minute: 1.6 s a bar.
const BEATS_A_MINUTE: f64 = 150.0;

fn empty(bars: i64) -> Performance {
    Performance {
        title: "Mill Wheel Turning".to_owned(),
        key: Key { tonic: PitchName::new(Letter::G, 0), mode: Mode::Major },
        tempo: Tempo::new(BEATS_A_MINUTE, Meter::FourFour, 100.0),
        meters: vec![(Ticks::ZERO, Meter::FourFour)],
        markers: Vec::new(),
        chords: Vec::new(),
        parts: Vec::new(),
        clicks: Vec::new(),
        ending: None,
        song_start: Ticks::ZERO,
        end: Meter::FourFour.bar() * bars,
    }
}

fn note(start: i64, length: i64, pitch: u8, velocity: u8) -> Note {
    Note {
        start: Ticks::new(start),
        end: Ticks::new(start + length),
        pitch: MidiNote::new(pitch).unwrap(),
        velocity,
    }
}

/// Bass on beats 1 and 3, chop on 2 and 4 in chords of four, guitar strumming chords of five whose
/// strings ring until they are struck again; a bar of clicks at the front. Humanised by `seed`.
pub fn performance(seed: u64, bars: i64) -> Performance {
    let mut state = seed | 1;
    let mut random = move |below: i64| {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state >> 33) as i64 % below
    };
    let mut bass = Vec::new();
    let mut chop = Vec::new();
    let mut guitar = Vec::new();
    for bar in 1..bars {
        for half in 0..2 {
            let beat = bar * 3840 + half * 1920;
            bass.push(note(beat + random(20), 1700 + random(200), 31 + random(12) as u8, 90));
            let chop_at = beat + 960 + random(20);
            for string in 0..4 {
                let at = chop_at + string * 4;
                chop.push(note(at, 100 + random(60), 57 + 7 * string as u8, 80 + random(20) as u8));
            }
            for string in 0..5 {
                let at = beat + 960 + random(20) + string * 8;
                // Up to the very same string's next stroke.
                let until = beat + 960 + 1920 + string * 8;
                let end = until.min(bars * 3840);
                guitar.push(note(at, end - at, 43 + 5 * string as u8, 60 + random(30) as u8));
            }
        }
    }
    let part = |role, program, notes| Part {
        role,
        instrument: Instrument { program, volume: 100, pan: 64 },
        notes,
    };
    Performance {
        parts: vec![
            part(Role::Bass, 32, bass),
            part(Role::Chop, 25, chop),
            part(Role::Guitar, 25, guitar),
        ],
        clicks: (0..4).map(|beat| note(beat * 960, 100, 76, 100)).collect(),
        ending: None,
        song_start: Ticks::new(3840),
        ..empty(bars)
    }
}

/// A single chord that rings, silence for a minute, then one more note.
pub fn long_rest() -> Performance {
    let notes = vec![note(0, 480, 43, 80), note(0, 120_000, 47, 80), note(144_000, 480, 43, 80)];
    Performance {
        parts: vec![Part {
            role: Role::Guitar,
            instrument: Instrument { program: 25, volume: 100, pan: 64 },
            notes,
        }],
        ..empty(40)
    }
}
