use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, OnceLock};
use std::time::Duration;

use super::sound_error::SoundError;
use crate::synth::Renderer;

/// Frames that are rendered at a time: two kilobytes for each side.
pub(super) const BLOCK: usize = 512;

/// What the callback and the rest of the program tell each other, without a lock.
#[derive(Debug, Default)]
pub(super) struct Shared {
    pub rendered: AtomicU64,
    pub latency: AtomicU64,
    /// The farthest frame that was told as heard: the device's idea of its latency wavers.
    pub heard: AtomicU64,
    pub dropouts: AtomicU64,
    pub stop: AtomicBool,
    pub finished: AtomicBool,
    /// Why the device is gone for good.
    pub failure: OnceLock<SoundError>,
    /// The first complaint after which the sound may yet go on.
    pub complaint: OnceLock<SoundError>,
}

/// What a sound device's callback calls: it renders into memory of its own and spreads that over the
/// device's channels. It neither allocates nor locks.
pub struct SoundSource {
    renderer: Box<dyn Renderer>,
    shared: Arc<Shared>,
    channels: usize,
    left: [f32; BLOCK],
    right: [f32; BLOCK],
}

impl SoundSource {
    /// For a device of that many channels.
    pub fn new(renderer: Box<dyn Renderer>, channels: u16) -> Self {
        Self {
            renderer,
            shared: Arc::new(Shared::default()),
            channels: usize::from(channels).max(1),
            left: [0.0; BLOCK],
            right: [0.0; BLOCK],
        }
    }

    pub(super) fn shared(&self) -> Arc<Shared> {
        Arc::clone(&self.shared)
    }

    /// Notes how long it takes until what is rendered now is heard.
    pub fn note_latency(&self, ahead: Duration) {
        let rate = u64::from(self.renderer.sample_rate());
        let frames = ahead.as_nanos() * u128::from(rate) / 1_000_000_000;
        // More than ten seconds would be a clock gone wrong.
        let frames = u64::try_from(frames).unwrap_or(u64::MAX).min(10 * rate);
        self.shared.latency.store(frames, Ordering::Relaxed);
    }

    /// The next frames, spread over the channels.
    pub fn fill<T: Copy>(&mut self, samples: &mut [T], form: impl Fn(f32) -> T, rest: T) {
        if self.shared.stop.load(Ordering::Relaxed) {
            self.renderer.silence();
        }
        for piece in samples.chunks_mut(BLOCK * self.channels) {
            let frames = piece.len() / self.channels;
            let (Some(left), Some(right)) =
                (self.left.get_mut(..frames), self.right.get_mut(..frames))
            else {
                return;
            };
            self.renderer.render(left, right);
            spread(piece, self.channels, (left, right), &form, rest);
        }
        self.shared.rendered.store(self.renderer.position_frames(), Ordering::Relaxed);
        if self.renderer.finished() {
            self.shared.finished.store(true, Ordering::Release);
        }
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
