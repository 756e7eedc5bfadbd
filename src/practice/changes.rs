use std::collections::HashMap;
use std::fmt;

use thiserror::Error;

use crate::arrange::Arrangement;
use crate::theory::{Chord, ChordError, Key, Quality, Transposition};

/// A change from one chord to another, and how often it comes.
///
/// Both are the chords that are fingered: a slash bass is left out. Who plays backup hears `G/B` and
/// fingers G, and what is practised is the hand's way; so `G/B` to `C` is the change from G to C, and
/// G to `G/B` is none.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Change {
    /// The chord that is left.
    pub from: Chord,
    /// The chord that comes.
    pub to: Chord,
    /// How often the song has it.
    pub count: u32,
}

impl Change {
    /// True if both go from the same chord to the same, however they are spelled.
    pub fn is_same(&self, other: &Self) -> bool {
        is_same(&self.from, &other.from) && is_same(&self.to, &other.to)
    }
}

impl fmt::Display for Change {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} to {}", self.from, self.to)
    }
}

/// The distinct changes of a song as it is played, the most frequent first; equally frequent ones in
/// the order in which they come. Kickoff and ending do not count, nor does the way from the end of the song
/// back to its beginning, and a change across N.C. is none: the hand has time.
pub fn changes(song: &Arrangement) -> Vec<Change> {
    let ending = song.passes.iter().find(|pass| pass.is_ending).map(|pass| pass.start);
    let form = song.form_start();
    let spans = song.spans.iter().filter(|span| span.end > form);
    let spans = spans.take_while(|span| ending.is_none_or(|at| span.start < at));
    let mut found: Vec<Change> = Vec::new();
    let mut known = HashMap::new();
    let mut before: Option<Chord> = None;
    for span in spans {
        let here = span.chord.and_then(|id| song.chord(id)).map(fingered);
        if let (Some(from), Some(to)) = (before, here)
            && !is_same(&from, &to)
        {
            let at = *known.entry((sound(&from), sound(&to))).or_insert(found.len());
            match found.get_mut(at) {
                Some(change) => change.count += 1,
                None => found.push(Change { from, to, count: 1 }),
            }
        }
        before = here;
    }
    // A stable sort: the first to come stays first among equals.
    found.sort_by_key(|change| std::cmp::Reverse(change.count));
    found
}

fn fingered(chord: &Chord) -> Chord {
    Chord { bass: None, ..*chord }
}

/// What a fingered chord is apart from its spelling.
fn sound(chord: &Chord) -> (u8, Quality) {
    (chord.root.pitch_class(), chord.quality)
}

fn is_same(one: &Chord, other: &Chord) -> bool {
    sound(one) == sound(other)
}

/// A change as a player asks for it: `G:C`, `Em:A7`, or in numbers, `1:4`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChangeChoice {
    from: String,
    to: String,
}

/// A change that cannot be practised.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
pub enum ChangeError {
    /// There are not two chords.
    #[error("write two chords with a colon between them, as in G:C")]
    Shape,
    /// One of the two is no chord.
    #[error("`{text}`: {error}; {}", error.help())]
    Chord {
        /// What is written.
        text: String,
        /// What is wrong with it.
        error: ChordError,
    },
    /// The song has no such change.
    #[error("the song has no change from {from} to {to}; {has}")]
    None {
        /// The chord to leave.
        from: String,
        /// The chord to come to.
        to: String,
        /// What there is.
        has: String,
    },
}

impl ChangeChoice {
    /// Takes what is written. Chords are looked at in [`ChangeChoice::find`], where the key is known.
    ///
    /// # Errors
    /// [`ChangeError::Shape`].
    pub fn parse(text: &str) -> Result<Self, ChangeError> {
        match text.split(':').map(str::trim).collect::<Vec<_>>().as_slice() {
            [from, to] if !from.is_empty() && !to.is_empty() => {
                Ok(Self { from: (*from).to_owned(), to: (*to).to_owned() })
            }
            _ => Err(ChangeError::Shape),
        }
    }

