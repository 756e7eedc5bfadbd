use thiserror::Error;

/// Why an output takes no more messages. Every text says what to do next.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum SendError {
    /// The port took no message.
    #[error(
        "the MIDI output \"{port}\" took no more messages ({cause}): see that it is still plugged in, then play again"
    )]
    SendFailed {
        /// The port.
        port: String,
        /// What the system says.
        cause: String,
    },
    /// The server behind the port has died, or its sound device has.
    #[error(
        "the JACK server no longer runs: start it again (see that its sound device is there), then play again"
    )]
    ServerStopped,
    /// The sound device behind the built-in sound takes no more sound.
    #[error("the sound device \"{device}\" takes no more sound: see that it is still plugged in")]
    SoundStopped {
        /// The device.
        device: String,
    },
}
