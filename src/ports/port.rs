use std::fmt;

use serde::Serialize;

/// Whose port it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs)]
pub enum MidiSystem {
    Alsa,
    CoreMidi,
    WinMm,
    Jack,
}

impl MidiSystem {
    /// As shown and as written in JSON.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Alsa => "alsa",
            Self::CoreMidi => "coremidi",
            Self::WinMm => "winmm",
            Self::Jack => "jack",
        }
    }
}

impl fmt::Display for MidiSystem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

/// A MIDI port of another program or of an instrument.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub struct MidiPort {
    /// Its whole name.
    pub name: String,
    /// Whose it is.
    pub system: MidiSystem,
}

impl fmt::Display for MidiPort {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} ({})", self.name, self.system)
    }
}

/// Every MIDI port there is.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct PortsList {
    /// Where the band can play to.
    pub outputs: Vec<MidiPort>,
    /// Where playing comes from.
    pub inputs: Vec<MidiPort>,
    /// Why the system's own MIDI is missing, if it is, and what to do.
    pub hints: Vec<String>,
}

/// Where to play.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PortTarget {
    /// To the port with this in its name, whatever the case; the whole name beats a part of one.
    /// With ` (jack)` after it, as listed, it tells two ports of one name apart.
    Named(String),
    /// To a port of our own, for others to connect to.
    Virtual,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn systems_are_named_the_same_everywhere() {
        for system in [MidiSystem::Alsa, MidiSystem::CoreMidi, MidiSystem::WinMm, MidiSystem::Jack]
        {
            assert_eq!(serde_json::to_string(&system).unwrap(), format!("\"{system}\""));
        }
    }
}
