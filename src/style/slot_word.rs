use std::ops::Range;

use super::{BanjoStrings, BassNote, Degree, Loud, Slot, Strike, Stroke};
use crate::band::Notation;
use crate::chart::Role;

/// What is wrong with a word of a bar.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Slip {
    /// Where in the word.
    pub range: Range<usize>,
    pub message: String,
    pub help: String,
}

/// A note by its degree, a stroke, or a string of the banjo.
enum Sound {
    Bass(BassNote),
    Stroke(Stroke),
    String(u8),
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

/// A bass note, a stroke, or both joined by `+`; or strings of the banjo so joined.
fn read_strike(text: &str, role: Role) -> Result<Strike, Slip> {
    let mut strike =
        Strike { bass: None, stroke: None, strings: BanjoStrings::NONE, loud: Loud::Normal };
    let notation = role.row().notation;
    let picks = notation == Notation::BanjoStrings;
    let example = join_example(notation);
    let mut start = 0;
    for part in text.split('+') {
        let range = start..start + part.len();
        start = range.end + 1;
        if part.is_empty() {
            return slip(
                0..text.len(),
                format!("`{text}` has nothing on one side of its `+`"),
                example,
            );
        }
        match read_sound(part, role) {
            Ok(Sound::Bass(_)) if picks && strike.stroke.is_some() => {
                return slip(range, VAMP_ALONE.0, VAMP_ALONE.1);
            }
            Ok(Sound::Stroke(_)) if picks && strike.bass.is_some() => {
                return slip(range, VAMP_ALONE.0, VAMP_ALONE.1);
            }
            Ok(Sound::Bass(_)) if strike.stroke.is_some() => {
                return slip(
                    0..text.len(),
                    format!("`{text}` has its stroke before its bass note"),
                    "write the bass note first, as in R+D",
                );
            }
            Ok(Sound::Bass(note)) if strike.bass.is_none() => strike.bass = Some(note),
            Ok(Sound::String(_)) if strike.stroke.is_some() => {
                return slip(range, VAMP_ALONE.0, VAMP_ALONE.1);
            }
            Ok(Sound::String(number)) if !strike.strings.contains(number) => {
                strike.strings = strike.strings.with(number);
            }
            Ok(Sound::Stroke(stroke)) if strike.stroke.is_none() && strike.strings.is_empty() => {
                strike.stroke = Some(stroke);
            }
            Ok(sound) => {
                let what = match sound {
                    Sound::Bass(_) => "has two bass notes at once".to_owned(),
                    Sound::Stroke(_) if !strike.strings.is_empty() => {
                        return slip(range, VAMP_ALONE.0, VAMP_ALONE.1);
                    }
                    Sound::Stroke(_) => "has two strokes at once".to_owned(),
                    Sound::String(number) => format!("picks string {number} twice"),
                };
                return slip(range, format!("`{text}` {what}"), twice_help(notation));
            }
            Err((message, help)) => return slip(range, message, help),
        }
        if picks && strike.strings.count() + u32::from(strike.bass.is_some()) > PICKS {
            return slip(
                0..text.len(),
                format!("`{text}` wants more fingers than a banjo player picks with"),
                "join three strings at most: thumb, index and middle",
            );
        }
    }
    Ok(strike)
}

/// Thumb, index and middle finger.
const PICKS: u32 = 3;

/// What is wrong with a vamp that is joined to something, and what to write.
const VAMP_ALONE: (&str, &str) = ("a vamp has strings of its own", "write `x` alone");

/// What two things a `+` joins.
const fn join_example(notation: Notation) -> &'static str {
    match notation {
        Notation::BanjoStrings => "join strings, as in 3+1",
        _ => "write a bass note, `+` and a stroke, as in R+D",
    }
}

const fn twice_help(notation: Notation) -> &'static str {
    match notation {
        Notation::BanjoStrings => {
            "name each string once, as in 3+1, or give each a slot of its own"
        }
        _ => "join one bass note and one stroke, as in R+D, or give each a slot of its own",
    }
}

