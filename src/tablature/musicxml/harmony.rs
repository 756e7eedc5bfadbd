//! Chord symbols.

use crate::tablature::xml::Element;
use crate::theory::{Chord, PitchName};

/// A degree that is added to MusicXML's kind, altered or taken out: its number, its alteration in half steps,
/// and which of the three.
type Degree = (u8, i8, &'static str);

/// What MusicXML calls a kind of chord and what it takes to make it ours (MusicXML 4.0, `kind-value` and
/// `degree`: an added degree is reckoned from a dominant chord, one taken out from what the kind has).
fn kind(quality: &str) -> (&'static str, &'static [Degree]) {
    match quality {
        "" => ("major", &[]),
        "m" => ("minor", &[]),
        "7" => ("dominant", &[]),
        "maj7" => ("major-seventh", &[]),
        "m7" => ("minor-seventh", &[]),
        "mMaj7" => ("major-minor", &[]),
        "6" => ("major-sixth", &[]),
        "m6" => ("minor-sixth", &[]),
        "69" => ("major-sixth", &[(9, 0, "add")]),
        "9" => ("dominant-ninth", &[]),
        "maj9" => ("major-ninth", &[]),
        "m9" => ("minor-ninth", &[]),
        "add9" => ("major", &[(9, 0, "add")]),
        "madd9" => ("minor", &[(9, 0, "add")]),
        "sus2" => ("suspended-second", &[]),
        "sus4" => ("suspended-fourth", &[]),
        // Not as suspended-fourth with an added seventh, which some readers take for a major one.
        "7sus4" => ("dominant", &[(4, 0, "add"), (3, 0, "subtract")]),
        // An eleventh is played without its third.
        "9sus4" | "11" => ("dominant-ninth", &[(4, 0, "add"), (3, 0, "subtract")]),
        "5" => ("power", &[]),
        "dim" => ("diminished", &[]),
        "dim7" => ("diminished-seventh", &[]),
        "m7b5" => ("half-diminished", &[]),
        "aug" => ("augmented", &[]),
        "7b5" => ("dominant", &[(5, -1, "alter")]),
        "7#5" => ("augmented-seventh", &[]),
        "7b9" => ("dominant", &[(9, -1, "add")]),
        "7#9" => ("dominant", &[(9, 1, "add")]),
        "m11" => ("minor-11th", &[]),
        // A thirteenth has no eleventh.
        "13" => ("dominant-13th", &[(11, 0, "subtract")]),
        "maj13" => ("major-13th", &[(11, 0, "subtract")]),
        _ => ("other", &[]),
    }
}

/// A chord's symbol, `offset` divisions after where it is written; `None` for no chord.
pub(super) fn harmony(chord: Option<&Chord>, offset: i64) -> Element {
    let mut harmony = Element::new("harmony");
    match chord {
        Some(chord) => {
            let (kind, degrees) = kind(chord.quality.name());
            harmony.push(note("root", "root-step", "root-alter", chord.root));
            harmony.push(Element::text("kind", kind).with("text", chord.quality.name()));
            if let Some(bass) = chord.bass {
                harmony.push(note("bass", "bass-step", "bass-alter", bass));
            }
            for (value, alter, what) in degrees {
                // The kind's text says it already.
                let degree = Element::new("degree").with("print-object", "no");
                harmony.push(
                    degree
                        .and(Element::text("degree-value", value))
                        .and(Element::text("degree-alter", alter))
                        .and(Element::text("degree-type", what)),
                );
            }
        }
        None => {
            // There must be a root; it is not printed.
            let root = Element::new("root").and(Element::text("root-step", "C").with("text", ""));
            harmony.push(root);
            harmony.push(Element::text("kind", "none").with("text", "N.C."));
        }
    }
    if offset != 0 {
        harmony.push(Element::text("offset", offset));
    }
    harmony
}

fn note(name: &'static str, step: &'static str, alter: &'static str, pitch: PitchName) -> Element {
    let element = Element::new(name).and(Element::text(step, pitch.letter.as_char()));
    match pitch.accidental {
        0 => element,
        marks => element.and(Element::text(alter, marks)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::theory::Quality;

    #[test]
    fn every_quality_has_a_kind() {
        for quality in Quality::all() {
            assert_ne!(kind(quality.name()).0, "other", "{quality:?}");
        }
    }
}
