//! How late the playing thread wakes for a message, beside the bare floor: a thread that does nothing
//! but wait for the same deadlines in the same way. Both are measured by turns in the same run, idle
//! and with every core busy, at ordinary and at raised priority.
//!
//! `cargo bench --bench wakeup` takes 11 minutes; `cargo bench --bench wakeup -- 1 real-time` does one
//! run of the five at one priority. The figures are microseconds; each is the median over the runs.
#![allow(missing_docs, clippy::unwrap_used)]

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{self, SyncSender};
use std::thread;

use openchair::chart::Role;
use openchair::live::{
    Clock, Command, Control, MonotonicClock, Score, Settings, Slot, Supply, engine, raise_priority,
};
use openchair::perform::{Instrument, Message, Note, Part, Performance, Swing};
use openchair::sink::{MidiOut, SendError};
use openchair::theory::{Key, Letter, MidiNote, Mode, PitchName};
use openchair::time::{Meter, Nanos, Tempo, Ticks};

/// No whole number of any period, or the spread looks falsely small.
const INTERVAL: Nanos = Nanos(10_370_000);
/// Messages a turn, and turns a run: short ones, so that a bad moment of the machine hits all alike.
const TURN: usize = 50;
const TURNS: usize = 20;

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    if !arguments.iter().any(|argument| argument == "--bench") {
        println!("measures only under cargo bench");
        return;
    }
    let runs = arguments.iter().find_map(|it| it.parse().ok()).unwrap_or(5);
    println!("| priority | machine | what | p50 | p99 | p99.9 | p99 to the floor's |");
    println!("| --- | --- | --- | --- | --- | --- | --- |");
    for (raised, name) in [(false, "ordinary"), (true, "real-time")] {
        let other = if raised { "ordinary" } else { "real-time" };
        if arguments.iter().any(|argument| argument == other) {
            continue;
        }
        for busy in [false, true] {
            condition(name, raised, busy, runs);
        }
    }
}

/// Gives how late each message or deadline was, in nanoseconds.
type Measure = fn() -> Vec<i64>;

/// What is measured by turns. The floor twice: how far its two halves lie apart is what the ratio of
/// two equal things comes to on this machine now.
const MEASURED: [(&str, Measure); 3] =
    [("floor", floor), ("sender", sender), ("floor again", floor)];

fn condition(priority: &str, raised: bool, busy: bool, runs: usize) {
    let stop = Arc::new(AtomicBool::new(false));
    let cores = thread::available_parallelism().map_or(1, usize::from);
    let load: Vec<_> = (0..if busy { cores } else { 0 })
        .map(|_| {
            let stop = Arc::clone(&stop);
            thread::spawn(move || {
                while !stop.load(Ordering::Relaxed) {
                    std::hint::spin_loop();
                }
            })
        })
        .collect();
    let mut figures: [Vec<[f64; 3]>; 3] = Default::default();
    for _ in 0..runs {
        let mut errors: [Vec<i64>; 3] = Default::default();
        for _ in 0..TURNS {
            for (errors, (_, measure)) in errors.iter_mut().zip(MEASURED) {
                let turn = thread::spawn(move || {
                    if raised && let Err(refusal) = raise_priority() {
                        println!("{refusal}");
                        std::process::exit(1);
                    }
                    measure()
                });
                errors.extend(turn.join().unwrap());
            }
        }
        for (figures, errors) in figures.iter_mut().zip(&mut errors) {
            errors.sort_unstable();
            let at = |part: f64| errors[(errors.len() as f64 * part) as usize] as f64 / 1000.0;
            figures.push([at(0.5), at(0.99), at(0.999)]);
        }
    }
    stop.store(true, Ordering::Relaxed);
    load.into_iter().for_each(|thread| thread.join().unwrap());
    let machine = if busy { "busy" } else { "idle" };
    let median = |mut values: Vec<f64>| {
        values.sort_by(f64::total_cmp);
        values[values.len() / 2]
    };
    for ((what, _), rows) in MEASURED.iter().zip(&figures) {
        let column = |column: usize| median(rows.iter().map(|row| row[column]).collect());
        let (p50, p99, p999) = (column(0), column(1), column(2));
        // To the floor of the same run.
        let ratios = rows.iter().zip(&figures[0]).map(|(row, floor)| row[1] / floor[1]);
        let ratio = median(ratios.collect());
        println!(
            "| {priority} | {machine} | {what} | {p50:.1} | {p99:.1} | {p999:.1} | {ratio:.2} |"
        );
    }
}

/// Only waits.
fn floor() -> Vec<i64> {
    let clock = MonotonicClock::new();
    let mut errors = Vec::with_capacity(TURN);
    let start = clock.now().0 + 50_000_000;
    for index in 0..TURN {
        let deadline = Nanos(start + index as i64 * INTERVAL.0);
        clock.wait_until(deadline);
        errors.push(clock.now().0 - deadline.0);
    }
    errors
}

/// Plays to an output that takes messages as a system port does, and only reads the time.
fn sender() -> Vec<i64> {
    // 20 ticks are one interval.
    let tempo = Tempo::new(60e9 / (INTERVAL.0 as f64 * 48.0), Meter::FourFour, 100.0);
    assert_eq!(tempo.nanos(Ticks::new(20)), INTERVAL);
    let pitch = MidiNote::new(60).unwrap();
    let notes = (0..TURN as i64 / 2).map(|index| Note {
        start: Ticks::new(index * 40),
        end: Ticks::new(index * 40 + 20),
        pitch,
        velocity: 64,
        slurred: None,
        bar: 0,
    });
    let part = Part {
        role: Role::Bass,
        instrument: Instrument { program: 32, volume: 100, pan: 64 },
        programs: Vec::new(),
        notes: notes.collect(),
    };
    let performance = Performance {
        title: String::new(),
        key: Key { tonic: PitchName::new(Letter::G, 0), mode: Mode::Major },
        tempo,
        meters: vec![(Ticks::ZERO, Meter::FourFour.into())],
        markers: Vec::new(),
        chords: Vec::new(),
        touch: Default::default(),
        parts: vec![part],
        clicks: Vec::new(),
        swing: Swing::EVEN,
        slowing: Vec::new(),
        cues: Vec::new(),
        song_start: Ticks::ZERO,
        end: Ticks::new(TURN as i64 * 20),
    };
    let clock = MonotonicClock::new();
    let (late, errors) = mpsc::sync_channel(TURN);
    let (mut engine, mut ends) = engine(Settings {
        score: Box::new(Score::whole(0, &performance)),
        tempo,
        clock: None,
        plays_on: false,
    });
    let out = Box::new(Stamp { clock, late });
    engine.install(Supply { slot: Slot::Port, out });
    ends.remote.send(Command::Go).unwrap();
    engine.run(&clock, &Control::new()).unwrap();
    errors.try_iter().collect()
}

struct Stamp {
    clock: MonotonicClock,
    late: SyncSender<i64>,
}

impl MidiOut for Stamp {
    fn ahead(&self) -> Nanos {
        Nanos(0)
    }

    fn send(&mut self, due: Nanos, message: Message) -> Result<(), SendError> {
        // The set-up comes all at once, before the first note.
        if matches!(message, Message::NoteOn { .. } | Message::NoteOff { .. }) {
            let _ = self.late.try_send(self.clock.now().0 - due.0);
        }
        Ok(())
    }

    fn take_back(&mut self, _from: Nanos) {}

    fn close(self: Box<Self>) {}
}
