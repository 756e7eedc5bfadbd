use crate::perform::{Message, Performance, messages};
use crate::time::{Nanos, Tempo, Ticks};

/// Frames that are reckoned at a time: 1.3 ms at 48 kHz.
pub const QUANTUM: usize = 64;

/// The frame nearest to a musical position of a performance, at `rate` frames a second. Positions
/// before the start count as the start.
pub fn frame_in(performance: &Performance, at: Ticks, rate: u32) -> u64 {
    nearest(performance.nanos(at), rate)
}

/// The same at a steady tempo.
pub fn frame_at(tempo: Tempo, at: Ticks, rate: u32) -> u64 {
    nearest(tempo.nanos(at), rate)
}

fn nearest(time: Nanos, rate: u32) -> u64 {
    let scaled = i128::from(time.0) * i128::from(rate);
    u64::try_from((scaled + 500_000_000) / 1_000_000_000).unwrap_or(0)
}

/// Every message of a performance in the order of sending, each with its frame.
pub fn framed(performance: &Performance, rate: u32) -> Vec<(u64, Message)> {
    let frame = |at| frame_in(performance, at, rate);
    messages(performance).into_iter().map(|timed| (frame(timed.at), timed.message)).collect()
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
