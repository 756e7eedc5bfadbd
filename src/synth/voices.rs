use super::QUANTUM;
use super::bow_voice::released_frames;
use super::schedule::frame_in;
use super::sound::{Make, Sound};
use super::voice::damped_frames;
use crate::perform::{Part, Performance};

/// How many notes of a part sound at once, the damping included, and up to two blocks more, since a
/// voice is given back at the end of a block.
pub(super) fn most_at_once(performance: &Performance, part: &Part, sample_rate: u32) -> usize {
    let rate = f64::from(sample_rate);
    let ends = Sound::played_by(part.role).iter().map(|sound| match sound.make() {
        Make::Plucked(timbre) => damped_frames(timbre, rate),
        Make::Bowed(timbre) => released_frames(timbre, rate),
    });
    let tail = ends.max().unwrap_or(0) + 2 * QUANTUM as u64;
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
