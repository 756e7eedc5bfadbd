//! The element `harmony`.

use super::element::Element;
use super::kinds::{Degree, read};
use crate::interchange::chord_word::chord_word;
use crate::theory::{Chord, Letter, PitchName};

/// The chord of a harmony: `Some(None)` for none at all, and what had to be changed.
pub(super) fn chord(harmony: &Element) -> Option<(Option<Chord>, Option<String>)> {
    let kind_element = harmony.child("kind")?;
    let kind = kind_element.text.trim();
    if kind == "none" {
        return Some((None, None));
    }
    let root = name(harmony.child("root")?, "root")?;
    let degrees: Vec<Degree> = harmony.all("degree").filter_map(degree).collect();
    let bass = harmony.child("bass").and_then(|bass| name(bass, "bass"));
    let said = |chord: &Chord| format!("a chord of kind `{kind}` is played as {chord}");
    if let Some((quality, exact)) = read(kind, &degrees) {
        // Where the kind is not known the text beside it may be.
        if !exact
            && let Some(text) = kind_element.attribute("text")
            && let Some(read) = chord_word(&format!("{root}{text}"))
            && read.said.is_none()
            && let Some(chord) = read.chord
        {
            return Some((Some(Chord { bass, ..chord }), None));
        }
        let chord = Chord { root, quality, bass };
        return Some((Some(chord), (!exact).then(|| said(&chord))));
    }
    let text = kind_element.attribute("text").unwrap_or_default();
    let read = chord_word(&format!("{root}{text}")).and_then(|read| read.chord);
    let chord = Chord { bass, ..read.unwrap_or(Chord::new(root, crate::theory::Quality::MAJOR)) };
    Some((Some(chord), Some(said(&chord))))
}

fn name(element: &Element, of: &str) -> Option<PitchName> {
    let step = element.word(&format!("{of}-step"))?;
    let letter = Letter::parse(step.chars().next()?)?;
    let alter = element.number(&format!("{of}-alter")).unwrap_or(0).clamp(-2, 2);
    Some(PitchName::new(letter, alter as i8))
}

fn degree(element: &Element) -> Option<Degree> {
    let value = u8::try_from(element.number("degree-value")?).ok()?;
    let alter = element.number("degree-alter").unwrap_or(0).clamp(-2, 2) as i8;
    match element.word("degree-type")? {
        "add" => Some((value, alter, true)),
        "alter" => Some((value, alter, false)),
        // What is left out is missed by nobody but the ear.
        _ => None,
    }
}
