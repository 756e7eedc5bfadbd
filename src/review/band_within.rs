//! Strokes of the band that a microphone heard beside the player's.

use crate::perform::Performance;
use crate::take::Hit;

/// How far from the band's own stroke one may be heard, in seconds: an ear's error, a room's, and the way from the
/// loudspeaker.
const NEAR: f64 = 0.035;

/// How soft it is at most, as a share of the velocity that three quarters of the strokes are below: 12 dB. Somebody's own
/// soft strokes are within some 10.
const SOFT: f64 = 0.5;

/// The hits that are not the band's: neither soft, nor at a time when it strikes, nor with notes of its own. `begins` is
/// where the song's first beat lies, in seconds.
pub(super) fn without_band<'a>(
    played: &Performance,
    start: f64,
    hits: &[&'a Hit],
    begins: f64,
) -> Vec<&'a Hit> {
    let mut band: Vec<(f64, u8)> = played
        .parts
        .iter()
        .flat_map(|part| &part.notes)
        .map(|note| (played.nanos(note.start).seconds() - start + begins, note.pitch.get()))
        .collect();
    band.sort_by(|one, other| one.0.total_cmp(&other.0));
    let mut louds: Vec<u8> = hits.iter().map(|hit| hit.loud).collect();
    louds.sort_unstable();
    let most = louds.get(louds.len() * 3 / 4).copied().unwrap_or(0);
    let is_own = |hit: &&&Hit| {
        let at = hit.at.seconds();
        let from = band.partition_point(|(time, _)| *time < at - NEAR);
        let near = || band.iter().skip(from).take_while(|(time, _)| *time <= at + NEAR);
        let soft = f64::from(hit.loud) < SOFT * f64::from(most);
        let has = |class: u8| near().any(|(_, pitch)| pitch % 12 == class);
        let notes =
            hit.pitches.is_empty() || hit.pitches.iter().any(|pitch| has(pitch.pitch_class()));
        !(soft && near().next().is_some() && notes)
    };
    hits.iter().filter(is_own).copied().collect()
}
