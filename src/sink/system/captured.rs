//! Sound that comes in, from a device's callback to whoever keeps it, by queues without locks.

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, OnceLock};

use rtrb::{Consumer, Producer, RingBuffer};

use super::device_clock::DeviceClock;
use super::microphone_error::MicrophoneError;
use crate::time::Nanos;

/// Seconds of sound that there is room for: far longer than whoever keeps it is ever held up.
const ROOM: usize = 10;

/// Blocks for which there is room: callbacks come each 20 ms, and some devices' each 3.
const BLOCKS: usize = ROOM * 400;

/// What a callback brought.
#[derive(Clone, Copy, Debug)]
struct Block {
    /// The number of its first frame, of all that ever came.
    first: u64,
    frames: usize,
    /// When that was at the microphone.
    at: Nanos,
}

/// What both ends know of the device.
#[derive(Debug, Default)]
pub(super) struct CaptureShared {
    /// When the device came last.
    pub(super) came: AtomicU64,
    /// Why it is gone.
    pub(super) failure: OnceLock<MicrophoneError>,
}

/// The end of the device's thread.
#[derive(Debug)]
pub(super) struct CaptureEnd {
    sound: Producer<f32>,
    blocks: Producer<Block>,
    channels: usize,
    frames: u64,
    pub(super) shared: Arc<CaptureShared>,
}

/// The end of whoever keeps the sound: one channel of samples from -1 to 1, and when each was at the microphone.
#[derive(Debug)]
pub struct Captured {
    sound: Consumer<f32>,
    blocks: Consumer<Block>,
    clock: DeviceClock,
    next: u64,
    missed: u64,
    pub(super) shared: Arc<CaptureShared>,
}

/// Both ends, for a device of so many channels and frames a second.
pub(super) fn capture(channels: u16, rate: u32) -> (CaptureEnd, Captured) {
    let (sound, heard) = RingBuffer::new(ROOM * rate as usize);
    let (blocks, come) = RingBuffer::new(BLOCKS);
    let shared = Arc::<CaptureShared>::default();
    let channels = usize::from(channels.max(1));
    let end = CaptureEnd { sound, blocks, channels, frames: 0, shared: Arc::clone(&shared) };
    let clock = DeviceClock::new(rate);
    (end, Captured { sound: heard, blocks: come, clock, next: 0, missed: 0, shared })
}

impl CaptureEnd {
    /// Takes frames, of which the first was at the microphone at `at`; the channels' mean is kept. Allocates nothing and
    /// takes no lock. What there is no room for is left out as a whole, so that what is kept stays at its time.
    pub(super) fn take<T: Copy>(&mut self, samples: &[T], at: Nanos, sample: impl Fn(T) -> f32) {
        let frames = samples.len() / self.channels;
        let first = self.frames;
        self.frames += frames as u64;
        self.shared.came.store(u64::try_from(at.0).unwrap_or(0), Ordering::Relaxed);
        if self.sound.slots() < frames || self.blocks.is_full() {
            return;
        }
        for frame in samples.chunks_exact(self.channels) {
            let sum: f32 = frame.iter().map(|it| sample(*it)).sum();
            let _ = self.sound.push(sum / self.channels as f32);
        }
        let _ = self.blocks.push(Block { first, frames, at });
    }
}

impl Captured {
    /// Adds what has come since to `samples`, silence for what is lost. Gives the number of the last block's first frame
    /// of all that ever came, and when that was at the microphone by all that the device has said; `None` where nothing
    /// has come.
    pub fn read(&mut self, samples: &mut Vec<f32>) -> Option<(u64, Nanos)> {
        let mut last = None;
        while let Ok(block) = self.blocks.pop() {
            let lost = block.first.saturating_sub(self.next);
            if lost > 0 {
                self.missed += lost;
                samples.resize(samples.len() + usize::try_from(lost).unwrap_or(0), 0.0);
            }
            for _ in 0..block.frames {
                // All of a block is there before the block is.
                samples.push(self.sound.pop().unwrap_or(0.0));
            }
            self.next = block.first + block.frames as u64;
            self.clock.observe(block.first, block.at);
            last = Some(block.first);
        }
        last.map(|first| (first, self.clock.heard(first)))
    }

    /// Frames for which there was no room.
    pub fn missed(&self) -> u64 {
        self.missed
    }

    /// Why the device is gone, if it has said so.
    pub fn failure(&self) -> Option<&MicrophoneError> {
        self.shared.failure.get()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_comes_is_one_channel_at_its_time() {
        let (mut end, mut captured) = capture(2, 48_000);
        let mut samples = Vec::new();
        assert_eq!(captured.read(&mut samples), None);
        for n in 0..50_i64 {
            let block: Vec<i16> = (0..480).flat_map(|_| [16_384, 0]).collect();
            end.take(&block, Nanos(7_000_000 + n * 10_000_000), |it| f32::from(it) / 32_768.0);
        }
        let (frame, at) = captured.read(&mut samples).unwrap();
        assert_eq!((samples.len(), frame), (24_000, 49 * 480));
        assert!((at.0 - 497_000_000).abs() < 1_000, "{at:?}");
        assert!(samples.iter().all(|sample| *sample == 0.25));
    }

    #[test]
    fn what_there_is_no_room_for_leaves_silence() {
        let (mut end, mut captured) = capture(1, 1_000);
        let second = vec![0.5_f32; 1_000];
        for n in 0..13 {
            end.take(&second, Nanos(n * 1_000_000_000), |it| it);
        }
        let mut samples = Vec::new();
        captured.read(&mut samples);
        assert_eq!(samples.len(), 10_000);
        end.take(&second, Nanos(13_000_000_000), |it| it);
        captured.read(&mut samples);
        assert_eq!((samples.len(), captured.missed()), (14_000, 3_000));
        assert!(samples[10_000..13_000].iter().all(|it| *it == 0.0) && samples[13_000] == 0.5);
    }
}
