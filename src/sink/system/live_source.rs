use std::sync::atomic::{AtomicBool, AtomicI64, AtomicU32, AtomicU64, Ordering};
use std::sync::{Arc, OnceLock};

use super::device_clock::DeviceClock;
use super::sound_error::SoundError;
use super::volume::{Volume, VolumeGlide};
use crate::sink::{Cycle, FrameWriter};
use crate::synth::LiveRenderer;
use crate::time::Nanos;

/// Frames that are rendered at a time: two kilobytes for each side.
const BLOCK: usize = 512;

/// Of the delay's peak, the share that is forgotten at each callback: half in about three seconds.
const FORGET: i64 = 256;

/// What a sound device's callback and the port in front of it tell each other, without a lock.
#[derive(Debug)]
pub(super) struct LiveShared {
    /// When the last callback came, in nanoseconds on our clock.
    pub called_at: AtomicI64,
    /// From a callback to when its first frame is heard, in nanoseconds: the largest of late.
    pub latency: AtomicI64,
    /// Frames of a callback.
    pub period: AtomicU32,
    /// The largest sample of the last callback, in millionths of full scale.
    pub peak: AtomicU32,
    pub dropouts: AtomicU64,
    /// Set when the device was changed under the sound.
    pub moved: AtomicBool,
    /// Set to end with a fade, and when that is done.
    pub stop: AtomicBool,
    pub finished: AtomicBool,
    /// Why the device is gone for good.
    pub failure: OnceLock<SoundError>,
}

impl LiveShared {
    pub(super) fn new(period: u32, now: Nanos) -> Arc<Self> {
        Arc::new(Self {
            called_at: AtomicI64::new(now.0),
            latency: AtomicI64::new(0),
            period: AtomicU32::new(period),
            peak: AtomicU32::new(0),
            dropouts: AtomicU64::new(0),
            moved: AtomicBool::new(false),
            stop: AtomicBool::new(false),
            finished: AtomicBool::new(false),
            failure: OnceLock::new(),
        })
    }
}

/// What a sound device's callback calls while the band is played live: it takes the messages that
/// are due, renders each on the frame that is heard at its time, and spreads the sound over the
/// device's channels. It neither allocates nor locks.
pub struct LiveSource {
    renderer: Box<dyn LiveRenderer>,
    writer: FrameWriter,
    clock: DeviceClock,
    volume: VolumeGlide,
    shared: Arc<LiveShared>,
    dropouts: u64,
    channels: usize,
    left: [f32; BLOCK],
    right: [f32; BLOCK],
}

impl LiveSource {
    pub(super) fn new(
        renderer: Box<dyn LiveRenderer>,
        writer: FrameWriter,
        volume: &Volume,
        shared: Arc<LiveShared>,
        channels: u16,
    ) -> Self {
        let rate = renderer.sample_rate();
        Self {
            renderer,
            writer,
            clock: DeviceClock::new(rate),
            volume: VolumeGlide::new(volume.clone(), rate),
            shared,
            dropouts: 0,
            channels: usize::from(channels).max(1),
            left: [0.0; BLOCK],
            right: [0.0; BLOCK],
        }
    }

    /// The next frames. The callback came at `now`, and the device says that the first frame will be
    /// heard at `heard_at`; both on our clock.
    pub fn fill<T: Copy>(
        &mut self,
        samples: &mut [T],
        (now, heard_at): (Nanos, Nanos),
        form: impl Fn(f32) -> T,
        rest: T,
    ) {
        let frames = samples.len() / self.channels;
        self.keep_time(now, heard_at, frames);
        self.take_messages(frames);
        if self.shared.stop.load(Ordering::Relaxed) {
            self.renderer.silence();
        }
        let mut peak = 0.0_f32;
        for piece in samples.chunks_mut(BLOCK * self.channels) {
            let frames = piece.len() / self.channels;
            let (Some(left), Some(right)) =
                (self.left.get_mut(..frames), self.right.get_mut(..frames))
            else {
                return;
            };
            self.renderer.render(left, right);
            self.volume.apply(left, right);
            peak = left.iter().chain(right.iter()).fold(peak, |peak, x| peak.max(x.abs()));
            spread(piece, self.channels, (left, right), &form, rest);
        }
        self.shared.peak.store((peak * 1e6) as u32, Ordering::Relaxed);
        if self.renderer.finished() {
            self.shared.finished.store(true, Ordering::Release);
        }
    }

    fn keep_time(&mut self, now: Nanos, heard_at: Nanos, frames: usize) {
        let dropouts = self.shared.dropouts.load(Ordering::Relaxed);
        if dropouts != self.dropouts || self.shared.moved.swap(false, Ordering::Relaxed) {
            self.dropouts = dropouts;
            self.clock.unsettle();
        }
        self.clock.observe(self.renderer.position_frames(), heard_at);
        self.shared.called_at.store(now.0, Ordering::Relaxed);
        self.shared.period.store(u32::try_from(frames).unwrap_or(u32::MAX), Ordering::Relaxed);
        let latency = heard_at.0.saturating_sub(now.0).max(0);
        let before = self.shared.latency.load(Ordering::Relaxed);
        let held = latency.max(before - (before - latency) / FORGET);
        self.shared.latency.store(held, Ordering::Relaxed);
    }

    fn take_messages(&mut self, frames: usize) {
        let (from, to) = (self.renderer.reckoned(), self.renderer.reckoned_after(frames));
        if to == from {
            return;
        }
        let cycle = Cycle {
            // Counts on and wraps around, as the queue expects.
            first_frame: from as u32,
            frames: u32::try_from(to - from).unwrap_or(u32::MAX),
            starts_at: self.clock.heard(from),
        };
        let renderer = &mut self.renderer;
        self.writer
            .messages(cycle, |offset, message| renderer.take(from + u64::from(offset), message));
    }
}

/// Spreads two sides over a device's channels: both as one for a single channel; left and right for
/// more, of which the others get `rest`, the device's silence.
pub(super) fn spread<T: Copy>(
    samples: &mut [T],
    channels: usize,
    (left, right): (&[f32], &[f32]),
    form: &impl Fn(f32) -> T,
    rest: T,
) {
    let frames = samples.chunks_mut(channels);
    for ((frame, left), right) in frames.zip(left).zip(right) {
        match frame {
            [one] => *one = form(0.5 * (left + right)),
            [first, second, others @ ..] => {
                *first = form(*left);
                *second = form(*right);
                others.fill(rest);
            }
            [] => {}
        }
    }
}
