use std::cell::Cell;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::thread::sleep;
use std::time::{Duration, Instant};

use super::live_source::{LiveShared, LiveSource};
use super::sound_error::SoundError;
use super::volume::Volume;
use crate::perform::Message;
use crate::sink::{FrameQueue, Losses, MidiOut, SendError, Slack, frame_queue_with};
use crate::synth::{LiveRenderer, QUANTUM};
use crate::time::Nanos;

/// How long before the last moment a message is queued. The playing thread may wake up 10 ms late on
/// a busy machine without raised priority; eight times that costs nothing, since what is queued can
/// be taken back.
const MARGIN: i64 = 80_000_000;

/// How long a device may take no sound before it counts as lost. Above a second, which a device may
/// need to wake up or to change over to another.
const LONGEST_PAUSE: i64 = 2_500_000_000;

/// Not to have looked for so long means that this program stood still, and its callbacks with it.
const STOOD_STILL: i64 = 1_000_000_000;

/// What the device's idea of its own delay may be off by, and the map from times to frames.
const CLOCK_OFF: i64 = 6_000_000;

/// How long the last messages and the damped strings may take, and the fade after them.
const LAST_MESSAGES: Duration = Duration::from_millis(500);
const RINGING: Duration = Duration::from_millis(600);
const FADING: Duration = Duration::from_millis(500);

/// Below this, in millionths of full scale, nothing is heard any more: -60 dB.
const INAUDIBLE: u32 = 1_000;

const LOOK: Duration = Duration::from_millis(5);

/// The built-in sound as an output of messages: each is heard from the loudspeaker at its time.
pub struct SoundPort {
    /// The device's stream; it plays as long as this is kept.
    stream: Option<Box<dyn Send>>,
    queue: FrameQueue,
    shared: Arc<LiveShared>,
    device: String,
    rate: u32,
    epoch: Instant,
    /// When it was last looked whether it is lost, and since when this program has not stood still.
    looked: Cell<(i64, i64)>,
}

impl SoundPort {
    /// A port, and what its device's callback must call. `device` is what the port's errors call it,
    /// `period` the frames that a callback is expected to ask for, `epoch` when our clock began.
    pub fn new(
        renderer: Box<dyn LiveRenderer>,
        device: &str,
        (channels, period): (u16, u32),
        volume: &Volume,
        epoch: Instant,
    ) -> (Self, LiveSource) {
        let rate = renderer.sample_rate();
        let (queue, writer) = frame_queue_with(rate, Slack::SMOOTHED);
        let shared = LiveShared::new(period, since(epoch));
        let source = LiveSource::new(renderer, writer, volume, Arc::clone(&shared), channels);
        let device = device.to_owned();
        let now = since(epoch).0;
        let looked = Cell::new((now, now));
        (Self { stream: None, queue, shared, device, rate, epoch, looked }, source)
    }

    /// Keeps the device's stream, so that it plays on.
    pub(super) fn keep(&mut self, stream: Box<dyn Send>) {
        self.stream = Some(stream);
    }

    pub(super) fn shared(&self) -> Arc<LiveShared> {
        Arc::clone(&self.shared)
    }

    /// Waits until the device has come for sound so often, so that its delay is known; not for long.
    pub(super) fn warm_up(&self, callbacks: u64, longest: Duration) {
        let give_up = Instant::now() + longest;
        while self.queue.cycles() < callbacks && Instant::now() < give_up && !self.is_lost() {
            sleep(LOOK);
        }
    }

    /// Why the device is gone, if it is.
    pub fn failure(&self) -> Option<&SoundError> {
        self.shared.failure.get()
    }

    /// The device's delay, and how long before that a message may already be rendered.
    fn delays(&self) -> (i64, i64) {
        let frames = 2 * i64::from(self.shared.period.load(Ordering::Relaxed)) + 2 * QUANTUM as i64;
        let periods = frames * 1_000_000_000 / i64::from(self.rate.max(1));
        (self.shared.latency.load(Ordering::Relaxed), periods)
    }

    fn wait(&self, longest: Duration, mut until: impl FnMut(&Self) -> bool) {
        let give_up = Instant::now() + longest;
        while !until(self) && Instant::now() < give_up && self.failure().is_none() {
            sleep(LOOK);
        }
    }
}

/// The time on our clock.
pub(super) fn since(epoch: Instant) -> Nanos {
    Nanos(i64::try_from(epoch.elapsed().as_nanos()).unwrap_or(i64::MAX))
}

impl MidiOut for SoundPort {
    fn ahead(&self) -> Nanos {
        Nanos(self.guard().0 + MARGIN)
    }

    fn send(&mut self, due: Nanos, message: Message) -> Result<(), SendError> {
        if self.queue.push(due, message) && !self.is_lost() {
            return Ok(());
        }
        Err(SendError::SoundStopped { device: self.device.clone() })
    }

    fn guard(&self) -> Nanos {
        let (latency, periods) = self.delays();
        Nanos(latency + periods + CLOCK_OFF)
    }

    fn take_back(&mut self, from: Nanos) {
        self.queue.take_back(from);
    }

    fn is_lost(&self) -> bool {
        let now = since(self.epoch).0;
        let (looked, mut awake) = self.looked.get();
        if now - looked > STOOD_STILL {
            awake = now;
        }
        self.looked.set((now, awake));
        let called_at = self.shared.called_at.load(Ordering::Relaxed);
        self.failure().is_some() || now - called_at.max(awake) > LONGEST_PAUSE
    }

    fn losses(&self) -> Losses {
        let dropouts = self.shared.dropouts.load(Ordering::Relaxed);
        Losses { dropouts, late: self.queue.late() }
    }

    fn close(mut self: Box<Self>) {
        if !self.is_lost() {
            self.wait(LAST_MESSAGES, |port| port.queue.is_empty());
            // What was taken last is in the sound of the next callback.
            let taken_in = self.queue.cycles();
            self.wait(LAST_MESSAGES, |port| port.queue.cycles() > taken_in + 1);
            let peak = |port: &Self| port.shared.peak.load(Ordering::Relaxed);
            self.wait(RINGING, |port| peak(port) < INAUDIBLE);
            self.shared.stop.store(true, Ordering::Relaxed);
            self.wait(FADING, |port| port.shared.finished.load(Ordering::Acquire));
            let (latency, periods) = self.delays();
            let rest = u64::try_from(latency + periods / 2).unwrap_or(0);
            sleep(Duration::from_nanos(rest).min(FADING));
        }
        drop(self.stream.take());
    }
}
