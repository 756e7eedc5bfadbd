//! How large the program is and how soon it is there, beside what it was when that was last looked at. With `-- hold` it
//! ends with 1 where one is far over.
//!
//! Of the program that `OPENCHAIR_PROGRAM` names (a package's), or else of the one that this is built with.

use std::process::{Command, ExitCode, Stdio};
use std::time::{Duration, Instant};
use std::{env, fs, io};

/// The stripped program for Windows on x86_64, in bytes, on the day that this was written; others are about as large.
const SIZE: u64 = 12_558_848;

/// A third more is a crate or a font that came along: worth a look, and this figure a new one.
const SIZE_BOUND: f64 = 1.33;

/// What is asked for, and how many milliseconds it took then at best, on a busy machine and as built for tests.
const STARTS: [(&[&str], f64); 4] = [
    (&["--version"], 8.1),
    (&["songs"], 12.1),
    (&["check", "songs"], 68.7),
    (&["export", "lantern-on-the-landing", "-o", "-", "--format", "mid"], 11.3),
];

/// The best of some runs on a machine that others use too is seldom ten times as long; a table that is read at every start
/// shows as more.
const START_BOUND: f64 = 10.0;

const RUNS: usize = 25;

fn best(program: &str, arguments: &[&str]) -> io::Result<Duration> {
    let mut best = Duration::MAX;
    for _ in 0..RUNS {
        let began = Instant::now();
        let mut asked = Command::new(program);
        let done = asked.args(arguments).stdout(Stdio::null()).stderr(Stdio::null()).status()?;
        best = best.min(began.elapsed());
        if !done.success() {
            return Err(io::Error::other(format!("{arguments:?}: {done}")));
        }
    }
    Ok(best)
}

fn main() -> io::Result<ExitCode> {
    let hold = env::args().any(|argument| argument == "hold");
    let program =
        env::var("OPENCHAIR_PROGRAM").unwrap_or_else(|_| env!("CARGO_BIN_EXE_openchair").into());
    let mut over = false;
    let mut line = |what: &str, now: f64, then: f64, bound: f64, unit: &str| {
        let is_over = now > then * bound;
        over |= is_over;
        let mark = if is_over { "  OVER" } else { "" };
        println!(
            "{what:<62} {now:>9.2} {unit}, was {then:>6.2}, bound {:>6.2}{mark}",
            then * bound
        );
    };
    const MEGA: f64 = 1e6;
    let size = fs::metadata(&program)?.len() as f64;
    line(&program, size / MEGA, SIZE as f64 / MEGA, SIZE_BOUND, "MB");
    for (arguments, then) in STARTS {
        let now = best(&program, arguments)?.as_secs_f64() * 1e3;
        line(&format!("openchair {}", arguments.join(" ")), now, then, START_BOUND, "ms");
    }
    Ok(ExitCode::from(u8::from(hold && over)))
}
