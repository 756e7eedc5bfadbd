//! A recorded bar as a text that a MIDI file holds beside it, and back.

use super::{HeardBar, SongBar};
use crate::chart::{Role, RoleSet};
use crate::theory::Key;

/// What these texts begin with, so that no other text of a file is taken for one.
const OURS: &str = "openchair: ";

/// What stands in a file before the title of the song that a recording was played beside. A track's name would
/// not do: other programs put tracks in an order of their own.
pub const BESIDE: &str = "openchair: beside ";

impl HeardBar {
    /// As a text for a file: `openchair: bar 12; key G; without chop, guitar; anew; broken off; lost
    /// time`, or
    /// `openchair: count-in`, or `openchair: silence`.
    pub fn to_text(&self) -> String {
        let bar = match self {
            Self::CountIn => return format!("{OURS}count-in"),
            Self::Silence => return format!("{OURS}silence"),
            Self::Song(bar) => bar,
        };
        let mut text = format!("{OURS}bar {}; key {}", bar.number, bar.key);
        let silent: Vec<&str> = bar.silent.iter().map(|role| role.as_str()).collect();
        if !silent.is_empty() {
            text += "; without ";
            text += &silent.join(", ");
        }
        if !bar.goes_on {
            text += "; anew";
        }
        if !bar.whole {
            text += "; broken off";
        }
        if bar.lost_time {
            text += "; lost time";
        }
        text
    }

    /// From such a text; `None` for any other.
    pub fn from_text(text: &str) -> Option<Self> {
        let text = text.strip_prefix(OURS)?;
        match text {
            "count-in" => return Some(Self::CountIn),
            "silence" => return Some(Self::Silence),
            _ => {}
        }
        let mut fields = text.split("; ");
        let number = fields.next()?.strip_prefix("bar ")?.parse().ok()?;
        let key = Key::parse(fields.next()?.strip_prefix("key ")?).ok()?;
        let mut bar = SongBar {
            number,
            key,
            silent: RoleSet::EMPTY,
            goes_on: true,
            whole: true,
            lost_time: false,
        };
        for field in fields {
            match field {
                "anew" => bar.goes_on = false,
                "broken off" => bar.whole = false,
                "lost time" => bar.lost_time = true,
                _ => {
                    let roles = field.strip_prefix("without ")?.split(", ").map(Role::parse);
                    bar.silent = roles.collect::<Option<RoleSet>>()?;
                }
            }
        }
        Some(Self::Song(bar))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_is_read_as_it_was_written() {
        let bar = SongBar {
            number: 12,
            key: Key::parse("A mixolydian").unwrap(),
            silent: RoleSet::EMPTY.with(Role::Chop).with(Role::Guitar),
            goes_on: false,
            whole: false,
            lost_time: true,
        };
        let text = HeardBar::Song(bar).to_text();
        assert_eq!(
            text,
            "openchair: bar 12; key A mixolydian; without chop, guitar; anew; broken off; lost time"
        );
        let minor = SongBar { key: Key::parse("F#m").unwrap(), ..bar };
        let plain =
            SongBar { number: 0, silent: RoleSet::EMPTY, goes_on: true, whole: true, ..minor };
        let plain = SongBar { lost_time: false, ..plain };
        for heard in [
            HeardBar::Song(bar),
            HeardBar::Song(minor),
            HeardBar::Song(plain),
            HeardBar::CountIn,
            HeardBar::Silence,
        ] {
            assert_eq!(HeardBar::from_text(&heard.to_text()), Some(heard));
        }
    }

    #[test]
    fn other_texts_are_none() {
        for text in [
            "",
            "bar 12; key G",
            "openchair: ",
            "openchair: bar",
            "openchair: bar x; key G",
            "openchair: bar 1; key H",
            "openchair: bar 1; key G; without tuba",
            "openchair: bar 1; key G; loud",
            "openchair: bar -1; key G",
        ] {
            assert_eq!(HeardBar::from_text(text), None, "{text}");
        }
    }
}
