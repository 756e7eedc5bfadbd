use std::fmt::Display;
use std::io::{self, Write};
use std::process::ExitCode;
use std::thread;
use std::time::Duration;

use super::args::Play;
use super::failure::Failure;
use super::follow::BarLines;
use super::rehearse::rehearse;
use crate::arrange::Arrangement;
use crate::live::{Control, play_to_port, stop_on_signals};
use crate::perform::Performance;
use crate::sink::PortTarget;

/// How often the screen looks where the band is: a line is never later than a fiftieth of a second.
const LOOK: Duration = Duration::from_millis(20);

/// Plays in real time.
pub(super) fn run(play: &Play) -> Result<ExitCode, Failure> {
    let (song, performance) = rehearse(&play.song, &play.options, play.count_in)?;
    let control = Control::new();
    stop_on_signals(&control).map_err(|error| {
        Failure::failed(format!("can't catch Ctrl-C, and so could not stop in good order: {error}"))
    })?;
    let target = match (&play.port, play.virtual_port) {
        (Some(name), _) => Some(PortTarget::Named(name.clone())),
        (None, true) => Some(PortTarget::Virtual),
        (None, false) => None,
    };
    match target {
        Some(target) => to_port(&song, &performance, &target, &control),
        None => Err(Failure::failed("not wired")),
    }
}

fn to_port(
    song: &Arrangement,
    performance: &Performance,
    target: &PortTarget,
    control: &Control,
) -> Result<ExitCode, Failure> {
    let report = following(song, control, || {
        play_to_port(performance, target, control, &mut |notice| tell(notice))
    })
    .map_err(Failure::failed)?;
    if report.late > 0 {
        tell(format!(
            "{} notes came late: the sound server lost time; give it a longer period",
            report.late
        ));
    }
    Ok(ExitCode::SUCCESS)
}

/// Runs `play`, meanwhile writing a line a bar to standard output.
fn following<T>(song: &Arrangement, control: &Control, play: impl FnOnce() -> T) -> T {
    let over = Control::new();
    thread::scope(|scope| {
        let screen = scope.spawn(|| {
            let mut lines = BarLines::new(song);
            while !over.is_stopping() {
                let mut out = io::stdout().lock();
                for (_, line) in lines.due(control.position()) {
                    // A screen that has gone away must not stop the band.
                    let _ = writeln!(out, "{line}").and_then(|()| out.flush());
                }
                drop(out);
                thread::sleep(LOOK);
            }
        });
        let done = play();
        over.stop();
        // A panic of the screen's is reported by its own thread; the band has played to the end.
        let _ = screen.join();
        done
    })
}

fn tell(what: impl Display) {
    // Nobody is left to tell if standard error itself is gone.
    let _ = writeln!(io::stderr(), "openchair: {what}");
}
