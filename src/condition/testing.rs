use super::Term;

/// Words for the tests.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Weather {
    Sun,
    Rain,
    FullMoon,
}

impl Term for Weather {
    const ALL: &'static [Self] = &[Self::Sun, Self::Rain, Self::FullMoon];

    fn as_str(self) -> &'static str {
        match self {
            Self::Sun => "sun",
            Self::Rain => "rain",
            Self::FullMoon => "full moon",
        }
    }

    fn number(self) -> u32 {
        self as u32
    }
}
