use crate::time::Nanos;

/// Nanoseconds in a second.
const SECOND: i128 = 1_000_000_000;

/// How frames follow from times: exactly by the nominal rate, as long as the device keeps it.
///
/// No device's rate is the nominal one by the computer's clock; 100 parts in a million, 0.36 s an
/// hour, are common. So the map is watched, and once it is off by more than [`Self::TOLERATED`] it is
/// moved, one frame at a time and never faster than one in [`Self::STEP_EVERY`], which is under one
/// cent of tempo: no one hears it, and the distance between neighbours is off by a frame at most.
pub(super) struct FrameMap {
    rate: u32,
    /// A time and its frame. Set by the first message, so that every later one lies by whole
    /// rounding from it.
    anchor: Option<(Nanos, i64)>,
    /// How far the server's frames run ahead of the map, smoothed, in 1/256 frame.
    error: i64,
    correcting: bool,
    next_step: i64,
}

impl FrameMap {
    /// Below this nobody hears it, and a healthy server's jitter stays below: 2 ms.
    pub(super) const TOLERATED: i64 = 2_000_000;
    /// Correction ends here: 0.1 ms.
    const CORRECTED: i64 = 100_000;
    /// Past this it is no drift, the server has lost or skipped time: 100 ms.
    const LOST: i64 = 100_000_000;
    /// Frames between two corrections of one frame.
    const STEP_EVERY: i64 = 2_000;
    /// Of the smoothing: about so many periods.
    const SMOOTHING: i64 = 64;

    /// A map for that many frames a second, set by the first message.
    pub(super) const fn new(rate: u32) -> Self {
        Self { rate, anchor: None, error: 0, correcting: false, next_step: 0 }
    }

    /// False until [`Self::set_anchor`].
    pub(super) const fn is_set(&self) -> bool {
        self.anchor.is_some()
    }

    fn frames(&self, span: i64) -> i64 {
        // Rounded to the nearest. Held in i128: at 192 kHz an i64 would overflow after 13 hours.
        let frames = (i128::from(span) * i128::from(self.rate) + SECOND / 2).div_euclid(SECOND);
        i64::try_from(frames).unwrap_or(if span < 0 { i64::MIN } else { i64::MAX })
    }

    /// The frame that a time falls on; `None` until the map is set.
    pub(super) fn frame_at(&self, time: Nanos) -> Option<i64> {
        let (anchor, frame) = self.anchor?;
        Some(frame.saturating_add(self.frames(time.0.saturating_sub(anchor.0))))
    }

    /// Puts a time on its frame, by the start of the period in which it is seen first.
    pub(super) fn set_anchor(&mut self, at: Nanos, cycle_frame: i64, starts_at: Nanos) {
        let ahead = self.frames(at.0.saturating_sub(starts_at.0));
        self.anchor = Some((at, cycle_frame.saturating_add(ahead)));
        self.error = 0;
        self.correcting = false;
    }

    /// Compares the map with where the server really is at the start of a period.
    pub(super) fn watch(&mut self, cycle_frame: i64, starts_at: Nanos) {
        let (Some(expected), Some((_, frame))) = (self.frame_at(starts_at), &mut self.anchor)
        else {
            return;
        };
        let ahead = cycle_frame - expected;
        let in_frames = |nanos: i64| nanos * i64::from(self.rate) / 1_000_000_000;
        if ahead.abs() > in_frames(Self::LOST) {
            *frame += ahead;
            self.error = 0;
            return;
        }
        self.error += (ahead * 256 - self.error) / Self::SMOOTHING;
        let off = self.error.abs();
        self.correcting =
            off > 256 * in_frames(if self.correcting { Self::CORRECTED } else { Self::TOLERATED });
        if self.correcting && cycle_frame >= self.next_step {
            let step = self.error.signum();
            *frame += step;
            self.error -= step * 256;
            self.next_step = cycle_frame + Self::STEP_EVERY;
        }
    }
}
