//! What the terminal at hand can show.

use std::borrow::Cow;
use std::ffi::OsString;
use std::io::IsTerminal;

use crate::text::inert;

/// True unless the terminal says that it can't move its cursor, or shows ASCII alone: then a line a bar it is.
pub(super) fn shows_a_screen() -> bool {
    moves_its_cursor(cfg!(unix), std::env::var_os("TERM")) && shows_all_signs()
}

/// Words as this stream may have them: nothing in them does anything to a terminal, and one that shows ASCII alone gets
/// ASCII. A file or a pipe gets what there is, as UTF-8.
pub(super) fn shown<'a>(words: &'a str, stream: &impl IsTerminal) -> Cow<'a, str> {
    let words = inert(words);
    if words.is_ascii() || !stream.is_terminal() || shows_all_signs() {
        return words;
    }
    words.chars().map(in_ascii).collect::<String>().into()
}

/// What has no TERM, or a dumb one, has no cursor to be moved (terminfo(5), `dumb`). Elsewhere than on Unix there is no
/// such variable.
fn moves_its_cursor(unix: bool, term: Option<OsString>) -> bool {
    !unix || term.is_some_and(|term| !term.is_empty() && term != "dumb")
}

/// By the locale's character set, if one is named at all: many a container names none and shows everything.
pub(super) fn shows_all_signs() -> bool {
    let named = ["LC_ALL", "LC_CTYPE", "LANG"].into_iter().filter_map(std::env::var_os);
    is_utf8(named)
}

/// The first that is not empty holds (POSIX.1-2017, Base Definitions, 8.2).
fn is_utf8(mut named: impl Iterator<Item = OsString>) -> bool {
    let Some(locale) = named.find(|locale| !locale.is_empty()) else { return true };
    let locale = locale.to_string_lossy().to_lowercase();
    locale.contains("utf-8") || locale.contains("utf8")
}

/// What stands for a sign where there is ASCII alone.
fn in_ascii(sign: char) -> Cow<'static, str> {
    if sign.is_ascii() {
        return sign.to_string().into();
    }
    let stands_for = match sign {
        '…' => "...",
        '–' | '—' | '‐' | '−' => "-",
        '‘' | '’' => "'",
        '“' | '”' | '„' => "\"",
        '→' => "->",
        '·' | '•' => ".",
        '♭' => "b",
        '♯' => "#",
        'à'..='ã' | 'å' => "a",
        'ä' | 'æ' => "ae",
        'ç' => "c",
        'è'..='ë' => "e",
        'ì'..='ï' => "i",
        'ñ' => "n",
        'ò'..='õ' | 'ø' => "o",
        'ö' => "oe",
        'ù'..='û' => "u",
        'ü' => "ue",
        'ß' => "ss",
        'Ä' => "Ae",
        'À'..='Ã' | 'Å' => "A",
        'È'..='Ë' => "E",
        'Ö' => "Oe",
        'Ü' => "Ue",
        _ => "?",
    };
    stands_for.into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_dumb_terminal_gets_lines() {
        let term = |name: &str| moves_its_cursor(true, Some(name.into()));
        assert!(term("xterm-256color") && term("linux"));
        assert!(!term("dumb") && !term("") && !moves_its_cursor(true, None));
        assert!(moves_its_cursor(false, None));
    }

    #[test]
    fn the_first_locale_that_is_named_holds() {
        let utf8 = |named: &[&str]| is_utf8(named.iter().map(OsString::from));
        assert!(utf8(&["", "", ""]) && utf8(&["", "de_AT.UTF-8", "C"]) && utf8(&["C.utf8"]));
        assert!(!utf8(&["C", "en_GB.UTF-8"]) && !utf8(&["", "", "POSIX"]));
        assert!(!utf8(&["de_AT.ISO-8859-1"]));
    }

    #[test]
    fn signs_have_something_in_ascii() {
        let ascii = |text: &str| text.chars().map(in_ascii).collect::<String>();
        assert_eq!(ascii("Häher — bar 3… → B♭\n"), "Haeher - bar 3... -> Bb\n");
        assert_eq!(ascii("~ \u{7f}琴"), "~ \u{7f}?");
    }
}
