use std::borrow::Cow;
use std::fmt::Write as _;

/// Text as it may be shown: what would do something to a terminal or to the order of what is read is written out, as
/// JSON writes it (`\u001b`). Titles, names of files and ports, and whatever was typed come from strangers.
///
/// Written out are control characters but for line ends and tabs, and what turns the direction of writing (U+202A to
/// U+202E, U+2066 to U+2069, and the marks U+200E, U+200F and U+061C: Unicode Standard Annex 9).
///
/// ```
/// use openchair::text::inert;
///
/// assert_eq!(inert("Heron Reel\n"), "Heron Reel\n");
/// assert_eq!(inert("Heron\u{1b}]0;mine\u{7}"), "Heron\\u001b]0;mine\\u0007");
/// assert_eq!(inert("leeR\u{202e}noreH"), "leeR\\u202enoreH");
/// ```
pub fn inert(text: &str) -> Cow<'_, str> {
    if !text.chars().any(acts) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 16);
    for c in text.chars() {
        if acts(c) {
            // Writing to a string can't fail.
            let _ = write!(out, "\\u{:04x}", u32::from(c));
        } else {
            out.push(c);
        }
    }
    Cow::Owned(out)
}

/// True for what is not shown but does something.
fn acts(c: char) -> bool {
    let turns = matches!(
        c,
        '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{200e}' | '\u{200f}' | '\u{61c}'
    );
    turns || c.is_control() && c != '\n' && c != '\t'
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_does_nothing_is_left_alone() {
        for text in ["", "G  C  D", "Häher, 𝄞 und Geige\n\tnoch eine Zeile"] {
            assert!(matches!(inert(text), Cow::Borrowed(same) if same == text));
        }
    }

    #[test]
    fn nothing_that_acts_is_left() {
        let all: String = (0..0x3000).filter_map(char::from_u32).collect();
        let shown = inert(&all);
        assert!(shown.chars().all(|c| !acts(c)));
        assert_eq!(inert(&shown), shown, "said once");
    }
}
