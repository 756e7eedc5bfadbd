use std::process::ExitCode;
use std::thread;
use std::time::Duration;

use super::failure::{Failure, tell};
use super::files::{Latencies, Latency as Kept, say_to_stdout};
use super::options::{HANDS, PLACES};
use crate::hear::Sound;
use crate::input::loop_back;
use crate::live::{Clock, MonotonicClock};
use crate::perform::{CLICK_CHANNEL, Message};
use crate::sink::{Microphone, MidiOut, SoundError, Volume, open_sound, quietly};
use crate::synth::Synth;
use crate::theory::MidiNote;
use crate::time::Nanos;

/// Clicks that are played.
const CLICKS: i64 = 10;

/// Nanoseconds from one to the next: further apart than any delay, and never twice the same, so that an echo of one is
/// not taken for the next.
const APART: i64 = 730_000_000;
const UNEVEN: i64 = 13_000_000;

/// Nanoseconds before the first: both devices have settled by then.
const BEFORE: i64 = 2_500_000_000;

/// How long after the last it is listened for.
const AFTER: Duration = Duration::from_millis(900);

/// How often what is heard is fetched, and what is due is sent.
const LOOK: Duration = Duration::from_millis(20);

#[derive(Debug, clap::Args)]
pub(super) struct Latency {
    /// The microphone with this in its name, instead of the default one
    #[arg(long, value_name = "DEVICE", help_heading = HANDS, num_args = 0..=1, default_missing_value = "")]
    pub listen_mic: Option<String>,
    /// Play the clicks through the sound device with this in its name instead of the default one
    #[arg(long, value_name = "NAME", help_heading = PLACES)]
    pub device: Option<String>,
}

/// Plays clicks, and measures how much later a microphone hears them than it should.
pub(super) fn run(asked: &Latency) -> Result<ExitCode, Failure> {
    let clock = MonotonicClock::new();
    let name = asked.listen_mic.as_deref().filter(|name| !name.is_empty());
    let mut microphone =
        quietly(|| Microphone::open(name, clock.epoch())).map_err(Failure::failed)?;
    let make = |rate: u32| -> Result<_, SoundError> { Ok(Box::new(Synth::live(&[], rate)) as _) };
    let volume = Volume::default();
    let opened = quietly(|| open_sound(asked.device.as_deref(), &volume, clock.epoch(), make));
    let (mut port, through) = opened.map_err(Failure::failed)?;
    tell(format!(
        "{through} clicks ten times, and {} listens: be quiet for ten seconds",
        microphone.name
    ));

    let begun = clock.now().0 + BEFORE;
    let clicks: Vec<i64> = (0..CLICKS).map(|n| begun + n * APART + n * n % 7 * UNEVEN).collect();
    let mut waiting = clicks.iter().peekable();
    let (mut sound, mut times) = (Vec::new(), Vec::new());
    let end = clicks.last().map_or(begun, |last| last + AFTER.as_nanos() as i64);
    while clock.now().0 < end {
        while let Some(due) = waiting.next_if(|due| clock.now().0 >= **due - port.ahead().0) {
            for message in click() {
                port.send(Nanos(*due), message).map_err(Failure::failed)?;
            }
        }
        times.extend(microphone.captured.read(&mut sound));
        if let Some(why) = microphone.captured.failure() {
            return Err(Failure::failed(why));
        }
        thread::sleep(LOOK);
    }
    let (microphone, rate) = (microphone.name.clone(), microphone.rate);
    Box::new(port).close();

    // By the device's last word, when it has settled: it runs evenly.
    let Some(&(frame, at)) = times.last() else {
        return Err(Failure::failed(format!(
            "{microphone:?} gives no sound; is it in use, or switched off?"
        )));
    };
    let first = at.0 as f64 - frame as f64 * 1e9 / f64::from(rate.max(1));
    let clicks: Vec<f64> = clicks.iter().map(|click| (*click as f64 - first) / 1e9).collect();
    let sound = Sound::new(sound, 1, rate);
    let told = loop_back(&sound.samples, &clicks).map_err(Failure::failed)?;
    let kept = Kept {
        milliseconds: (told.delay * 100.0).round() / 100.0,
        spread: (told.spread * 100.0).round() / 100.0,
        through: through.clone(),
    };
    Latencies::read()?.keep(&microphone, kept)?;
    let said = format!(
        "{microphone} hears what {through} plays {:.1} ms late ({} of {CLICKS} clicks, within {:.1} ms of each other).\n\
         play --listen-mic takes that off.\n",
        told.delay, told.heard, told.spread
    );
    say_to_stdout(&said)?;
    Ok(ExitCode::SUCCESS)
}

/// A click, as it counts in.
fn click() -> [Message; 2] {
    let pitch = MidiNote::clamped(76);
    [
        Message::NoteOn { channel: CLICK_CHANNEL, pitch, velocity: 110 },
        Message::NoteOff { channel: CLICK_CHANNEL, pitch },
    ]
}
