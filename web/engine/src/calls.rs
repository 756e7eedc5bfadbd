//! The words with which the page asks for something.

use openchair::backup::Level;
use openchair::chart::Role;
use openchair::live::{Action, ChordsAs, Touch};
use openchair::practice::Chairs;
use openchair::theory::Key;

/// What is asked for.
pub enum Call {
    /// To begin, or to begin anew once it is over; after so many bars of clicks, if that is said.
    Start(Option<u32>),
    /// What a key or a pedal does too.
    Action(Action),
    /// A place or a value.
    Touch(Touch),
    /// A player's loudness, in percent of what the band gives them.
    Volume(Role, u8),
}

/// The slowest and the fastest speed that the page offers, in percent.
const SPEEDS: std::ops::RangeInclusive<f64> = 25.0..=150.0;

impl Call {
    /// From its words. `seed` is the rehearsal's, for surprises.
    pub fn parse(text: &str, seed: u64) -> Option<Self> {
        let (word, rest) = text.split_once(' ').unwrap_or((text, ""));
        let level = |word: &str| match word {
            "off" => Some(None),
            word => Level::parse(word).map(Some),
        };
        let touch = match word {
            "start" if rest.is_empty() => return Some(Self::Start(None)),
            // As many as the command line takes.
            "start" => {
                return Some(Self::Start(Some(rest.parse().ok().filter(|bars| *bars <= 16)?)));
            }
            "volume" => {
                let (role, percent) = rest.split_once(' ')?;
                let percent = percent.parse().ok().filter(|percent| *percent <= 150)?;
                return Some(Self::Volume(Role::parse(role)?, percent));
            }
            "bar" => Touch::Bar(rest.parse().ok()?),
            "loop" => {
                let (from, to) = rest.split_once('-')?;
                let (from, to): (usize, usize) = (from.parse().ok()?, to.parse().ok()?);
                Touch::Loop(from.min(to).max(1)..=from.max(to))
            }
            "speed" => {
                let percent: f64 = rest.parse().ok().filter(|percent: &f64| percent.is_finite())?;
                Touch::Speed(percent.clamp(*SPEEDS.start(), *SPEEDS.end()))
            }
            "key" => Touch::Key(Key::parse(rest).ok()?),
            "banjo" if !rest.is_empty() => Touch::Banjo(level(rest)?),
            "tab" if !rest.is_empty() => Touch::Tab(level(rest)?),
            "chairs" => Touch::Chairs(match rest {
                "written" => Chairs::AsWritten,
                "turns" => Chairs::Turns,
                "surprise" => Chairs::Surprise { seed, announced: false },
                "surprise-called" => Chairs::Surprise { seed, announced: true },
                _ => return None,
            }),
            "chords" => Touch::Chords(match rest {
                "names" => ChordsAs::Names,
                "numbers" => ChordsAs::Numbers,
                "shapes" => ChordsAs::Shapes,
                _ => return None,
            }),
            _ => return Action::parse(text).map(Self::Action),
        };
        Some(Self::Touch(touch))
    }
}
