//! From the press of a key to its effect at the port: the program itself with its screen in a terminal,
//! a key written to the other end of that terminal at random moments, and a receiver behind a JACK
//! server without hardware that tells the frame of what it hears. Idle, and with every core busy.
//!
//! Space must bring MIDI's Stop, and so must a pedal that was taught to; `b`, while the bass sounds, the
//! end of its note.
//!
//! `cargo bench --bench hand` takes 12 minutes; `cargo bench --bench hand -- 50` presses Space fifty times
//! instead of 300. The figures are milliseconds. Ends with status 1 if p99 is 15 or more.
#![allow(missing_docs, clippy::unwrap_used)]

#[cfg(unix)]
#[path = "../tests/playing/mod.rs"]
mod playing;
#[cfg(unix)]
mod shared;
#[cfg(unix)]
#[path = "shared/terminal.rs"]
mod terminal;

#[cfg(unix)]
mod unix {
    use std::process::ExitCode;
    use std::thread;
    use std::time::{Duration, Instant};

    use openchair::live::{Clock, MonotonicClock, raise_priority};

    use super::playing::jack::{Heard, Listener, Sender, is_inside, with_server_again};
    use super::shared::{Load, apart, at, measures, number};
    use super::terminal::Terminal;

    const NAME: &str = "hand";

    /// Frames in a period of the server.
    const PERIOD: u32 = 128;

    /// Presses of Space; a third as many of the others: the bass strikes only twice a bar.
    const PRESSES: usize = 300;

    /// Of a hundred presses one may take longer.
    const ALLOWED: i64 = 15_000_000;

    /// Whatever takes longer will never come.
    const PATIENCE: Duration = Duration::from_secs(5);

    /// By then the screen knows what was heard.
    const SEEN: Duration = Duration::from_millis(100);

    pub fn main() -> ExitCode {
        if !measures() {
            return ExitCode::SUCCESS;
        }
        let presses = number().map_or(PRESSES, |presses| presses as usize).max(3);
        if is_inside(NAME) {
            return if conditions(presses) { ExitCode::SUCCESS } else { ExitCode::FAILURE };
        }
        match with_server_again(NAME, PERIOD, &["--bench", &presses.to_string()]) {
            Some(status) if !status.success() => ExitCode::FAILURE,
            _ => ExitCode::SUCCESS,
        }
    }

    fn conditions(presses: usize) -> bool {
        println!("| machine | by | presses | p50 | p99 | worst |");
        println!("| --- | --- | --- | --- | --- | --- |");
        let load = Load::new();
        let mut quick = true;
        for (busy, machine) in [(false, "idle"), (true, "busy")] {
            load.work(busy);
            let mut hand = Hand::new();
            // On a thread of its own: what is started by a raised one would be raised too.
            let hand = thread::spawn(move || {
                // A hand of flesh is not put aside either.
                if let Err(refusal) = raise_priority() {
                    println!("{refusal}");
                }
                let space = (0..presses).map(|_| hand.stops(By::Space)).collect();
                let b = (0..presses / 3).map(|_| hand.mutes()).collect();
                let pedal = (0..presses / 3).map(|_| hand.stops(By::Pedal)).collect();
                [("Space", space), ("`b`", b), ("pedal", pedal)]
            });
            for (by, took) in hand.join().unwrap() {
                quick &= tell(machine, by, took);
            }
        }
        quick
    }

    /// A row of the table, and whether it was quick enough.
    fn tell(machine: &str, by: &str, mut took: Vec<i64>) -> bool {
        took.sort_unstable();
        let millis = |part| format!("{:.1}", at(&took, part) as f64 / 1e6);
        let (count, p50, p99, worst) = (took.len(), millis(0.5), millis(0.99), millis(1.0));
        println!("| {machine} | {by} | {count} | {p50} | {p99} | {worst} |");
        at(&took, 0.99) < ALLOWED
    }

    #[derive(Clone, Copy)]
    enum By {
        Space,
        B,
        Pedal,
    }

    /// What the pedal sends, and what it was taught.
    const PEDAL: [u8; 3] = [0x90, 36, 100];
    const TAUGHT: &str = "[pedal]\n\"note 36 channel 1\" = \"pause\"\n";

