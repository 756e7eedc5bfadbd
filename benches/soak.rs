//! A long time of live playing through a real JACK server, with every core busy half of the time: is
//! each message heard once, in order, in time; does it drift; does memory grow; does the playing thread
//! ever ask the allocator for anything (then the process ends)?
//!
//! `cargo bench --bench soak` plays for half an hour; `cargo bench --bench soak -- 1` for a minute. Starts
//! a server of its own without hardware; at raised priority throughout if the system grants it. Ends with
//! status 1 if anything is amiss.
#![allow(missing_docs, clippy::unwrap_used)]

#[cfg(unix)]
#[path = "../tests/playing/mod.rs"]
mod playing;
#[cfg(unix)]
mod shared;

#[cfg(unix)]
mod unix {
    use std::process::ExitCode;
    use std::thread;
    use std::time::{Duration, Instant};

    use assert_no_alloc::{AllocDisabler, assert_no_alloc};
    use openchair::live::{
        Command, Control, MonotonicClock, PlayError, PlayReport, Score, Settings, Slot, Supply,
        engine, raise_priority,
    };
    use openchair::ports::{PortSource, PortTarget};

    use super::playing::checker::{Checker, Expected, Found};
    use super::playing::due;
    use super::playing::jack::{Heard, Listener, is_inside, with_server_again};
    use super::shared::{Load, at, measures, median, micros, number, song_of};

    #[global_allocator]
    static ALLOCATOR: AllocDisabler = AllocDisabler;

    const MINUTES: f64 = 30.0;

    /// Frames in a period of the server.
    const PERIOD: u32 = 128;

    /// The cores work and rest for so long by turns.
    const TURN: Duration = Duration::from_secs(30);

    /// Memory is looked at so often.
    const LOOK: Duration = Duration::from_secs(10);

    /// By then everything has been used once.
    const SETTLED: Duration = Duration::from_mins(1);

    /// Room for what is heard between two looks: many times what the band plays in that time.
    const ROOM: usize = 1 << 12;

    /// More drift than that is amiss.
    const MOST_DRIFT: i64 = 1_000_000;

    /// At the two ends, the drift is that of the median of so many messages.
    const AN_END: usize = 100;

    /// Tells the run with a server from the one that starts it.
    const NAME: &str = "soak";

    pub fn main() -> ExitCode {
        if !measures() {
            return ExitCode::SUCCESS;
        }
        let minutes = number().unwrap_or(MINUTES);
        if is_inside(NAME) {
            return if soak(minutes) { ExitCode::SUCCESS } else { ExitCode::FAILURE };
        }
        match with_server_again(NAME, PERIOD, &["--bench", &minutes.to_string()]) {
            None => ExitCode::SUCCESS,
            Some(status) if status.success() => ExitCode::SUCCESS,
            Some(status) => {
                // What the allocator of this program ends, ends without a table.
                println!("soak: amiss ({status})");
                ExitCode::FAILURE
            }
        }
    }

    /// Resident memory in KiB.
    fn memory() -> i64 {
        let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
        let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:"));
        line.and_then(|line| line.split_whitespace().next()?.parse().ok()).unwrap_or(0)
    }

    /// Both streams of times: by the count of frames, and by the server's clock, which skips where the
    /// server has lost time.
    struct Ear {
        listener: Listener,
        rate: i64,
        first: Option<Heard>,
        zero: i64,
        by_frame: Checker,
        by_clock: Checker,
    }

    impl Ear {
        fn listen(&mut self) {
            while let Some(heard) = self.listener.next() {
                let first = *self.first.get_or_insert(heard);
                let frames = i64::from(heard.frame.wrapping_sub(first.frame).cast_signed());
                // Wraps around after half a day.
                self.by_frame.hear(self.zero + frames * 1_000_000_000 / self.rate, heard.bytes);
                let micros = heard.micros.cast_signed() - first.micros.cast_signed();
                self.by_clock.hear(self.zero + micros * 1000, heard.bytes);
            }
        }
    }