/// One note, stroke or string that `role` may play, or the message and the help.
fn read_sound(part: &str, role: Role) -> Result<Sound, (String, String)> {
    let notation = role.row().notation;
    if let Some(own) = own_sound(part, notation) {
        return Ok(own);
    }
    // What another role would play has a better answer than what nobody does.
    let what = match (sound(part), notation) {
        (Some(Sound::Stroke(_)), Notation::Notes) => {
            format!("is a stroke, and the {role} plays single notes")
        }
        (Some(Sound::Bass(BassNote::GRun)), Notation::Notes) => {
            "is a step of the guitar's G run".to_owned()
        }
        (Some(Sound::Bass(_)), Notation::Strokes) => {
            format!("is a bass note, and the {role} plays chords")
        }
        _ => return Err(unknown(part, notation)),
    };
    Err((format!("`{part}` {what}"), vocabulary(notation)))
}

/// The sound that a word is in a notation, if it is one.
fn own_sound(part: &str, notation: Notation) -> Option<Sound> {
    match notation {
        Notation::Notes => sound(part)
            .filter(|sound| matches!(sound, Sound::Bass(note) if *note != BassNote::GRun)),
        Notation::Strokes => sound(part).filter(|sound| matches!(sound, Sound::Stroke(_))),
        Notation::NotesAndStrokes => sound(part),
        Notation::BanjoStrings => Some(match part {
            "1" => Sound::String(1),
            "2" => Sound::String(2),
            "3" => Sound::String(3),
            "4" => Sound::String(4),
            "5" => Sound::String(5),
            "6" => Sound::Bass(BassNote::Degree { degree: Degree::Sixth, octave: 0 }),
            ">" => Sound::Bass(BassNote::Walk),
            "x" => Sound::Stroke(Stroke::Chop),
            _ => return None,
        }),
        Notation::Bow => Some(Sound::Stroke(match part {
            "o" => Stroke::Tone,
            "oo" => Stroke::DoubleStop,
            "x" => Stroke::Chop,
            _ => return None,
        })),
        Notation::Break => (part == "o").then_some(Sound::Stroke(Stroke::Tone)),
    }
}

