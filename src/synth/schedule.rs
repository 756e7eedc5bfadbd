use crate::perform::{Note, Performance};
use crate::time::{Tempo, Ticks};

/// Frames that are reckoned at a time: 1.3 ms at 48 kHz.
pub const QUANTUM: usize = 64;

/// The frame nearest to a musical position, at `rate` frames a second. Positions before the start
/// count as the start.
pub fn frame_at(tempo: Tempo, at: Ticks, rate: u32) -> u64 {
    let scaled = i128::from(tempo.nanos(at).0) * i128::from(rate);
    u64::try_from((scaled + 500_000_000) / 1_000_000_000).unwrap_or(0)
}

/// What happens at a frame, in the order in which things of one frame happen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Action {
    /// The hand damps the note of this number.
    Damp(usize),
    /// The note of this number is struck.
    Strike(usize),
}

/// An action and its frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Event {
    /// When.
    pub frame: u64,
    /// What.
    pub action: Action,
}

/// The events of some notes in the order of time. A note that is damped on the frame it is struck
/// on still sounds for one frame, so that its end never comes before its beginning.
pub(super) fn events(performance: &Performance, notes: &[Note], rate: u32) -> Vec<Event> {
    let frame = |at| frame_at(performance.tempo, at, rate);
    let mut out = Vec::with_capacity(notes.len() * 2);
    for (number, note) in notes.iter().enumerate() {
        let start = frame(note.start);
        out.push(Event { frame: start, action: Action::Strike(number) });
        let end = frame(note.end).max(start.saturating_add(1));
        out.push(Event { frame: end, action: Action::Damp(number) });
    }
    out.sort_unstable();
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::time::Meter;

    #[test]
    fn frames_are_the_nearest() {
        let tempo = Tempo::new(120.0, Meter::FourFour, 100.0);
        assert_eq!(frame_at(tempo, Ticks::QUARTER, 48_000), 24_000);
        assert_eq!(frame_at(tempo, Ticks::new(1), 48_000), 25, "25.0 frames a tick");
        assert_eq!(frame_at(tempo, Ticks::new(1), 44_100), 23, "22.97 frames a tick");
        assert_eq!(frame_at(tempo, Ticks::new(-5), 48_000), 0);
        let hours = Ticks::QUARTER * 72_000;
        assert_eq!(frame_at(tempo, hours, 44_100), 36_000 * 44_100, "no drift in ten hours");
    }
}
