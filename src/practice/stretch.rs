use std::fmt;
use std::ops::RangeInclusive;

use thiserror::Error;

use crate::arrange::{Arrangement, PassStart};
use crate::text::{list, nearest};

/// What to play round and round, as a player writes it: a section's name, with the number of its pass
/// or with its lead where the first is not meant, or bars by their numbers in the song as played.
///
/// `verse`, `verse:2`, `verse: guitar` (as the form and the screen have it), `5-8`, `5`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stretch {
    text: String,
}

/// A stretch that cannot be played.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
pub enum StretchError {
    /// Nothing is written.
    #[error("write a section or bars: verse, verse:2 for its second pass, 5-8, or 5")]
    Empty,
    /// The bars stand the wrong way round.
    #[error("bars {from}-{to} run backwards; write {to}-{from}")]
    Backwards {
        /// The first.
        from: usize,
        /// The last, which is less.
        to: usize,
    },
    /// The song has no bar of that number.
    #[error("there is no bar {bar}: {has}")]
    NoBar {
        /// The number, as written.
        bar: String,
        /// What there is.
        has: String,
    },
    /// The song's form has no section of that name.
    #[error("there is no section `{name}`: {help}")]
    NoSection {
        /// The name.
        name: String,
        /// What there is.
        help: String,
    },
    /// The section has no such pass.
    #[error("there is no `{name}:{wanted}`: the form has {}", passes(labels))]
    NoPass {
        /// The section's name.
        name: String,
        /// The number or lead that was asked for.
        wanted: String,
        /// The section's passes in order, as the form names them.
        labels: Vec<String>,
    },
}

impl Stretch {
    /// Takes what is written. Whether a song has it shows only in [`Stretch::bars`].
    ///
    /// # Errors
    /// [`StretchError::Empty`].
    pub fn parse(text: &str) -> Result<Self, StretchError> {
        match text.trim() {
            "" => Err(StretchError::Empty),
            text => Ok(Self { text: text.to_owned() }),
        }
    }

    /// The numbers of its bars. A section whose name looks like bars is the section.
    ///
    /// # Errors
    /// [`StretchError`], with what the song has instead.
    pub fn bars(&self, song: &Arrangement) -> Result<RangeInclusive<usize>, StretchError> {
        let text = self.text.as_str();
        let form = Form::new(song);
        if form.has(text) {
            return form.pass(text, "1");
        }
        // From the right, since a section's name may hold a colon and a pass's number does not.
        if let Some((name, wanted)) = text.rsplit_once(':')
            && form.has(name.trim())
        {
            return form.pass(name.trim(), wanted.trim());
        }
        match numbers(text) {
            Some((from, to)) => form.numbered(from, to),
            None => Err(form.no_section(text)),
        }
    }
}

impl fmt::Display for Stretch {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

/// `5-8` or `5`, as it is written: both ends as text, since a number may be too large for any song.
fn numbers(text: &str) -> Option<(&str, &str)> {
    let (from, to) = text.split_once(['-', '–']).unwrap_or((text, text));
    let (from, to) = (from.trim(), to.trim());
    let is_number = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
    (is_number(from) && is_number(to)).then_some((from, to))
}

/// The passes of the form, each with its bars' numbers; without kickoff and ending.
struct Form<'a> {
    passes: Vec<(&'a PassStart, RangeInclusive<usize>)>,
}

impl<'a> Form<'a> {
    fn new(song: &'a Arrangement) -> Self {
        let mut passes: Vec<(&PassStart, RangeInclusive<usize>)> = Vec::new();
        let mut last = None;
        for bar in song.bars.iter().take(song.round.unwrap_or(song.bars.len())) {
            let Some(pass) = song.passes.get(bar.pass).filter(|pass| pass.is_of_form()) else {
                continue;
            };
            match passes.last_mut() {
                Some((_, numbers)) if last == Some(bar.pass) => {
                    *numbers = *numbers.start()..=bar.number;
                }
                _ => passes.push((pass, bar.number..=bar.number)),
            }
            last = Some(bar.pass);
        }
        Self { passes }
    }

    fn has(&self, section: &str) -> bool {
        self.passes.iter().any(|(pass, _)| pass.section() == section)
    }

