use std::fmt;
use std::thread;

use super::report::panic_text;
use super::{
    Command, Control, MonotonicClock, PlayError, PlayReport, Score, Settings, Slot, Supply, engine,
    raise_priority,
};
use crate::perform::Performance;
use crate::sink::{self, PortTarget};

/// Something to tell the player at the start.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Notice {
    /// The port is open and playing begins.
    PlayingTo(String),
    /// The playing thread runs at ordinary priority; says why and what that means.
    OrdinaryPriority(String),
}

impl fmt::Display for Notice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::PlayingTo(port) => write!(f, "playing to {port}"),
            Self::OrdinaryPriority(text) => f.write_str(text),
        }
    }
}

/// Plays a performance to a MIDI port, on a thread of its own, and returns when it is over: at its
/// end, or once `control` was stopped and every note damped. `tell` gets what to show meanwhile; how
/// far it is stands in `control`.
///
/// # Errors
/// The port isn't there, doesn't open or fails while playing; each says what to do next.
pub fn play_to_port(
    performance: &Performance,
    target: &PortTarget,
    control: &Control,
    tell: &mut dyn FnMut(Notice),
) -> Result<PlayReport, PlayError> {
    let clock = MonotonicClock::new();
    let (out, name) = sink::open(target, clock.epoch())?;
    let (mut engine, mut ends) = engine(Settings {
        score: Box::new(Score::whole(0, performance)),
        tempo: performance.tempo,
        clock: false,
        plays_on: false,
    });
    engine.install(Supply { slot: Slot::Port, out });
    // There is room for a first command.
    let _ = ends.remote.send(Command::Go);
    // Room for all that is sent, so that the playing thread never waits for a slow screen.
    let (note, notes) = crossbeam_channel::bounded(2);
    thread::scope(|scope| {
        // Should `tell` panic, the thread must not play on to the end of the song.
        let stop = StopOnDrop(control);
        let player = thread::Builder::new()
            .name("openchair-play".to_owned())
            .spawn_scoped(scope, move || {
                if let Err(refusal) = raise_priority() {
                    let _ = note.send(Notice::OrdinaryPriority(refusal));
                }
                let _ = note.send(Notice::PlayingTo(name));
                // Closed here, so that no one waits for more notes.
                drop(note);
                engine.run(&clock, control)
            })
            .map_err(|error| PlayError::NoThread(error.to_string()))?;
        notes.iter().for_each(tell);
        let result = player.join();
        std::mem::forget(stop);
        result.unwrap_or_else(|cause| Err(PlayError::BrokeOff(panic_text(cause.as_ref()))))
    })
}

struct StopOnDrop<'a>(&'a Control);

impl Drop for StopOnDrop<'_> {
    fn drop(&mut self) {
        self.0.stop();
    }
}
