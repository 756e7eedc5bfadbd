//! Performances made up for tests: a bass, a chop and a guitar with chords, by a seed.
#![allow(dead_code, missing_docs, clippy::unwrap_used, clippy::panic)]

pub mod checker;
#[cfg(unix)]
pub mod jack;
#[cfg(unix)]
pub mod leash;
pub mod model;
pub mod probe;
#[cfg(unix)]
pub mod program;
#[cfg(unix)]
pub mod receiver;
pub mod show;
#[cfg(unix)]
pub mod tape;
pub mod turn;

use openchair::chart::Role;
use openchair::live::{
    Clock, Command, Control, Engine, MonotonicClock, PlayError, PlayReport, Score, Settings, Slot,
    Supply, engine, raise_priority,
};
use openchair::perform::{Instrument, Message, Note, Part, Performance, Swing, messages};
use openchair::ports::{PortError, PortSource, PortTarget};
use openchair::sink::MidiOut;
use openchair::theory::{Key, Letter, MidiNote, Mode, PitchName};
use openchair::time::{Meter, Nanos, Tempo, Ticks};

/// 150 beats a minute: 1.6 s a bar.
const BEATS_A_MINUTE: f64 = 150.0;

fn empty(bars: i64) -> Performance {
    Performance {
        title: "Mill Wheel Turning".to_owned(),
        key: Key { tonic: PitchName::new(Letter::G, 0), mode: Mode::Major },
        tempo: Tempo::new(BEATS_A_MINUTE, Meter::FourFour, 100.0),
        meters: vec![(Ticks::ZERO, Meter::FourFour.into())],
        markers: Vec::new(),
        chords: Vec::new(),
        touch: Default::default(),
        parts: Vec::new(),
        clicks: Vec::new(),
        swing: Swing::EVEN,
        slowing: Vec::new(),
        cues: Vec::new(),
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
        slurred: None,
        bar: 0,
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
    let part = |role, program, mut notes: Vec<Note>| {
        // As a performance holds them.
        notes.sort_by_key(|note| (note.start, note.pitch));
        Part {
            role,
            instrument: Instrument { program, volume: 100, pan: 64 },
            programs: Vec::new(),
            notes,
        }
    };
    Performance {
        parts: vec![
            part(Role::Bass, 32, bass),
            part(Role::Chop, 25, chop),
            part(Role::Guitar, 25, guitar),
        ],
        clicks: (0..4).map(|beat| note(beat * 960, 100, 76, 100)).collect(),
        swing: Swing::EVEN,
        slowing: Vec::new(),
        cues: Vec::new(),
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
            programs: Vec::new(),
            notes,
        }],
        ..empty(40)
    }
}

/// A message and when it is due, from the performance's time 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Due {
    pub at: Nanos,
    pub message: Message,
}

/// When each message of an exported file is due when it is played: each channel's set-up a tenth of a
/// second before time 0, then the notes, and at one instant the ends first.
pub fn due(performance: &Performance) -> Vec<Due> {
    let due = messages(performance).into_iter().map(|timed| {
        let set_up = matches!(timed.message, Message::Control { .. } | Message::Program { .. });
        let at = if set_up { Nanos(-100_000_000) } else { performance.tempo.nanos(timed.at) };
        Due { at, message: timed.message }
    });
    let mut due: Vec<Due> = due.collect();
    due.sort_by_key(|due| (due.at, matches!(due.message, Message::NoteOn { .. })));
    due
}

/// When the last bar of a performance ends.
pub fn end(performance: &Performance) -> Nanos {
    performance.tempo.nanos(performance.end)
}

/// Plays a whole performance to one output, straight through.
pub fn play_through(
    performance: &Performance,
    out: Box<dyn MidiOut>,
    clock: &dyn Clock,
    control: &Control,
) -> Result<PlayReport, PlayError> {
    ready(performance, out).run(clock, control)
}

/// An engine that has been told to play a whole performance to one output.
pub fn ready(performance: &Performance, out: Box<dyn MidiOut>) -> Engine {
    let (mut engine, mut ends) = engine(Settings {
        score: Box::new(Score::whole(0, performance)),
        tempo: performance.tempo,
        clock: None,
        plays_on: false,
    });
    engine.install(Supply { slot: Slot::Port, out });
    ends.remote.send(Command::Go).unwrap();
    engine
}

/// Why nothing, or not all, was played to a port.
#[derive(Debug, PartialEq, Eq)]
pub enum NoPlay {
    Port(PortError),
    Play(PlayError),
}

/// Plays a whole performance to a port, as the program does, but straight through; the first failure
/// ends it.
pub fn play_to_port(
    performance: &Performance,
    target: &PortTarget,
    control: &Control,
) -> Result<PlayReport, NoPlay> {
    let clock = MonotonicClock::new();
    let (_, out) = PortSource::open(target, clock.epoch()).map_err(NoPlay::Port)?;
    let engine = ready(performance, out);
    std::thread::scope(|scope| {
        let player = scope.spawn(|| {
            let _ = raise_priority();
            engine.run(&clock, control)
        });
        player.join().unwrap().map_err(NoPlay::Play)
    })
}
