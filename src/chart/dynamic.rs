/// How loud a section is played: the standard dynamic marks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Dynamic {
    /// `p`: softly.
    Piano,
    /// `mp`: fairly softly.
    MezzoPiano,
    /// `mf`: as the style has it.
    #[default]
    MezzoForte,
    /// `f`: loudly.
    Forte,
}

impl Dynamic {
    /// Every mark, from soft to loud.
    pub const ALL: [Self; 4] = [Self::Piano, Self::MezzoPiano, Self::MezzoForte, Self::Forte];

    /// As it is written.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Piano => "p",
            Self::MezzoPiano => "mp",
            Self::MezzoForte => "mf",
            Self::Forte => "f",
        }
    }

    /// From its letters.
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|mark| mark.as_str() == word)
    }

    /// The share of the velocities that the style has. A step is about 3 dB where loudness goes with
    /// the square of the velocity, as sound modules have it (from memory); that a mark is so much is
    /// common practice, no source.
    pub const fn share(self) -> f64 {
        match self {
            Self::Piano => 0.7,
            Self::MezzoPiano => 0.85,
            Self::MezzoForte => 1.0,
            Self::Forte => 1.15,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_go_both_ways_and_rise() {
        assert!(Dynamic::ALL.into_iter().all(|mark| Dynamic::parse(mark.as_str()) == Some(mark)));
        assert!(Dynamic::ALL.map(Dynamic::share).is_sorted());
        assert_eq!(Dynamic::parse("ff"), None);
    }
}
