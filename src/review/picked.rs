use crate::take::Hit;

/// Seconds within which the left hand follows the pick: a hammer-on, pull-off or slide is part of a stroke's own note.
const FOLLOWS: f64 = 0.13;

/// How much softer than the pick it is at most: it is made without one.
const SOFTER: f64 = 0.8;

/// How many frets it moves at most.
const FRETS: i32 = 4;

/// The strokes that the right hand makes, of some in order of time: those of the left hand left out.
pub(super) fn picked<'a>(hits: &[&'a Hit]) -> Vec<&'a Hit> {
    let mut out: Vec<&Hit> = Vec::with_capacity(hits.len());
    let mut before: Option<&Hit> = None;
    for &hit in hits {
        let is_left = before.replace(hit).is_some_and(|before| follows(before, hit));
        if !is_left {
            out.push(hit);
        }
    }
    out
}

/// True if a note is made of the one before it on the same string.
fn follows(before: &Hit, hit: &Hit) -> bool {
    let ([from], [to]) = (before.pitches.as_slice(), hit.pitches.as_slice()) else { return false };
    let frets = (i32::from(from.get()) - i32::from(to.get())).abs();
    let soon = (hit.at.0.saturating_sub(before.at.0)) as f64 * 1e-9 <= FOLLOWS;
    soon && (1..=FRETS).contains(&frets) && f64::from(hit.loud) < SOFTER * f64::from(before.loud)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::theory::MidiNote;
    use crate::time::Nanos;

    fn hit(millis: i64, loud: u8, pitches: &[u8]) -> Hit {
        let pitches = pitches.iter().map(|&pitch| MidiNote::clamped(pitch.into())).collect();
        Hit { at: Nanos(millis * 1_000_000), loud, pitches }
    }

    #[test]
    fn a_hammer_on_is_no_stroke_and_another_string_is() {
        let hits = [
            hit(0, 80, &[55]),
            hit(90, 50, &[57]),
            hit(300, 80, &[59]),
            hit(390, 78, &[62]),
            hit(480, 50, &[67]),
            hit(800, 50, &[66]),
        ];
        let all: Vec<&Hit> = hits.iter().collect();
        let times: Vec<i64> = picked(&all).iter().map(|hit| hit.at.0 / 1_000_000).collect();
        assert_eq!(times, [0, 300, 390, 480, 800]);
    }
}