/// What a word is where notes and strokes are written.
fn sound(part: &str) -> Option<Sound> {
    Some(match part {
        "D" => Sound::Stroke(Stroke::Down),
        "U" => Sound::Stroke(Stroke::Up),
        "x" => Sound::Stroke(Stroke::Chop),
        ">" => Sound::Bass(BassNote::Walk),
        "G" => Sound::Bass(BassNote::GRun),
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
fn unknown(part: &str, notation: Notation) -> (String, String) {
    let what = match notation {
        Notation::Notes => "no bass note",
        Notation::Strokes => "no stroke",
        Notation::NotesAndStrokes => "no bass note and no stroke",
        Notation::BanjoStrings => "no string of a banjo",
        Notation::Bow => "no stroke of a bow",
        Notation::Break => "no note of a break",
    };
    let message = format!("`{part}` is {what}");
    let flipped: String =
        part.chars()
            .map(|c| {
                if c.is_ascii_lowercase() { c.to_ascii_uppercase() } else { c.to_ascii_lowercase() }
            })
            .collect();
    let other_case = own_sound(&flipped, notation).map(|_| flipped);
    let lone = |text: &str| text == "." || text == "-" || own_sound(text, notation).is_some();
    let each_alone = part.char_indices().all(|(at, c)| lone(&part[at..at + c.len_utf8()]));
    let help = if let Some(right) = other_case {
        format!("did you mean `{right}`?")
    } else if part == "1" && own_sound("R", notation).is_some() {
        "the root is `R`".to_owned()
    } else if part.contains(['!', '(', ')']) {
        "put ( ) around the whole slot, as in (R+D), and ! after the whole slot, as in R+D!"
            .to_owned()
    } else if part.starts_with('>') && own_sound(">", notation).is_some() {
        "a walking step finds its own way: write `>` alone".to_owned()
    } else if let Some((note, stroke)) = unjoined(part, notation) {
        format!("join them with `+`: {note}+{stroke}")
    } else if each_alone {
        let spaced: Vec<String> = part.chars().map(String::from).collect();
        format!("put a space between slots: {}", spaced.join(" "))
    } else {
        vocabulary(notation)
    };
    (message, help)
}

/// A bass note and a stroke written without their `+`.
fn unjoined(part: &str, notation: Notation) -> Option<(&str, &str)> {
    let (last, _) = part.char_indices().last()?;
    let (note, stroke) = part.split_at(last);
    let is_note = matches!(own_sound(note, notation)?, Sound::Bass(_));
    let joins = is_note && matches!(own_sound(stroke, notation)?, Sound::Stroke(_));
    joins.then_some((note, stroke))
}

/// All that bars are written with.
fn vocabulary(notation: Notation) -> String {
    const NOTES: &str =
        "R 3 5 6 7 8 for a bass note (then ^ for higher or v for lower), > for a walking step";
    const STROKES: &str = "D for a stroke down, U for one up, x for a clipped chop";
    const SILENCE: &str = ". to ring on, - for silence";
    const PICKED: &str = "1 to 5 for a string, with + between strings picked together, \
        6 for the added sixth, > for a lead-in to the next chord, x for a vamp";
    const BOWED: &str = "o for a tone, oo for two at once, x for a chop of the bow";
    match notation {
        Notation::Notes => format!("write {NOTES}, {SILENCE}"),
        Notation::Strokes => format!("write {STROKES}, {SILENCE}"),
        Notation::NotesAndStrokes => {
            format!("write {NOTES}, G for a step of the G run; {STROKES}; {SILENCE}")
        }
        Notation::BanjoStrings => format!("write {PICKED}; {SILENCE}"),
        Notation::Bow => format!("write {BOWED}; {SILENCE}"),
        Notation::Break => format!("write o for a note, {SILENCE}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn strike(bass: Option<(Degree, i8)>, stroke: Option<Stroke>, loud: Loud) -> Slot {
        let bass = bass.map(|(degree, octave)| BassNote::Degree { degree, octave });
        Slot::Strike(Strike { bass, stroke, strings: BanjoStrings::NONE, loud })
    }

    fn picked(strings: &[u8]) -> Slot {
        let strings = strings.iter().fold(BanjoStrings::NONE, |all, &string| all.with(string));
        Slot::Strike(Strike { bass: None, stroke: None, strings, loud: Loud::Normal })
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
        let walk = Strike {
            bass: Some(BassNote::Walk),
            stroke: None,
            strings: BanjoStrings::NONE,
            loud: Loud::Normal,
        };
        let run = Strike { bass: Some(BassNote::GRun), ..walk };
        assert_eq!(read_slot("G", Role::Guitar), Ok(Slot::Strike(run)));
        assert_eq!(read_slot(">", Role::Bass), Ok(Slot::Strike(walk)));
        assert_eq!(read_slot(">", Role::Banjo), Ok(Slot::Strike(walk)));
    }

    #[test]
    fn the_other_chairs_have_words_of_their_own() {
        assert_eq!(read_slot("5", Role::Banjo), Ok(picked(&[5])));
        assert_eq!(read_slot("3+1", Role::Banjo), Ok(picked(&[1, 3])));
        let sixth = strike(Some((Degree::Sixth, 0)), None, Loud::Normal);
        assert_eq!(read_slot("6", Role::Banjo), Ok(sixth));
        assert_eq!(
            read_slot("x!", Role::Banjo),
            Ok(strike(None, Some(Stroke::Chop), Loud::Accent))
        );
        let tone = |stroke| Ok(strike(None, Some(stroke), Loud::Normal));
        assert_eq!(read_slot("o", Role::Fiddle), tone(Stroke::Tone));
        assert_eq!(read_slot("oo", Role::Fiddle), tone(Stroke::DoubleStop));
        assert_eq!(read_slot("o", Role::Lead), tone(Stroke::Tone));
        for (word, role, help) in [
            ("R", Role::Banjo, "write 1 to 5 for a string"),
            ("7", Role::Banjo, "write 1 to 5 for a string"),
            ("35", Role::Banjo, "put a space between slots: 3 5"),
            ("3+3", Role::Banjo, "name each string once"),
            ("3+", Role::Banjo, "join strings, as in 3+1"),
            ("5+3+2+1", Role::Banjo, "join three strings at most"),
            ("x+3", Role::Banjo, "write `x` alone"),
            ("3+x", Role::Banjo, "write `x` alone"),
            ("6+x", Role::Banjo, "write `x` alone"),
            ("x+>", Role::Banjo, "write `x` alone"),
            ("6+3+2+1", Role::Banjo, "join three strings at most"),
            ("O", Role::Fiddle, "did you mean `o`?"),
            ("R", Role::Fiddle, "write o for a tone"),
            ("x", Role::Lead, "write o for a note"),
        ] {
            let slip = read_slot(word, role).unwrap_err();
            assert!(slip.help.starts_with(help), "{word}: {slip:?}");
        }
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
        assert!(read_slot("G", Role::Bass).unwrap_err().message.contains("the guitar's G run"));
        assert!(read_slot("x", Role::Chop).is_ok());
    }
}
