use std::convert::Infallible;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::thread;
use std::time::Duration;

use crossbeam_channel::RecvTimeoutError;

use super::args::Play;
use super::export::midi;
use super::failure::{Failure, tell};
use super::follow::BarLines;
use super::library::stem;
use super::output::write_whole;
use super::rehearse::rehearse;
use super::voices;
use crate::arrange::Arrangement;
use crate::live::{Control, play_to_port, stop_on_signals};
use crate::perform::Performance;
use crate::sink::{Losses, PortTarget, SoundOutput, quietly, sound_devices};
use crate::text::list;
use crate::time::Nanos;

/// How often the screen looks where the band is: a line is never later than a fiftieth of a second.
const LOOK: Duration = Duration::from_millis(20);

/// Plays in real time.
pub(super) fn run(play: &Play) -> Result<ExitCode, Failure> {
    let (song, performance) = rehearse(&play.song, &play.options, play.count_in)?;
    match (&play.port, play.virtual_port) {
        (Some(name), _) => to_port(&song, &performance, &PortTarget::Named(name.clone())),
        (None, true) => to_port(&song, &performance, &PortTarget::Virtual),
        (None, false) => match quietly(|| SoundOutput::open(play.device.as_deref())) {
            Ok(output) => to_device(&song, &performance, play, &output),
            Err(error) if error.is_no_device() && play.device.is_none() => {
                to_files(&performance, play)
            }
            Err(error) => Err(Failure::failed(error)),
        },
    }?;
    Ok(ExitCode::SUCCESS)
}

/// A control that Ctrl-C stops. Only for playing: nothing else looks at it, and so could be ended.
pub(super) fn interruptible() -> Result<Control, Failure> {
    let control = Control::new();
    stop_on_signals(&control).map_err(|error| {
        Failure::failed(format!("can't catch Ctrl-C, and so could not stop in good order: {error}"))
    })?;
    Ok(control)
}

fn to_port(
    song: &Arrangement,
    performance: &Performance,
    target: &PortTarget,
) -> Result<(), Failure> {
    let control = interruptible()?;
    let report = following(song, &control, || {
        play_to_port(performance, target, &control, &mut |notice| tell(notice))
    })
    .map_err(Failure::failed)?;
    let times = |count: u64, one: &str, more: &str| match count {
        1 => one.to_owned(),
        count => format!("{count} {more}"),
    };
    let Losses { dropouts, late } = report.losses;
    if dropouts > 0 {
        let late = match late {
            0 => String::new(),
            late => format!(" and {} late", times(late, "one message came", "messages came")),
        };
        let often = times(dropouts, "once", "times");
        tell(format!("the sound server lost time {often}{late}; give it longer periods"));
    }
    Ok(())
}

fn to_device(
    song: &Arrangement,
    performance: &Performance,
    play: &Play,
    output: &SoundOutput,
) -> Result<(), Failure> {
    let rate = output.sample_rate();
    let band = voices::band(performance, play.soundfont.as_deref(), rate)?;
    let control = interruptible()?;
    let playback = quietly(|| output.start(band)).map_err(Failure::failed)?;
    tell(format!("playing through {}", output.name()));
    let mut dropouts = 0;
    following(song, &control, || {
        playback.wait(|playback| {
            control.set_position(time_of(playback.heard_frames(), rate));
            dropouts = playback.dropouts();
            control.is_stopping()
        })
    })
    .map_err(Failure::failed)?;
    if dropouts > 0 {
        tell(format!("the sound broke off for a moment {dropouts} times; close other programs"));
    }
    Ok(())
}

fn time_of(frames: u64, rate: u32) -> Nanos {
    let nanos = u128::from(frames) * 1_000_000_000 / u128::from(rate.max(1));
    Nanos(i64::try_from(nanos).unwrap_or(i64::MAX))
}

/// With nothing to play on: the files, in the working folder.
fn to_files(performance: &Performance, play: &Play) -> Result<(), Failure> {
    let name = stem(&play.song);
    let (mid, wav) = (PathBuf::from(format!("{name}.mid")), PathBuf::from(format!("{name}.wav")));
    let others: Vec<String> = quietly(sound_devices)
        .into_iter()
        .map(|device| format!("--device {:?}", device.name))
        .collect();
    let device = match others.as_slice() {
        [] => "no sound device".to_owned(),
        others => format!("no default sound device (try {})", list(others, "or")),
    };
    tell(format!(
        "there is {device} and no --port; writing {} and {} instead",
        mid.display(),
        wav.display()
    ));
    write_whole(Path::new(&mid), &midi(performance)?)?;
    voices::save(performance, play.soundfont.as_deref(), &wav)
}

/// Runs `play`, meanwhile writing a line a bar to standard output.
fn following<T>(song: &Arrangement, control: &Control, play: impl FnOnce() -> T) -> T {
    /// How long the end waits for the last line: a screen that holds its output (Ctrl-S, a full pipe)
    /// must not hold up the program.
    const PATIENCE: Duration = Duration::from_millis(200);
    // Dropped when playing is over, also by a panic: then the screen ends too.
    let (playing, over) = crossbeam_channel::bounded::<Infallible>(0);
    let (showing, shown) = crossbeam_channel::bounded::<Infallible>(0);
    let (mut lines, control) = (BarLines::new(song), control.clone());
    let screen = thread::Builder::new().name("openchair-screen".to_owned()).spawn(move || {
        let _showing = showing;
        while over.recv_timeout(LOOK) == Err(RecvTimeoutError::Timeout) {
            let mut out = io::stdout().lock();
            for (_, line) in lines.due(control.position()) {
                // A screen that has gone away must not stop the band.
                let _ = writeln!(out, "{line}").and_then(|()| out.flush());
            }
        }
    });
    if let Err(error) = screen {
        tell(format!("the bars can't be shown, the band plays on: {error}"));
    }
    let done = play();
    drop(playing);
    // Nothing is ever sent: it ends by the screen's end, or by time.
    let _ = shown.recv_timeout(PATIENCE);
    done
}