    /// The player's hand and foot, and an ear at the port.
    struct Hand {
        terminal: Terminal,
        foot: Sender,
        /// With the pedal file, until the program has read it and is over.
        _settings: tempfile::TempDir,
        listener: Listener,
        clock: MonotonicClock,
        /// How far our clock is ahead of the server's.
        apart: i64,
        random: u64,
    }

    impl Hand {
        /// With the band playing.
        fn new() -> Self {
            let listener = Listener::with_room("listener", 1 << 12);
            let clock = MonotonicClock::new();
            let apart = apart(&clock, listener.client());
            let song = concat!(env!("CARGO_MANIFEST_DIR"), "/songs/lantern-on-the-landing.toml");
            let foot = Sender::new("footboard", 1);
            let settings = tempfile::tempdir().unwrap();
            let folder = settings.path().join("openchair");
            std::fs::create_dir(&folder).unwrap();
            std::fs::write(folder.join("pedals.toml"), TAUGHT).unwrap();
            let options = "--times 100 --count-in 0 --port listener --clock --pedal footboard";
            let arguments: Vec<&str> =
                ["play", song].into_iter().chain(options.split(' ')).collect();
            let program = env!("CARGO_BIN_EXE_openchair");
            let terminal = Terminal::run(program, &arguments, settings.path());
            let mut hand = Self {
                terminal,
                foot,
                _settings: settings,
                listener,
                clock,
                apart,
                random: 0x9E37_79B9_7F4A_7C15,
            };
            hand.until("a note", |heard| heard.bytes[0] >> 4 == 9);
            thread::sleep(Duration::from_secs(1));
            hand
        }

        /// The first such message that has not been looked at yet, and when it came on our clock.
        fn until(&mut self, what: &str, is_it: impl Fn(&Heard) -> bool) -> i64 {
            let give_up = Instant::now() + PATIENCE;
            loop {
                while let Some(heard) = self.listener.next() {
                    if is_it(&heard) {
                        return heard.micros.cast_signed() * 1000 + self.apart;
                    }
                }
                let over = self.terminal.is_over();
                if over || Instant::now() > give_up {
                    println!("waited in vain for {what}; the program is over: {over}");
                    // Or the terminal would be left without its other end.
                    self.terminal.press(b"q");
                    thread::sleep(SEEN);
                    std::process::exit(1);
                }
                thread::sleep(Duration::from_millis(1));
            }
        }

        /// Sleeps for some milliseconds out of `from..to`.
        fn linger(&mut self, from: u64, to: u64) {
            self.random ^= self.random << 13;
            self.random ^= self.random >> 7;
            self.random ^= self.random << 17;
            // By microseconds, so that it falls anywhere in a period.
            let micros = from * 1000 + self.random % ((to - from) * 1000);
            thread::sleep(Duration::from_micros(micros));
        }

        fn press(&mut self, by: By) {
            match by {
                By::Space => self.terminal.press(b" "),
                By::B => self.terminal.press(b"b"),
                By::Pedal => self.foot.say(&PEDAL),
            }
        }

        /// Presses, and gives how long the effect took.
        fn time(&mut self, by: By, what: &str, is_it: impl Fn(&Heard) -> bool) -> i64 {
            // What was heard before is not its effect.
            while self.listener.next().is_some() {}
            let pressed = self.clock.now().0;
            self.press(by);
            self.until(what, is_it) - pressed
        }

        /// Stops the band while it plays; then the same again, and it plays on.
        fn stops(&mut self, by: By) -> i64 {
            self.linger(30, 330);
            let took = self.time(by, "Stop", |heard| heard.bytes[0] == 0xFC);
            thread::sleep(SEEN);
            self.time(by, "a note", |heard| heard.bytes[0] >> 4 == 9);
            thread::sleep(SEEN);
            took
        }

        /// `b` soon after the bass has struck; then `b` again, and it comes back. The bass rings for
        /// a beat and more, so no note ends by itself in that time.
        fn mutes(&mut self) -> i64 {
            self.until("the bass", |heard| heard.bytes[0] == 0x90);
            self.linger(20, 120);
            let took = self.time(By::B, "the bass's end", |heard| heard.bytes[0] == 0x80);
            thread::sleep(SEEN);
            self.press(By::B);
            thread::sleep(SEEN);
            took
        }
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
