use crate::theory::Key;

/// How a take was recorded.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RecordedHow {
    /// The practice speed, in percent of the song's own tempo.
    pub speed: f64,
    /// By how many half steps the song is to be moved to sound in the key of the take, -5 to 6.
    pub moved: i32,
    /// The key that it sounds in then.
    pub key: Key,
}

impl std::fmt::Display for RecordedHow {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(out, "--speed {:.0}", self.speed)?;
        if self.moved == 0 { Ok(()) } else { write!(out, " --key {}", self.key.tonic) }
    }
}

impl RecordedHow {
    /// That it was found, in words.
    pub fn told(&self) -> String {
        let key = match self.moved {
            0 => String::new(),
            _ => format!(", in {}", self.key),
        };
        format!(
            "By its beat and its chords it was played at {:.0} percent{key}: it is reviewed so.",
            self.speed
        )
    }
}
