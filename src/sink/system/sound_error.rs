/// Why there is no sound. Each says what to do next.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SoundError {
    /// The system has no sound device at all, or none that answers.
    #[error(
        "there is no sound device{}; plug one in, play to a MIDI port with --port, or write a file \
         with `openchair export`",
        told(cause)
    )]
    NoDevice {
        /// What the system said, if it said more than that.
        cause: String,
    },
    /// No device is named so.
    #[error("no sound device is named {name:?}; there is {}", listed(there))]
    NoSuchDevice {
        /// The name asked for.
        name: String,
        /// The devices there are.
        there: Vec<String>,
    },
    /// The name fits several devices.
    #[error("{name:?} fits several sound devices: {}; write more of the name", listed(matches))]
    SeveralDevices {
        /// The name asked for.
        name: String,
        /// The devices it fits.
        matches: Vec<String>,
    },
    /// Another program holds the device.
    #[error(
        "the sound device {name:?} is busy; close the program that uses it and try again, or choose \
         another device"
    )]
    Busy {
        /// The device.
        name: String,
    },
    /// The user may not use the device.
    #[error(
        "the system does not let you use the sound device {name:?}; allow sound for this program, on \
         Linux by joining the group \"audio\""
    )]
    Denied {
        /// The device.
        name: String,
    },
    /// The device asks for samples that the program does not make.
    #[error(
        "the sound device {name:?} cannot play what the band makes: {cause}; choose another device, \
         or write a file with `openchair export`"
    )]
    Unsupported {
        /// The device.
        name: String,
        /// What it asks for.
        cause: String,
    },
    /// The device went away while it played.
    #[error("the sound device {name:?} is gone; plug it in again and start the song again")]
    Lost {
        /// The device.
        name: String,
    },
    /// Anything else.
    #[error(
        "the sound device {name:?} failed: {cause}; try again, choose another device, or write a file \
         with `openchair export`"
    )]
    Failed {
        /// The device.
        name: String,
        /// What the system said.
        cause: String,
    },
}

impl SoundError {
    /// True if there is simply nothing to play on, so that a file is the next best.
    pub const fn is_no_device(&self) -> bool {
        matches!(self, Self::NoDevice { .. })
    }
}

pub(super) fn told(cause: &str) -> String {
    if cause.is_empty() { String::new() } else { format!(" ({cause})") }
}

pub(super) fn listed(names: &[String]) -> String {
    if names.is_empty() {
        return "none".to_owned();
    }
    names.iter().map(|name| format!("{name:?}")).collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn messages_say_what_to_do() {
        let name = || "Desk speakers".to_owned();
        let all = [
            SoundError::NoDevice { cause: String::new() },
            SoundError::NoSuchDevice { name: "desk".into(), there: vec![] },
            SoundError::SeveralDevices { name: "d".into(), matches: vec![name(), "Dock".into()] },
            SoundError::Busy { name: name() },
            SoundError::Denied { name: name() },
            SoundError::Unsupported { name: name(), cause: "DSD samples".into() },
            SoundError::Lost { name: name() },
            SoundError::Failed { name: name(), cause: "no memory".into() },
        ];
        let text: Vec<String> = all.iter().map(ToString::to_string).collect();
        assert!(text.iter().all(|line| line.contains("; ") && !line.contains("  ")), "{text:#?}");
        assert!(text[2].contains("\"Desk speakers\", \"Dock\""), "{}", text[2]);
        assert!(all[0].is_no_device() && !all[3].is_no_device());
    }
}
