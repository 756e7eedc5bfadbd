//! How loud a performance will be, reckoned from its notes.
//!
//! A song is exported, and played live, at one loudness whatever its style and its line-up. A file could
//! be measured and turned up afterwards; what is played live can't, and both are to be the same sound. So
//! the loudness is reckoned before anything sounds: each instrument's notes weigh what was measured of
//! them once, and the sum is gated as the standard has it.

use super::sound::Sound;
use crate::perform::{Part, Performance};
use crate::time::Ticks;

/// The loudness aimed at, in LUFS. It leaves the strokes of a band of strings room below full scale, and
/// is between what broadcasters (EBU R 128: -23) and most players of music at home (about -14; from
/// memory) aim at.
pub const LOUDNESS: f64 = -18.0;

/// The most that is made up for, in decibels. Whoever plays a song with a bass alone does not want it
/// as loud as a band, and the limiter is to hold peaks, not to press.
const MOST: f64 = 9.0;

/// What notes that sound together gain over the sum of each alone, in decibels: those of a chord begin
/// within a few milliseconds and share their partials. Measured over the shipped songs, as the mean of
/// what was heard less what was reckoned.
const TOGETHER: f64 = 1.2;

/// Hops a second, and hops of a block: blocks of 400 ms, each a quarter further on than the last
/// (ITU-R BS.1770-4, annex 1).
const HOPS: f64 = 10.0;
const BLOCK: usize = 4;

/// What the standard adds to ten times the logarithm of the mean square, the loudness below which a block
/// is silence, and how far below the mean of the others one must lie to be left out (the same).
const OFFSET: f64 = -0.691;
const SILENCE: f64 = -70.0;
const RELATIVE: f64 = -10.0;

/// The factor by which the band's own sound is to be louder for a performance to come out at
/// [`LOUDNESS`]. 1 if nobody plays.
pub fn make_up(performance: &Performance) -> f32 {
    let wanted = loudness(performance).map_or(0.0, |found| LOUDNESS - found);
    10.0_f64.powf(wanted.clamp(-MOST, MOST) / 20.0) as f32
}

/// The integrated loudness of a performance in LUFS, as reckoned from its notes: those of the band's own
/// sound at a gain of 1. Clicks and the limiter are left out. `None` for silence.
pub fn loudness(performance: &Performance) -> Option<f64> {
    let seconds = |at: Ticks| performance.nanos(at).0.max(0) as f64 * 1e-9;
    let begin = seconds(performance.song_start);
    let length = (seconds(performance.end) - begin).max(0.0);
    // A performance of days would be a list of a million; more are no longer told apart.
    let hops = ((length * HOPS) as usize + 1).min(10_000_000);
    let mut energy = vec![0.0; hops];
    for part in &performance.parts {
        add(part, |at| seconds(at) - begin, &mut energy);
    }
    gated(&energy).map(|alone| alone + TOGETHER)
}

/// Adds the energy of a part's notes to the hops that it falls into.
fn add(part: &Part, seconds: impl Fn(Ticks) -> f64, energy: &mut [f64]) {
    // Controller 7 is 40·log10 decibels of its share (see `Held`).
    let volume = (f64::from(part.instrument.volume) / 127.0).powi(4);
    for note in &part.notes {
        let (start, end) = (seconds(note.start).max(0.0), seconds(note.end));
        let weight = Sound::told(part.role, part.program_at(note.start)).weight();
        let of_note = weight.note(note.pitch.get(), note.velocity);
        let mut at = start;
        let mut hop = (start * HOPS) as usize;
        while at < end
            && let Some(energy) = energy.get_mut(hop)
        {
            let next = ((hop + 1) as f64 / HOPS).min(end);
            *energy += volume * of_note.between(at - start, next - start);
            if of_note.is_gone(next - start) {
                break;
            }
            if next >= end {
                *energy += volume * of_note.after(end - start);
            }
            at = next;
            hop += 1;
        }
    }
}

/// The integrated loudness by the standard's two gates.
fn gated(energy: &[f64]) -> Option<f64> {
    let seconds = BLOCK as f64 / HOPS;
    let mean = |block: &[f64]| block.iter().sum::<f64>() / seconds;
    let blocks: Vec<f64> = if energy.len() < BLOCK {
        vec![mean(energy)]
    } else {
        energy.windows(BLOCK).map(mean).collect()
    };
    let level = |square: f64| OFFSET + 10.0 * square.log10();
    let above = |threshold: f64| {
        let heard = blocks.iter().filter(|&&square| level(square) > threshold);
        let (sum, count) = heard.fold((0.0, 0_u32), |(sum, n), square| (sum + square, n + 1));
        (count > 0).then(|| level(sum / f64::from(count)))
    };
    above(above(SILENCE)? + RELATIVE)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn silence_between_is_not_counted() {
        let tone = [0.01; 100];
        // -0.691 + 10·log10(0.1)
        let alone = gated(&tone).unwrap();
        assert!((alone + 10.691).abs() < 1e-9, "{alone}");
        let rests = [tone.as_slice(), [1e-6; 300].as_slice()].concat();
        assert!((gated(&rests).unwrap() - alone).abs() < 0.1);
        assert_eq!(gated(&[0.0; 50]), None);
        assert_eq!(gated(&[]), None);
    }
}
