use super::QUANTUM;
use super::schedule::frame_in;
use super::timbre::Timbre;
use super::voice::damped_frames;
use crate::perform::{Part, Performance};

/// How many notes of a part sound at once, the damping included, and up to two blocks more, since a
/// voice is given back at the end of a block.
pub(super) fn most_at_once(performance: &Performance, part: &Part, sample_rate: u32) -> usize {
    let tail = damped_frames(Timbre::of(part.role), f64::from(sample_rate)) + 2 * QUANTUM as u64;
    let frame = |at| frame_in(performance, at, sample_rate);
    let mut changes: Vec<(u64, i64)> = Vec::with_capacity(part.notes.len() * 2);
    for note in &part.notes {
        changes.push((frame(note.start), 1));
        changes.push((frame(note.end).max(frame(note.start) + 1) + tail, -1));
    }
    changes.sort_unstable();
    let (mut now, mut most) = (0_i64, 0_i64);
    for (_, change) in changes {
        now += change;
        most = most.max(now);
    }
    usize::try_from(most).unwrap_or(0)
}
