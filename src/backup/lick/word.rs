//! The words of a lick, each a step: `t3:2h4`, `m1:0+t5:0`, `h2:3`, `.`, `-`.

use super::lick::{LickNote, LickSlot};
use crate::perform::SlurKind;
use crate::style::Loud;
use crate::theory::fretboard::banjo::{BANJO, Finger, SHORT_STRING};

/// What is wrong with a word, and what to write instead.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct WrongWord {
    pub message: String,
    pub help: String,
}

impl WrongWord {
    fn new(message: impl Into<String>, help: impl Into<String>) -> Self {
        Self { message: message.into(), help: help.into() }
    }
}

/// Reads a word.
pub(super) fn read_word(word: &str) -> Result<LickSlot, WrongWord> {
    match word {
        "." => return Ok(LickSlot::Ring),
        "-" => return Ok(LickSlot::Rest),
        _ => {}
    }
    let (inner, loud) = if let Some(inner) = word.strip_suffix('!') {
        (inner, Loud::Accent)
    } else if let Some(inner) = word.strip_prefix('(') {
        let closed = inner.strip_suffix(')');
        let open = || {
            WrongWord::new(format!("`{word}` has no closing bracket"), format!("write `{word})`"))
        };
        (closed.ok_or_else(open)?, Loud::Ghost)
    } else {
        (word, Loud::Normal)
    };
    let (inner, choked) = inner.strip_suffix('x').map_or((inner, false), |inner| (inner, true));
    let mut notes: Vec<LickNote> = Vec::new();
    for part in inner.split('+') {
        let note = read_note(part)?;
        if notes.iter().any(|other| other.string == note.string) {
            return Err(WrongWord::new(
                format!("string {} stands twice in `{word}`", note.string),
                "pick each string once at a time",
            ));
        }
        if note.finger.is_some() && notes.iter().any(|other| other.finger == note.finger) {
            return Err(WrongWord::new(
                format!("one finger has two strings in `{word}`"),
                "give each string a finger of its own: t, i, m",
            ));
        }
        notes.push(note);
    }
    // Thumb first, as everything that is picked together stands.
    notes.sort_by_key(|note| note.finger);
    Ok(LickSlot::Notes { notes, loud, choked })
}

const HELP: &str = "write a finger, a string and a fret, as in t3:2; after it h, p or s and a fret for a hammer-on, \
                    a pull-off or a slide, as in t3:2h4";

fn read_note(part: &str) -> Result<LickNote, WrongWord> {
    let wrong = || WrongWord::new(format!("`{part}` is no note of a lick"), HELP);
    let mut letters = part.chars();
    let hand = letters.next().ok_or_else(wrong)?.to_ascii_lowercase();
    let (string, rest) = letters.as_str().split_once(':').ok_or_else(wrong)?;
    if hand.is_ascii_digit() && matches!(string, "t" | "i" | "m") {
        return Err(WrongWord::new(
            format!("`{part}` has the string before the finger"),
            format!("write {string}{hand}:{rest}"),
        ));
    }
    let (number, string) = (string, string.parse::<u8>().ok());
    let string = string.filter(|string| (1..=SHORT_STRING).contains(string)).ok_or_else(|| {
        WrongWord::new(format!("a banjo has no string `{number}`"), "write a string from 1 to 5")
    })?;
    let digits = rest.find(|letter: char| !letter.is_ascii_digit()).unwrap_or(rest.len());
    let (fret, then) = rest.split_at(digits);
    let fret = read_fret(fret, string)?.ok_or_else(wrong)?;
    let slur = match then.chars().next() {
        None => None,
        Some(letter) => {
            let kind = kind(letter).ok_or_else(wrong)?;
            let to = then.get(letter.len_utf8()..).unwrap_or_default();
            let to = read_fret(to, string)?.ok_or_else(wrong)?;
            goes(kind, fret, to)?;
            Some((kind, to))
        }
    };
    let finger = match hand {
        't' => Some(Finger::Thumb),
        'i' => Some(Finger::Index),
        'm' => Some(Finger::Middle),
        _ => None,
    };
    match (finger, kind(hand), slur) {
        (Some(finger), _, slur) => {
            if finger.effort(string).is_none() {
                return Err(WrongWord::new(
                    format!("that finger does not reach string {string} in `{part}`"),
                    "the thumb has the strings 5 to 2, the index finger 3 and 2, the middle finger 1",
                ));
            }
            Ok(LickNote { string, fret, finger: Some(finger), slur })
        }
        (None, Some(kind), None) => {
            Ok(LickNote { string, fret, finger: None, slur: Some((kind, fret)) })
        }
        (None, Some(_), Some(_)) => Err(WrongWord::new(
            format!("`{part}` slurs twice in one step"),
            "write the second slur in the next step",
        )),
        (None, None, _) => Err(wrong()),
    }
}

