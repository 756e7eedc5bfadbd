//! Keys and tempos.

use super::element::Element;
use crate::interchange::Remarks;
use crate::interchange::modes::{MODES, key_of, tonic_of};
use crate::interchange::tune::TempoMark;
use crate::interchange::units::QUARTER;
use crate::theory::Key;

/// A key by its signature and its mode.
pub(super) fn key(element: &Element, remarks: &mut Remarks) -> Option<Key> {
    let fifths = i32::try_from(element.number("fifths")?).ok()?.clamp(-7, 7);
    let mode = element.word("mode").unwrap_or("major");
    let row = MODES.iter().find(|row| row.name == mode);
    let row = row.or_else(|| MODES.first())?;
    let key = key_of(tonic_of(fifths, row.flatter), row.mode);
    if !row.is_kept() {
        let words = format!("{mode} is no mode of a song; it is written in {key}");
        remarks.add(words, element.at, None);
    }
    Some(key)
}

/// What a `sound` or a `metronome` says.
pub(super) fn tempo(direction: &Element) -> Option<TempoMark> {
    let sound = direction.child("sound").or(Some(direction).filter(|it| it.name == "sound"));
    if let Some(tempo) = sound.and_then(|sound| sound.attribute("tempo")) {
        let per_minute: f64 = tempo.parse().ok()?;
        // Quarters a minute, whatever the beat.
        return (per_minute.is_finite() && per_minute > 0.0)
            .then_some(TempoMark { beat: QUARTER, per_minute });
    }
    None
}
