use thiserror::Error;

use crate::sink::{Losses, SendError};
use crate::time::Nanos;

/// How playing went.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct PlayReport {
    /// Messages that were handed to outputs, set-up included; what was taken back counts too.
    pub sent: usize,
    /// True if it was stopped before its end.
    pub stopped: bool,
    /// The latest that a message was handed over after the time it was wanted.
    pub latest: Nanos,
    /// Notes that came too late to be played and were left out.
    pub dropped: u64,
    /// What the servers behind the outputs have lost.
    pub losses: Losses,
}

/// Why playing ended before its time.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum PlayError {
    /// The port.
    #[error(transparent)]
    Port(#[from] SendError),
    /// The playing thread could not be started.
    #[error(
        "the system starts no further thread ({0}): close some programs, or play to the built-in sound"
    )]
    NoThread(String),
    /// The playing thread broke off.
    #[error("playing broke off ({0}): this is a fault in openchair, please report it")]
    BrokeOff(String),
}

/// What a panic said.
pub(super) fn panic_text(cause: &(dyn std::any::Any + Send)) -> String {
    let text = cause.downcast_ref::<&str>().copied();
    let text = text.or_else(|| cause.downcast_ref::<String>().map(String::as_str));
    text.unwrap_or("no cause given").to_owned()
}