    /// The one that is meant among `changes`, which are in the key `played`: written in that key or, if
    /// there is none such, in the key `written` of the song's file. Slash basses count for nothing.
    ///
    /// # Errors
    /// [`ChangeError`], with what there is.
    pub fn find(
        &self,
        changes: &[Change],
        written: Key,
        played: Key,
    ) -> Result<Change, ChangeError> {
        let read = |text: &str, key: Key| {
            Chord::read(text, key)
                .map_err(|error| ChangeError::Chord { text: text.to_owned(), error })
        };
        let wanted = Change {
            from: fingered(&read(&self.from, played)?),
            to: fingered(&read(&self.to, played)?),
            count: 0,
        };
        let by = Transposition::between(written.tonic, played.tonic);
        let moved = Change { from: by.chord(&wanted.from), to: by.chord(&wanted.to), count: 0 };
        let found = |wanted: &Change| changes.iter().find(|change| change.is_same(wanted));
        found(&wanted).or_else(|| found(&moved)).copied().ok_or_else(|| ChangeError::None {
            from: self.from.clone(),
            to: self.to.clone(),
            has: has(changes),
        })
    }
}

/// What there is, for a message.
fn has(changes: &[Change]) -> String {
    /// More than these no one reads in a message.
    const MOST: usize = 8;
    let shown: Vec<String> =
        changes.iter().take(MOST).map(|change| format!("{}:{}", change.from, change.to)).collect();
    match shown.as_slice() {
        [] => "it stays on one chord".to_owned(),
        shown if changes.len() > MOST => format!("it has {} …", shown.join(", ")),
        shown => format!("it has {}", crate::text::list(shown, "and")),
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::song;
    use super::*;
    use crate::arrange::{Plan, arrange};

    fn in_key(form: &str, sections: &[(&str, &str)], key: &str) -> (Vec<Change>, Key) {
        let plan = Plan { key: Some(Key::parse(key).unwrap()), ..Plan::default() };
        let arrangement = arrange(&song(form, sections), &plan).unwrap();
        (changes(&arrangement), arrangement.key)
    }

    fn told(changes: &[Change]) -> Vec<String> {
        changes.iter().map(|change| format!("{change} {}", change.count)).collect()
    }

    #[test]
    fn the_most_frequent_comes_first_and_the_end_leads_nowhere() {
        let (found, _) =
            in_key("['a', 'b', 'a']", &[("a", "| G | C | G | D |"), ("b", "| G C | D |")], "G");
        // G C G D | G C D | G C G D, then the ending's G, which is none of the form.
        assert_eq!(told(&found), ["G to C 3", "C to G 2", "G to D 2", "D to G 2", "C to D 1"]);
    }

    #[test]
    fn a_slash_bass_is_no_other_hand_and_silence_no_change() {
        let (found, _) =
            in_key("['a']", &[("a", "| G | G/B | C | N.C. | D | D7 | C/G | Am C |")], "G");
        assert_eq!(told(&found), ["G to C 1", "D to D7 1", "D7 to C 1", "C to Am 1", "Am to C 1"]);
    }

    #[test]
    fn changes_are_in_the_key_that_is_played() {
        let (found, _) = in_key("['a']", &[("a", "| G | C | D7 |")], "Bb");
        assert_eq!(told(&found), ["Bb to Eb 1", "Eb to F7 1"]);
        let (still, _) = in_key("['a']", &[("a", "| G | G |")], "G");
        assert_eq!(still, []);
    }

    #[test]
    fn a_change_is_chosen_in_either_key() {
        let (found, played) = in_key("['a']", &[("a", "| G | C | D7 | G |")], "C");
        let written = Key::parse("G").unwrap();
        let choose = |text: &str| {
            let choice = ChangeChoice::parse(text).map_err(|error| error.to_string())?;
            let found = choice.find(&found, written, played);
            found.map(|change| change.to_string()).map_err(|error| error.to_string())
        };
        let ok = |text: &str| Ok(text.to_owned());
        assert_eq!(choose("C:F"), ok("C to F"));
        assert_eq!(choose("F:G7"), ok("F to G7"));
        assert_eq!(choose("C:D7"), ok("F to G7"), "as the song's file has it");
        assert_eq!(choose("C/E : F"), ok("C to F"));
        assert_eq!(choose("1:4"), ok("C to F"));
        for (text, said) in [
            ("", "two chords"),
            ("C", "two chords"),
            ("C:F:G", "two chords"),
            ("C:", "two chords"),
            ("C:f", "write the root as a capital: `F`"),
            ("C:Fx", "`x` is no chord quality"),
            ("C:A", "it has C:F, F:G7 and G7:C"),
        ] {
            let error = choose(text).unwrap_err();
            assert!(error.contains(said), "{text}: {error}");
        }
    }
}
