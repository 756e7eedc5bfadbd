use std::ops::Range;

use thiserror::Error;

use super::{Condition, Term};
use crate::text::{list, nearest};

/// More terms than this are refused unread: there are some twenty of a kind, each of which is asked once.
const MOST_TERMS: usize = 20;

/// What is wrong with a condition.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
pub enum ConditionError<T: Term> {
    /// Nothing is asked.
    #[error("this `when` is empty")]
    Empty,
    /// More is asked than there is.
    #[error("this `when` asks for {0} things at once")]
    TooMany(usize),
    /// One thing must be so and not so.
    #[error("it asks for `{name}` and `not {name}`", name = .0.as_str())]
    Contradiction(T),
    /// What is denied is missing.
    #[error("`not` has nothing after it")]
    NothingDenied,
    /// There is nothing on one side of an `and`.
    #[error("`and` has nothing to join here")]
    NothingToJoin,
    /// Terms stand beside each other, but not with `and` between.
    #[error("`{0}` is joined by something other than `and`")]
    OtherwiseJoined(String),
    /// No term has these words.
    #[error("there is no condition `{words}`")]
    Unknown {
        /// What is written.
        words: String,
        /// True if a `not` stands before it.
        denied: bool,
    },
}

impl<T: Term> ConditionError<T> {
    /// What to write instead.
    pub fn help(&self) -> String {
        let known: Vec<&str> = T::ALL.iter().map(|term| term.as_str()).collect();
        let any = || list(&known, "or");
        match self {
            Self::Empty => "leave `when` out for what always fits".to_owned(),
            Self::TooMany(_) => {
                format!("ask each thing once; a `when` has at most {MOST_TERMS}")
            }
            Self::Contradiction(_) => "remove one of the two".to_owned(),
            Self::NothingDenied | Self::NothingToJoin => format!("write one of {}", any()),
            Self::OtherwiseJoined(_) => {
                "join conditions that must all hold with `and`; for `or`, write two".to_owned()
            }
            Self::Unknown { words, denied } => {
                let not = if *denied { "not " } else { "" };
                match nearest(words, known.iter().copied()) {
                    Some(near) => format!("did you mean `{not}{near}`?"),
                    None => format!("write {}; `not` before one turns it round", any()),
                }
            }
        }
    }
}

/// One thing that is wrong, and where in the text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Slip<T: Term> {
    /// Its bytes in the text.
    pub at: Range<usize>,
    /// What it is.
    pub error: ConditionError<T>,
}

/// Reads `"change next and not phrase end"`.
///
/// # Errors
///
/// All that is wrong with it, in order: it is empty or endless, a term is unknown, or two contradict each other.
pub fn read<T: Term>(text: &str) -> Result<Condition<T>, Vec<Slip<T>>> {
    let whole = |error| vec![Slip { at: 0..text.len(), error }];
    if text.trim().is_empty() {
        return Err(whole(ConditionError::Empty));
    }
    let parts = split_at_and(text);
    if parts.len() > MOST_TERMS {
        return Err(whole(ConditionError::TooMany(parts.len())));
    }
    let mut terms: Vec<(bool, T)> = Vec::new();
    let mut slips = Vec::new();
    for at in parts {
        match read_term(text.get(at.clone()).unwrap_or_default()) {
            Ok((denied, term)) if terms.contains(&(!denied, term)) => {
                slips.push(Slip { at, error: ConditionError::Contradiction(term) });
            }
            Ok(term) => terms.push(term),
            Err(error) => slips.push(Slip { at, error }),
        }
    }
    if slips.is_empty() { Ok(Condition::new(terms)) } else { Err(slips) }
}

/// The trimmed parts between the words `and`.
fn split_at_and(value: &str) -> Vec<Range<usize>> {
    let mut parts: Vec<Option<Range<usize>>> = vec![None];
    let mut last_and = 0..0;
    for word in words(value) {
        if value.get(word.clone()) == Some("and") {
            // An `and` with nothing before it is reported in its own place.
            if let Some(part) = parts.last_mut() {
                part.get_or_insert(word.clone());
            }
            last_and = word;
            parts.push(None);
        } else if let Some(part) = parts.last_mut() {
            let start = part.as_ref().map_or(word.start, |part| part.start);
            *part = Some(start..word.end);
        }
    }
    parts.into_iter().map(|part| part.unwrap_or_else(|| last_and.clone())).collect()
}

/// The words of a text, by where they stand.
fn words(value: &str) -> impl Iterator<Item = Range<usize>> {
    let base = value.as_ptr() as usize;
    value.split_whitespace().map(move |word| {
        let start = word.as_ptr() as usize - base;
        start..start + word.len()
    })
}

/// One term with its `not`.
fn read_term<T: Term>(text: &str) -> Result<(bool, T), ConditionError<T>> {
    let words: Vec<&str> = text.split_whitespace().collect();
    let (denied, words) = match words.as_slice() {
        ["not", rest @ ..] => (true, rest),
        all => (false, all),
    };
    let phrase = words.join(" ");
    if let Some(term) = T::parse(&phrase) {
        return Ok((denied, term));
    }
    Err(if phrase.is_empty() || phrase == "and" {
        if denied { ConditionError::NothingDenied } else { ConditionError::NothingToJoin }
    } else if words.contains(&"or") || phrase.contains(',') {
        ConditionError::OtherwiseJoined(phrase)
    } else {
        ConditionError::Unknown { words: phrase, denied }
    })
}

#[cfg(test)]
mod tests {
    use super::super::testing::Weather;
    use super::*;

    /// What is wrong, by the words it points at.
    fn slips(text: &str) -> Vec<(&str, String, String)> {
        let slips = read::<Weather>(text).unwrap_err().into_iter();
        let told =
            |slip: Slip<Weather>| (&text[slip.at], slip.error.to_string(), slip.error.help());
        slips.map(told).collect()
    }

    #[test]
    fn terms_are_joined_and_denied() {
        let expected = [(false, Weather::Sun), (true, Weather::FullMoon)];
        assert_eq!(read(" sun  and not  full moon"), Ok(Condition::new(expected)));
    }

    #[test]
    fn each_slip_is_pointed_at() {
        let at = |text| slips(text).into_iter().map(|(at, ..)| at.to_owned()).collect::<Vec<_>>();
        assert_eq!(at("suns and rian"), ["suns", "rian"]);
        assert_eq!(at("sun and"), ["and"]);
        assert_eq!(at("and sun"), ["and"]);
        assert_eq!(at("not"), ["not"]);
        assert_eq!(at("sun, rain"), ["sun, rain"]);
        assert_eq!(at("sun and not sun"), ["not sun"]);
        assert_eq!(at("  "), ["  "]);
    }

    #[test]
    fn each_slip_says_what_to_write() {
        let told = |text| slips(text).swap_remove(0);
        let (_, message, help) = told("not full mon");
        assert_eq!(message, "there is no condition `full mon`");
        assert_eq!(help, "did you mean `not full moon`?");
        assert_eq!(told("snow").2, "write sun, rain or full moon; `not` before one turns it round");
        assert_eq!(told("sun and not sun").1, "it asks for `sun` and `not sun`");
        let flood = ["sun"; 21].join(" and ");
        assert_eq!(told(&flood).1, "this `when` asks for 21 things at once");
        assert!(read::<Weather>(&["sun"; 20].join(" and ")).is_ok());
    }
}
