use super::sound_error::{listed, told};

/// Why no microphone is heard. Each says what to do next.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum MicrophoneError {
    /// The system has none, or none that answers.
    #[error("there is no microphone{}; plug one in, and see `openchair ports`", told(.cause))]
    None {
        /// What the system said, if it said more than that.
        cause: String,
    },
    /// None is named so.
    #[error("no microphone is named {name:?}; there is {}", listed(.there))]
    NoSuch {
        /// The name asked for.
        name: String,
        /// Those there are.
        there: Vec<String>,
    },
    /// The name fits several.
    #[error("{name:?} fits several microphones: {}; write more of the name", listed(.matches))]
    Several {
        /// The name asked for.
        name: String,
        /// Those it fits.
        matches: Vec<String>,
    },
    /// The system does not let this program hear it.
    #[error(
        "the system does not let this program hear the microphone {name:?}; allow it in the system's settings"
    )]
    Denied {
        /// The microphone.
        name: String,
    },
    /// Another program holds it.
    #[error("the microphone {name:?} is busy; close the program that uses it and try again")]
    Busy {
        /// The microphone.
        name: String,
    },
    /// Anything else.
    #[error("the microphone {name:?} failed: {cause}; try again, or choose another")]
    Failed {
        /// The microphone.
        name: String,
        /// What the system said.
        cause: String,
    },
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn messages_say_what_to_do() {
        let name = || "Desk microphone".to_owned();
        let all = [
            MicrophoneError::None { cause: String::new() },
            MicrophoneError::NoSuch { name: "desk".into(), there: vec![] },
            MicrophoneError::Several { name: "d".into(), matches: vec![name(), "Dock".into()] },
            MicrophoneError::Denied { name: name() },
            MicrophoneError::Busy { name: name() },
            MicrophoneError::Failed { name: name(), cause: "no memory".into() },
        ];
        for error in all {
            let line = error.to_string();
            assert!(line.contains("; ") && !line.contains("  "), "{line}");
        }
    }
}