    fn of<'s>(
        &'s self,
        section: &'s str,
    ) -> impl Iterator<Item = &'s (&'a PassStart, RangeInclusive<usize>)> {
        self.passes.iter().filter(move |(pass, _)| pass.section() == section)
    }

    /// A pass of a section, by its number or its lead.
    fn pass(&self, section: &str, wanted: &str) -> Result<RangeInclusive<usize>, StretchError> {
        let by_number = wanted.parse::<usize>().ok().and_then(|number| number.checked_sub(1));
        let found = match by_number {
            Some(index) => self.of(section).nth(index),
            None => self
                .of(section)
                .find(|(pass, _)| pass.lead.is_some_and(|lead| lead.as_str() == wanted)),
        };
        found.map(|(_, numbers)| numbers.clone()).ok_or_else(|| StretchError::NoPass {
            name: section.to_owned(),
            wanted: wanted.to_owned(),
            labels: self.of(section).map(|(pass, _)| pass.label.clone()).collect(),
        })
    }

    fn numbered(&self, from: &str, to: &str) -> Result<RangeInclusive<usize>, StretchError> {
        let known = |text: &str| -> Result<usize, StretchError> {
            let number = text.parse().ok();
            let here = |number: &usize| self.passes.iter().any(|(_, bars)| bars.contains(number));
            number
                .filter(here)
                .ok_or_else(|| StretchError::NoBar { bar: text.to_owned(), has: self.has_what() })
        };
        let (from, to) = (known(from)?, known(to)?);
        if from > to {
            return Err(StretchError::Backwards { from, to });
        }
        Ok(from..=to)
    }

    fn names(&self) -> Vec<&'a str> {
        let mut names: Vec<&str> = Vec::new();
        for (pass, _) in &self.passes {
            if !names.contains(&pass.section()) {
                names.push(pass.section());
            }
        }
        names
    }

    fn has_what(&self) -> String {
        let first = self.passes.first().map_or(0, |(_, bars)| *bars.start());
        let last = self.passes.last().map_or(0, |(_, bars)| *bars.end());
        let names = self.names();
        let (sections, are) =
            (if names.len() == 1 { "section" } else { "sections" }, list(&names, "and"));
        format!("the song has bars {first} to {last}, {sections} {are}")
    }

    fn no_section(&self, text: &str) -> StretchError {
        let name = text.split_once(':').map_or(text, |(name, _)| name).trim();
        let help = match nearest(name, self.names()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => self.has_what(),
        };
        StretchError::NoSection { name: name.to_owned(), help }
    }
}

/// The passes of a section, counted, for a message.
fn passes(labels: &[String]) -> String {
    /// More than these no one reads in a message.
    const MOST: usize = 6;
    let shown: Vec<String> =
        labels.iter().take(MOST).zip(1..).map(|(label, at)| format!("{at} `{label}`")).collect();
    match labels.len() {
        all if all > MOST => format!("{all} passes of it: {} …", shown.join(", ")),
        1 => "one pass of it".to_owned(),
        all => format!("{all} passes of it: {}", list(&shown, "and")),
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::song;
    use super::*;
    use crate::arrange::{Plan, arrange};

    fn four_passes() -> Arrangement {
        let song = song(
            "['verse: voice', 'chorus', 'verse: guitar', 'verse']",
            &[("verse", "| G | C | D | G |"), ("chorus", "| C | G |")],
        );
        arrange(&song, &Plan::default()).unwrap()
    }

    fn bars(text: &str) -> Result<RangeInclusive<usize>, String> {
        let stretch = Stretch::parse(text).map_err(|error| error.to_string())?;
        stretch.bars(&four_passes()).map_err(|error| error.to_string())
    }

    #[test]
    fn sections_passes_and_bars() {
        for (text, wanted) in [
            ("verse", 1..=4),
            (" chorus ", 5..=6),
            ("verse:2", 7..=10),
            ("verse: 3", 11..=14),
            ("verse:guitar", 7..=10),
            ("verse: voice", 1..=4),
            ("5-8", 5..=8),
            ("5 – 8", 5..=8),
            ("14", 14..=14),
        ] {
            assert_eq!(bars(text), Ok(wanted), "{text}");
        }
    }

    #[test]
    fn what_is_not_there_is_told_with_what_is() {
        for (text, said) in [
            ("", "write a section or bars"),
            ("8-5", "write 5-8"),
            ("0", "no bar 0: the song has bars 1 to 14, sections verse and chorus"),
            ("10-15", "no bar 15"),
            ("99999999999999999999", "no bar 99999999999999999999"),
            ("chrous", "did you mean `chorus`?"),
            ("tag", "no section `tag`: the song has bars 1 to 14, sections verse and chorus"),
            ("vers:2", "did you mean `verse`?"),
            ("verse:4", "3 passes of it: 1 `verse: voice`, 2 `verse: guitar` and 3 `verse`"),
            ("verse:0", "no `verse:0`"),
            ("verse:fiddle", "no `verse:fiddle`"),
            ("chorus:2", "one pass of it"),
            ("ending", "no section `ending`"),
        ] {
            let error = bars(text).unwrap_err();
            assert!(error.contains(said), "{text}: {error}");
        }
    }

    #[test]
    fn a_section_may_look_like_bars() {
        let song = song("['5-8', 'a']", &[("5-8", "| G |"), ("a", "| C | D |")]);
        let song = arrange(&song, &Plan::default()).unwrap();
        assert_eq!(Stretch::parse("5-8").unwrap().bars(&song), Ok(1..=1));
    }
}
