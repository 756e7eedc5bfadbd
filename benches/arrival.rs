//! When messages arrive at a receiver, against the times of the exported file: sent the moment they are
//! due, as to a port that knows no time, and scheduled ahead on their frames. By turns in the same run,
//! through a JACK server without hardware, in short and in long periods, idle and with every core busy,
//! at ordinary and at raised priority.
//!
//! `cargo bench --bench arrival` takes 7 minutes; `cargo bench --bench arrival -- 1` plays a quarter of
//! that. The figures are microseconds. "Late" counts from the due time, by the server's clock. "Off" is
//! how far a message lies from its place among the others, by the server's count of frames: what a
//! listener hears of it.
#![allow(missing_docs, clippy::unwrap_used)]

#[cfg(unix)]
#[path = "../tests/playing/mod.rs"]
mod playing;
#[cfg(unix)]
mod shared;

#[cfg(unix)]
mod unix {
    use std::thread;
    use std::time::{Duration, Instant};

    use openchair::live::{
        Command, Control, MonotonicClock, Score, Settings, Slot, Supply, engine, raise_priority,
    };
    use openchair::perform::Message;
    use openchair::ports::{PortSource, PortTarget};
    use openchair::sink::{AT_ONCE, Losses, MidiOut, SendError};
    use openchair::time::Nanos;

    use super::playing::checker::{Checker, Expected, Found};
    use super::playing::due;
    use super::playing::jack::{Heard, Listener, is_inside, with_server_again};
    use super::shared::{Load, apart, at, measures, median, micros, number, song_of};

    /// Frames: as short as is usual, and as long.
    const PERIODS: [u32; 2] = [128, 1024];

    /// Turns of each way a condition: short ones, so that a bad moment of the machine hits both.
    const TURNS: usize = 4;

    /// About so long is a turn, in seconds, at a tempo that gives as many messages as can be.
    const TURN: f64 = 5.0;
    const SPEED: f64 = 400.0;

    const SECOND: i64 = 1_000_000_000;

    #[derive(Clone, Copy)]
    enum Way {
        AtItsTime,
        Ahead,
    }

    pub fn main() {
        if !measures() {
            return;
        }
        let turns = number().map_or(TURNS, |turns| turns as usize).max(1);
        for period in PERIODS {
            let name = format!("arrival-{period}");
            if is_inside(&name) {
                return conditions(period, turns);
            }
        }
        println!(
            "| period | priority | machine | sent | late p50 | p99 | p99.9 | off p50 | p99 | p99.9 |"
        );
        println!("| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |");
        for period in PERIODS {
            let name = format!("arrival-{period}");
            match with_server_again(&name, period, &["--bench", &turns.to_string()]) {
                None => return,
                Some(status) if status.success() => {}
                Some(status) => std::process::exit(status.code().unwrap_or(1)),
            }
        }
    }

    fn conditions(period: u32, turns: usize) {
        let load = Load::new();
        for (raised, priority) in [(false, "ordinary"), (true, "real-time")] {
            for (busy, machine) in [(false, "idle"), (true, "busy")] {
                load.work(busy);
                let mut turns_of = [Turns::default(), Turns::default()];
                for _ in 0..turns {
                    for (of, way) in turns_of.iter_mut().zip([Way::AtItsTime, Way::Ahead]) {
                        of.add(turn(way, raised));
                    }
                }
                for (of, sent) in turns_of.into_iter().zip(["at its time", "ahead"]) {
                    println!("| {period} | {priority} | {machine} | {sent} | {} |", of.figures());
                }
            }
        }
    }

    #[derive(Default)]
    struct Turns {
        late: Vec<i64>,
        off: Vec<i64>,
    }

    impl Turns {
        fn add(&mut self, turn: Turn) {
            self.late.extend(turn.late.iter().map(|it| it.abs()));
            // Where the first one lay is chance.
            let middle = median(turn.off.clone());
            self.off.extend(turn.off.iter().map(|it| (it - middle).abs()));
        }

