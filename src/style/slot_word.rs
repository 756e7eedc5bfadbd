use std::ops::Range;

use super::{BassNote, Degree, Loud, Slot, Strike, Stroke};
use crate::chart::Role;

/// What is wrong with a word of a bar.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Slip {
    /// Where in the word.
    pub range: Range<usize>,
    pub message: String,
    pub help: String,
}

/// A bass note or a stroke.
enum Sound {
    Bass(BassNote),
    Stroke(Stroke),
}

const ONE_SLOT: &str = "put ( ) around one slot at a time with no space inside, as in (R) or (R+D)";

/// Reads one word of a bar, such as `R`, `5v`, `(U)`, `R+D!` or `.`, as `role` may play it.
pub(super) fn read_slot(word: &str, role: Role) -> Result<Slot, Slip> {
    match word {
        "." => return Ok(Slot::Ring),
        "-" => return Ok(Slot::Rest),
        _ => {}
    }
    let (inner, start, loud) = dynamics(word)?;
    let whole = 0..word.len();
    if inner.is_empty() {
        return slip(
            whole,
            format!("`{word}` has nothing to strike"),
            "write ( ) around a note with no space between, as in (R), and ! right after one, as in R!",
        );
    }
    if matches!(inner, "." | "-") {
        return slip(
            whole,
            format!("`{inner}` strikes nothing, so it can be neither ghost nor accent"),
            format!("write `{inner}` alone"),
        );
    }
    let strike = read_strike(inner, role).map_err(|found| Slip {
        range: found.range.start + start..found.range.end + start,
        ..found
    })?;
    Ok(Slot::Strike(Strike { loud, ..strike }))
}

fn slip<T>(
    range: Range<usize>,
    message: impl Into<String>,
    help: impl Into<String>,
) -> Result<T, Slip> {
    Err(Slip { range, message: message.into(), help: help.into() })
}

/// Takes `( )` or `!` off: what is left, where it starts, and how loud it is.
fn dynamics(word: &str) -> Result<(&str, usize, Loud), Slip> {
    let whole = 0..word.len();
    let Some(rest) = word.strip_prefix('(') else {
        if word.ends_with(')') && !word.contains('(') {
            return slip(whole, format!("`{word}` closes a bracket that was not opened"), ONE_SLOT);
        }
        return Ok(match word.strip_suffix('!') {
            Some(inner) => (inner, 0, Loud::Accent),
            None => (word, 0, Loud::Normal),
        });
    };
    if let Some(inner) = rest.strip_suffix(')') {
        return Ok((inner, 1, Loud::Ghost));
    }
    if let Some(inner) = rest.strip_suffix(")!").or(rest.strip_suffix("!)")) {
        let help = format!("write ({inner}) for soft or {inner}! for loud");
        return slip(whole, format!("`{word}` is both ghost and accent"), help);
    }
    slip(whole, format!("`{word}` opens a bracket and does not close it"), ONE_SLOT)
}

/// A bass note, a stroke, or both joined by `+`.
fn read_strike(text: &str, role: Role) -> Result<Strike, Slip> {
    let mut strike = Strike { bass: None, stroke: None, loud: Loud::Normal };
    let mut start = 0;
    for part in text.split('+') {
        let range = start..start + part.len();
        start = range.end + 1;
        if part.is_empty() {
            return slip(
                0..text.len(),
                format!("`{text}` has nothing on one side of its `+`"),
                "write a bass note, `+` and a stroke, as in R+D",
            );
        }
        match read_sound(part, role) {
            Ok(Sound::Bass(_)) if strike.stroke.is_some() => {
                return slip(
                    0..text.len(),
                    format!("`{text}` has its stroke before its bass note"),
                    "write the bass note first, as in R+D",
                );
            }
            Ok(Sound::Bass(note)) if strike.bass.is_none() => strike.bass = Some(note),
            Ok(Sound::Stroke(stroke)) if strike.stroke.is_none() => strike.stroke = Some(stroke),
            Ok(sound) => {
                let what = match sound {
                    Sound::Bass(_) => "bass notes",
                    Sound::Stroke(_) => "strokes",
                };
                return slip(
                    range,
                    format!("`{text}` has two {what} at once"),
                    "join one bass note and one stroke, as in R+D, or give each a slot of its own",
                );
            }
            Err((message, help)) => return slip(range, message, help),
        }
    }
    Ok(strike)
}

/// One bass note or stroke that `role` may play, or the message and the help.
fn read_sound(part: &str, role: Role) -> Result<Sound, (String, String)> {
    let Some(sound) = sound(part) else { return Err(unknown(part, role)) };
    match (&sound, role) {
        (Sound::Stroke(_), Role::Bass) => Err((
            format!("`{part}` is a stroke, and the bass plays single notes"),
            vocabulary(role),
        )),
        (Sound::Bass(_), Role::Chop) => {
            Err((format!("`{part}` is a bass note, and the chop plays chords"), vocabulary(role)))
        }
        _ => Ok(sound),
    }
}

fn sound(part: &str) -> Option<Sound> {
    Some(match part {
        "D" => Sound::Stroke(Stroke::Down),
        "U" => Sound::Stroke(Stroke::Up),
        "x" => Sound::Stroke(Stroke::Chop),
        ">" => Sound::Bass(BassNote::Walk),
        _ => {
            let mut letters = part.chars();
            let degree = match letters.next()? {
                'R' => Degree::Root,
                '3' => Degree::Third,
                '5' => Degree::Fifth,
                '6' => Degree::Sixth,
                '7' => Degree::Seventh,
                '8' => Degree::Octave,
                _ => return None,
            };
            let octave = match letters.as_str() {
                "" => 0,
                "^" => 1,
                "v" => -1,
                _ => return None,
            };
            Sound::Bass(BassNote::Degree { degree, octave })
        }
    })
}