    fn soak(minutes: f64) -> bool {
        let (arrangement, performance) = song_of(minutes * 60.0, 100.0);
        let length =
            Duration::from_nanos(performance.tempo.nanos(performance.end).0.unsigned_abs());
        let expected = due(&performance).into_iter();
        let expected = expected.map(|due| Expected { at: due.at.0, bytes: due.message.bytes().0 });
        let expected: Vec<Expected> = expected.collect();
        let count = expected.len();
        println!(
            "{count} messages in {:.1} minutes, through JACK in periods of {PERIOD} frames",
            length.as_secs_f64() / 60.0
        );
        let listener = Listener::with_room("listener", ROOM);
        let rate = i64::from(listener.client().sample_rate());
        let mut ear = Ear {
            listener,
            rate,
            first: None,
            zero: expected.first().map_or(0, |it| it.at),
            by_frame: Checker::new(expected.clone()),
            by_clock: Checker::new(expected),
        };

        let clock = MonotonicClock::new();
        let (_, out) =
            PortSource::open(&PortTarget::Named("listener".to_owned()), clock.epoch()).unwrap();
        let (mut engine, mut ends) = engine(Settings {
            score: Box::new(Score::new(0, &arrangement, &performance)),
            tempo: performance.tempo,
            clock: None,
            plays_on: false,
        });
        engine.install(Supply { slot: Slot::Port, out });
        drop((arrangement, performance));
        ends.remote.send(Command::Go).unwrap();
        let control = Control::new();
        let its_control = control.clone();
        let player = thread::spawn(move || {
            let priority = raise_priority();
            let result = assert_no_alloc(|| engine.play(&clock, &its_control));
            engine.close();
            (priority, result)
        });

        let load = Load::new();
        let begun = Instant::now();
        let mut looked = Vec::with_capacity(minutes as usize * 6 + 60);
        let (mut next_look, mut told) = (Duration::ZERO, 0);
        while !player.is_finished() {
            let gone = begun.elapsed();
            load.work(gone.as_secs() / TURN.as_secs() % 2 == 0);
            ear.listen();
            if gone >= next_look {
                looked.push((gone, memory()));
                next_look += LOOK;
            }
            if gone.as_secs() / 60 > told {
                told = gone.as_secs() / 60;
                eprintln!("minute {told}: {:?}", ear.by_frame.so_far());
            }
            if gone > length + TURN {
                eprintln!("it should be over by now");
                control.stop();
            }
            // The desk's part.
            ends.remote.status();
            thread::sleep(Duration::from_millis(5));
        }
        let last = memory();
        drop(load);
        // What came last is on its way through the server.
        thread::sleep(Duration::from_millis(100));
        ear.listen();
        let (priority, result) = player.join().unwrap();
        if let Err(refusal) = priority {
            println!("{refusal}");
        }
        let memory = Memory::of(&looked, last);
        tell(count, ear.by_frame.end(), ear.by_clock.end(), result, memory)
    }

    struct Memory {
        settled: i64,
        most: i64,
        last: i64,
    }

    impl Memory {
        fn of(looked: &[(Duration, i64)], last: i64) -> Self {
            let settled = looked.iter().find(|(at, _)| *at >= SETTLED);
            let settled = settled.or(looked.last()).map_or(0, |(_, memory)| *memory);
            let most = looked.iter().map(|(_, memory)| *memory).max().unwrap_or(0);
            Self { settled, most, last }
        }
    }

    /// One table, and whether all is well.
    fn tell(
        count: usize,
        (found, by_frame): (Found, Vec<i64>),
        (_, by_clock): (Found, Vec<i64>),
        result: Result<PlayReport, PlayError>,
        memory: Memory,
    ) -> bool {
        let drift = |off: &[i64]| {
            let end = AN_END.min(off.len());
            median(off[off.len() - end..].to_vec()) - median(off[..end].to_vec())
        };
        let figures = |off: &[i64]| {
            let mut off: Vec<i64> = off.iter().map(|it| it.abs()).collect();
            off.sort_unstable();
            let figure = |part| micros(at(&off, part));
            format!("{} / {} / {} / {}", figure(0.5), figure(0.99), figure(0.999), figure(1.0))
        };
        let row = |what: &str, value: String| println!("| {what} | {value} |");
        let (frame_drift, clock_drift) = (drift(&by_frame), drift(&by_clock));
        row("what", "measured".to_owned());
        row("---", "---".to_owned());
        row("messages to come, heard", format!("{count}, {}", found.heard));
        row("lost", found.lost.to_string());
        row("doubled", found.doubled.to_string());
        row("strange", found.strange.to_string());
        row("out of order", found.out_of_order.to_string());
        row("left sounding", found.sounding.to_string());
        row("off the export by frames, p50 / p99 / p99.9 / worst, µs", figures(&by_frame));
        row("off it by the server's clock, likewise", figures(&by_clock));
        row("drift by frames, µs", micros(frame_drift));
        row("drift by the server's clock, µs", micros(clock_drift));
        row("time that the server lost, µs", micros(clock_drift - frame_drift));
        if let Ok(report) = &result {
            row("dropouts of the server", report.losses.dropouts.to_string());
            row("messages after their frame", report.losses.late.to_string());
            row("notes left out", report.dropped.to_string());
            row("handed over late at most, µs", micros(report.latest.0));
        }
        row("allocations in the playing thread", "0 (asserted)".to_owned());
        let Memory { settled, most, last } = memory;
        row("memory after a minute, at the end, most, KiB", format!("{settled}, {last}, {most}"));

        let mut well = true;
        let mut amiss = |wrong: bool, what: &str| {
            if wrong {
                println!("amiss: {what}");
                well = false;
            }
        };
        amiss(found.lost > 0, "messages were lost");
        amiss(found.doubled + found.strange > 0, "messages came that were not to come");
        amiss(found.out_of_order > 0, "messages came out of order");
        amiss(found.sounding > 0, "notes are left sounding");
        // A server that drops out counts fewer frames than time goes by; then the band is level with
        // the one or, drawing level with the clock, with the other.
        let drift = frame_drift.abs().min(clock_drift.abs());
        amiss(drift > MOST_DRIFT, "it has drifted");
        match result {
            Ok(report) => amiss(report.dropped > 0, "notes were left out"),
            Err(error) => amiss(true, &error.to_string()),
        }
        well
    }
}

#[cfg(unix)]
fn main() -> std::process::ExitCode {
    unix::main()
}

#[cfg(not(unix))]
fn main() {
    println!("JACK is looked for on Unix alone");
}