        fn figures(mut self) -> String {
            let mut figures = Vec::new();
            for values in [&mut self.late, &mut self.off] {
                values.sort_unstable();
                figures.extend([0.5, 0.99, 0.999].map(|part| micros(at(values, part))));
            }
            figures.join(" | ")
        }
    }

    /// How far each message was off its due time by the server's clock, and off its place by the count
    /// of frames.
    struct Turn {
        late: Vec<i64>,
        off: Vec<i64>,
    }

    fn turn(way: Way, raised: bool) -> Turn {
        let (arrangement, performance) = song_of(TURN, SPEED);
        let expected = due(&performance).into_iter();
        let expected = expected.map(|due| Expected { at: due.at.0, bytes: due.message.bytes().0 });
        let expected: Vec<Expected> = expected.collect();
        let mut listener = Listener::new("listener");
        let clock = MonotonicClock::new();
        let (_, out) =
            PortSource::open(&PortTarget::Named("listener".to_owned()), clock.epoch()).unwrap();
        let out = match way {
            Way::AtItsTime => Box::new(AtItsTime(out)),
            Way::Ahead => out,
        };
        let (mut engine, mut ends) = engine(Settings {
            score: Box::new(Score::new(0, &arrangement, &performance)),
            tempo: performance.tempo,
            clock: None,
            plays_on: false,
        });
        engine.install(Supply { slot: Slot::Port, out });
        ends.remote.send(Command::Go).unwrap();
        let player = thread::spawn(move || {
            if raised && let Err(refusal) = raise_priority() {
                println!("{refusal}");
                std::process::exit(1);
            }
            engine.run(&clock, &Control::new()).unwrap()
        });
        // The first that is told of is the first bar.
        let give_up = Instant::now() + Duration::from_secs(10);
        let begins = loop {
            if let Some(status) = ends.remote.next_status() {
                break status.bar_start.0;
            }
            assert!(Instant::now() < give_up, "it does not begin");
            thread::sleep(Duration::from_millis(5));
        };
        while !player.is_finished() {
            ends.remote.status();
            thread::sleep(Duration::from_millis(5));
        }
        let report = player.join().unwrap();
        thread::sleep(Duration::from_millis(100));
        let apart = apart(&clock, listener.client());
        let rate = i64::from(listener.client().sample_rate());
        let heard = listener.listen();
        let by_clock = |it: &Heard| it.micros.cast_signed() * 1000 + apart - begins;
        let first = heard[0];
        let zero = by_clock(&first);
        let by_frame = |it: &Heard| {
            let frames = i64::from(it.frame.wrapping_sub(first.frame).cast_signed());
            zero + frames * SECOND / rate
        };
        let (found, late) = held(&expected, heard, by_clock);
        let (_, off) = held(&expected, heard, by_frame);
        let well = Found { heard: expected.len(), ..Found::default() };
        if found != well || report.losses != Losses::default() {
            eprintln!("of {}: {found:?}, {:?}", expected.len(), report.losses);
        }
        Turn { late, off }
    }

    fn held(
        expected: &[Expected],
        heard: &[Heard],
        at: impl Fn(&Heard) -> i64,
    ) -> (Found, Vec<i64>) {
        let mut checker = Checker::new(expected.to_vec());
        heard.iter().for_each(|it| checker.hear(at(it), it.bytes));
        checker.end()
    }

    /// An output that sends each message the moment it gets it.
    struct AtItsTime(Box<dyn MidiOut>);

    impl MidiOut for AtItsTime {
        fn ahead(&self) -> Nanos {
            Nanos(0)
        }

        fn send(&mut self, _due: Nanos, message: Message) -> Result<(), SendError> {
            self.0.send(AT_ONCE, message)
        }

        fn take_back(&mut self, _from: Nanos) {}

        fn is_lost(&self) -> bool {
            self.0.is_lost()
        }

        fn losses(&self) -> Losses {
            self.0.losses()
        }

        fn close(self: Box<Self>) {
            self.0.close();
        }
    }
}

fn main() {
    #[cfg(unix)]
    unix::main();
    #[cfg(not(unix))]
    println!("JACK is looked for on Unix alone");
}