/// Why a part is neither note nor stroke, and what to write instead.
fn unknown(part: &str, role: Role) -> (String, String) {
    let what = match role {
        Role::Bass => "no bass note",
        Role::Chop => "no stroke",
        Role::Guitar => "no bass note and no stroke",
    };
    let message = format!("`{part}` is {what}");
    let other_case = match part {
        "r" => Some("R"),
        "d" => Some("D"),
        "u" => Some("U"),
        "X" => Some("x"),
        _ => None,
    };
    let lone = |text: &str| text == "." || text == "-" || sound(text).is_some();
    let each_alone = part.char_indices().all(|(at, c)| lone(&part[at..at + c.len_utf8()]));
    let help = if let Some(right) = other_case {
        format!("did you mean `{right}`?")
    } else if part == "1" {
        "the root is `R`".to_owned()
    } else if part.contains(['!', '(', ')']) {
        "put ( ) around the whole slot, as in (R+D), and ! after the whole slot, as in R+D!"
            .to_owned()
    } else if part.starts_with('>') {
        "a walking step finds its own way: write `>` alone".to_owned()
    } else if let Some((note, stroke)) = unjoined(part) {
        format!("join them with `+`: {note}+{stroke}")
    } else if each_alone {
        let spaced: Vec<String> = part.chars().map(String::from).collect();
        format!("put a space between slots: {}", spaced.join(" "))
    } else {
        vocabulary(role)
    };
    (message, help)
}

/// A bass note and a stroke written without their `+`.
fn unjoined(part: &str) -> Option<(&str, &str)> {
    let (last, _) = part.char_indices().last()?;
    let (note, stroke) = part.split_at(last);
    let joins =
        matches!(sound(note)?, Sound::Bass(_)) && matches!(sound(stroke)?, Sound::Stroke(_));
    joins.then_some((note, stroke))
}

/// All that a role's bars are written with.
fn vocabulary(role: Role) -> String {
    const NOTES: &str =
        "R 3 5 6 7 8 for a bass note (then ^ for higher or v for lower), > for a walking step";
    const STROKES: &str = "D for a stroke down, U for one up, x for a clipped chop";
    const SILENCE: &str = ". to ring on, - for silence";
    match role {
        Role::Bass => format!("write {NOTES}, {SILENCE}"),
        Role::Chop => format!("write {STROKES}, {SILENCE}"),
        Role::Guitar => format!("write {NOTES}; {STROKES}; {SILENCE}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn strike(bass: Option<(Degree, i8)>, stroke: Option<Stroke>, loud: Loud) -> Slot {
        let bass = bass.map(|(degree, octave)| BassNote::Degree { degree, octave });
        Slot::Strike(Strike { bass, stroke, loud })
    }

    #[test]
    fn words_mean_what_they_say() {
        for (word, slot) in [
            (".", Slot::Ring),
            ("-", Slot::Rest),
            ("R", strike(Some((Degree::Root, 0)), None, Loud::Normal)),
            ("5v", strike(Some((Degree::Fifth, -1)), None, Loud::Normal)),
            ("3^!", strike(Some((Degree::Third, 1)), None, Loud::Accent)),
            ("(U)", strike(None, Some(Stroke::Up), Loud::Ghost)),
            ("8+D!", strike(Some((Degree::Octave, 0)), Some(Stroke::Down), Loud::Accent)),
            ("(R+x)", strike(Some((Degree::Root, 0)), Some(Stroke::Chop), Loud::Ghost)),
        ] {
            assert_eq!(read_slot(word, Role::Guitar), Ok(slot), "{word}");
        }
        let walk = Strike { bass: Some(BassNote::Walk), stroke: None, loud: Loud::Normal };
        assert_eq!(read_slot(">", Role::Bass), Ok(Slot::Strike(walk)));
    }

    #[test]
    fn slips_are_pointed_at_and_mended() {
        for (word, at, help) in [
            ("r", "r", "did you mean `R`?"),
            ("(R+X)", "X", "did you mean `x`?"),
            ("RD", "RD", "join them with `+`: R+D"),
            ("5vU", "5vU", "join them with `+`: 5v+U"),
            ("1", "1", "the root is `R`"),
            ("R.D.", "R.D.", "put a space between slots: R . D ."),
            ("R!+D", "R!", "put ( ) around the whole slot"),
            (">^", ">^", "a walking step finds its own way"),
            ("R+", "R+", "write a bass note, `+` and a stroke"),
            ("R+5", "5", "join one bass note and one stroke"),
            ("D+U", "U", "join one bass note and one stroke"),
            ("D+R", "D+R", "write the bass note first"),
            ("(R", "(R", "put ( ) around one slot"),
            ("R)", "R)", "put ( ) around one slot"),
            ("(R)!", "(R)!", "write (R) for soft or R! for loud"),
            ("(.)", "(.)", "write `.` alone"),
            ("!", "!", "write ( ) around a note"),
            ("ä", "ä", "write R 3 5 6 7 8"),
        ] {
            let slip = read_slot(word, Role::Guitar).unwrap_err();
            assert_eq!(&word[slip.range.clone()], at, "{slip:?}");
            assert!(slip.help.starts_with(help), "{word}: {slip:?}");
        }
    }

    #[test]
    fn each_role_keeps_to_its_own() {
        assert!(read_slot("D", Role::Bass).is_err());
        assert!(read_slot("R", Role::Chop).is_err());
        assert!(read_slot("R+x", Role::Chop).is_err());
        assert!(read_slot("x", Role::Chop).is_ok());
    }
}
