use crate::backup::Level;
use crate::text::{list, nearest};

/// A level by its word, or what to write instead.
pub(in crate::cli) fn level(text: &str) -> Result<Level, String> {
    let word = text.trim();
    Level::parse(word).ok_or_else(|| {
        let words = Level::ALL.map(Level::as_str);
        match nearest(word, words) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("the levels are {}", list(&words, "and")),
        }
    })
}
