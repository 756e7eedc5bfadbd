//! Signs that send a player elsewhere: segno, coda, Fine, D.C. and D.S.

/// The signs at a bar.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Marks {
    /// A segno stands before it.
    pub segno: bool,
    /// A coda sign stands before it: where the last time leaves, or where it goes.
    pub coda: bool,
    /// The last time ends after it.
    pub fine: bool,
    /// After it the music goes back.
    pub jump: Option<Jump>,
}

/// Where the music goes back to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Jump {
    /// To the beginning: D.C.
    Start,
    /// To the segno: D.S.
    Segno,
}

/// A sign, or the words for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Mark {
    Segno,
    Coda,
    /// From here to the coda, the last time.
    ToCoda,
    Fine,
    Jump(Jump),
}

impl Mark {
    /// By what is written: `D.C.`, `D.C. al Fine`, `!dacapo!`'s name, `Segno`. `None` for other words.
    pub fn read(words: &str) -> Option<Self> {
        let letters = words.chars().filter(|c| c.is_alphabetic());
        let plain: String = letters.flat_map(char::to_lowercase).collect();
        // `al Fine` and `al Coda` say what the signs say by themselves.
        let plain = ["alfine", "alcoda"]
            .iter()
            .find_map(|tail| plain.strip_suffix(tail).filter(|rest| !rest.is_empty()))
            .unwrap_or(&plain);
        match plain {
            "dc" | "dacapo" | "dacoda" => Some(Self::Jump(Jump::Start)),
            "ds" | "dalsegno" => Some(Self::Jump(Jump::Segno)),
            "fine" => Some(Self::Fine),
            "segno" => Some(Self::Segno),
            "coda" => Some(Self::Coda),
            "tocoda" => Some(Self::ToCoda),
            _ => None,
        }
    }
}

impl Marks {
    /// No sign.
    pub(super) const NONE: Self = Self { segno: false, coda: false, fine: false, jump: None };
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signs_are_told_from_words() {
        for (words, mark) in [
            ("D.C.", Mark::Jump(Jump::Start)),
            ("_D.C", Mark::Jump(Jump::Start)),
            ("D.C.alfine", Mark::Jump(Jump::Start)),
            ("Da Capo al Fine", Mark::Jump(Jump::Start)),
            ("   D.S.", Mark::Jump(Jump::Segno)),
            ("dal segno al Coda", Mark::Jump(Jump::Segno)),
            ("^Segno", Mark::Segno),
            ("Fine", Mark::Fine),
            ("^<coda>", Mark::Coda),
            ("Dal Segno", Mark::Jump(Jump::Segno)),
            ("To Coda", Mark::ToCoda),
        ] {
            assert_eq!(Mark::read(words), Some(mark), "{words}");
        }
        for words in ["", "D", "Dm", "Finely", "Slow", "alfine", "C.D."] {
            assert_eq!(Mark::read(words), None, "{words}");
        }
    }
}