/// A fret of a string; `None` for no number at all.
fn read_fret(text: &str, string: u8) -> Result<Option<u8>, WrongWord> {
    if text.is_empty() {
        return Ok(None);
    }
    match text.parse::<u8>() {
        Ok(0) => Ok(Some(0)),
        Ok(_) if string == SHORT_STRING => Err(WrongWord::new(
            "the fifth string is never stopped here",
            "write 5:0, or another string",
        )),
        Ok(fret) if fret <= BANJO.frets => Ok(Some(fret)),
        Ok(fret) => Err(WrongWord::new(
            format!("the neck has no fret {fret}"),
            format!("write a fret from 0 to {}", BANJO.frets),
        )),
        Err(_) => Ok(None),
    }
}

const fn kind(letter: char) -> Option<SlurKind> {
    match letter {
        's' => Some(SlurKind::Slide),
        'h' => Some(SlurKind::Hammer),
        'p' => Some(SlurKind::Pull),
        _ => None,
    }
}

/// That a slur goes where its kind can go.
pub(super) fn goes(kind: SlurKind, from: u8, to: u8) -> Result<(), WrongWord> {
    let message = |what: &str| format!("{what} from fret {from} to {to}");
    match kind {
        SlurKind::Hammer if to <= from => Err(WrongWord::new(
            message("a hammer-on goes up, not"),
            "write p for a pull-off, or s for a slide",
        )),
        SlurKind::Pull if to >= from => Err(WrongWord::new(
            message("a pull-off goes down, not"),
            "write h for a hammer-on, or s for a slide",
        )),
        SlurKind::Slide if to == from || from == 0 || to == 0 => Err(WrongWord::new(
            message("a slide stays on stopped frets, not"),
            "write h or p where one of the two is open",
        )),
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn notes(word: &str) -> Vec<LickNote> {
        read_word(word).unwrap().notes().to_vec()
    }

    #[test]
    fn words_mean_what_the_readme_says() {
        assert_eq!(read_word("."), Ok(LickSlot::Ring));
        assert_eq!(read_word("-"), Ok(LickSlot::Rest));
        let note = |string, fret, finger, slur| LickNote { string, fret, finger, slur };
        assert_eq!(notes("t3:2h4"), [note(3, 2, Some(Finger::Thumb), Some((SlurKind::Hammer, 4)))]);
        assert_eq!(notes("p1:0"), [note(1, 0, None, Some((SlurKind::Pull, 0)))]);
        assert_eq!(notes("m1:12"), [note(1, 12, Some(Finger::Middle), None)]);
        assert_eq!(notes("m1:0+t5:0").len(), 2);
        let loud = |word| match read_word(word).unwrap() {
            LickSlot::Notes { loud, choked, .. } => (loud, choked),
            _ => panic!("no notes"),
        };
        assert_eq!(loud("t3:2!"), (Loud::Accent, false));
        assert_eq!(loud("(t3:2)"), (Loud::Ghost, false));
        assert_eq!(loud("t3:2x"), (Loud::Normal, true));
    }

    #[test]
    fn what_is_no_word_says_what_to_write() {
        for (word, message) in [
            ("q3:2", "`q3:2` is no note of a lick"),
            ("t3", "`t3` is no note of a lick"),
            ("t6:0", "a banjo has no string `6`"),
            ("3t:0", "`3t:0` has the string before the finger"),
            ("t5:3", "the fifth string is never stopped here"),
            ("t3:23", "the neck has no fret 23"),
            ("m4:2", "that finger does not reach string 4 in `m4:2`"),
            ("t3:4h2", "a hammer-on goes up, not from fret 4 to 2"),
            ("t3:2p4", "a pull-off goes down, not from fret 2 to 4"),
            ("t3:0s2", "a slide stays on stopped frets, not from fret 0 to 2"),
            ("t3:2+i3:4", "string 3 stands twice in `t3:2+i3:4`"),
            ("t3:2+t4:0", "one finger has two strings in `t3:2+t4:0`"),
            ("(t3:2", "`(t3:2` has no closing bracket"),
            ("h3:2h4", "`h3:2h4` slurs twice in one step"),
        ] {
            assert_eq!(read_word(word).unwrap_err().message, message, "{word}");
        }
    }
}
