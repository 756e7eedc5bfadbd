use crate::time::Nanos;

/// Nanoseconds in a second.
const SECOND: i128 = 1_000_000_000;

/// How closely a map follows the server's word for the time.
#[derive(Clone, Copy, Debug)]
pub struct Slack {
    /// Off by less, in nanoseconds, it stays as it is.
    pub(super) tolerated: i64,
    /// Correction ends here.
    corrected: i64,
    /// Past this it is no drift, the server has lost or skipped time.
    lost: i64,
    /// Past this it is that too, if it stays so: jitter comes and goes.
    lost_if_it_stays: i64,
    /// Frames between two corrections of one frame.
    step_every: i64,
    /// Of the smoothing: about so many periods.
    smoothing: i64,
}

impl Slack {
    /// For times that waver from period to period. Below 2 ms nobody hears it, and a healthy server's
    /// jitter stays below; 100 ms is lost time; one frame in 2,000 is under one cent of tempo.
    pub const WAVERING: Self = Self {
        tolerated: 2_000_000,
        corrected: 100_000,
        lost: 100_000_000,
        lost_if_it_stays: 4_000_000,
        step_every: 2_000,
        smoothing: 64,
    };

    /// For times that have been smoothed already, so that they can be followed to a quarter of a
    /// millisecond. One frame in 200 is half a percent of tempo, for a second or two after the device
    /// has lost time.
    pub const SMOOTHED: Self = Self {
        tolerated: 250_000,
        corrected: 50_000,
        lost: 8_000_000,
        lost_if_it_stays: 8_000_000,
        step_every: 200,
        smoothing: 4,
    };
}

/// What stays for so many periods, and for so large a part of a second, is no jitter.
const STAYS_PERIODS: u32 = 8;
const STAYS_PART: i64 = 10;

/// How frames follow from times: exactly by the nominal rate, as long as the device keeps it.
///
/// No device's rate is the nominal one by the computer's clock; 100 parts in a million, 0.36 s an
/// hour, are common. So the map is watched, and once it is off by more than [`Slack::tolerated`] it is
/// moved, one frame at a time and never faster than one in [`Slack::step_every`]: no one hears it, and
/// the distance between neighbours is off by a frame at most.
pub(super) struct FrameMap {
    rate: u32,
    slack: Slack,
    /// A time and its frame. Set by the first message, so that every later one lies by whole
    /// rounding from it.
    anchor: Option<(Nanos, i64)>,
    /// How far the server's frames run ahead of the map, smoothed, in 1/256 frame.
    error: i64,
    correcting: bool,
    next_step: i64,
    /// The frame at which it was compared last.
    watched: i64,
    /// How far the server's frames ran ahead of the map of late, in nanoseconds: rises at once, up to
    /// [`Slack::tolerated`], and falls by a part in [`Slack::smoothing`] from period to period.
    off: i64,
    /// How long it has been far off in one direction.
    stays: Stays,
}

/// A map that has been far off in one direction: for so many periods and frames, and by how many frames at least.
#[derive(Clone, Copy, Debug, Default)]
struct Stays {
    periods: u32,
    frames: i64,
    least: i64,
}

impl Stays {
    /// One more period of so many frames, with the map so far off.
    fn with(self, frames: i64, ahead: i64) -> Self {
        if self.least.signum() != ahead.signum() {
            return Self { periods: 1, frames, least: ahead };
        }
        let least = if ahead.abs() < self.least.abs() { ahead } else { self.least };
        Self { periods: self.periods + 1, frames: self.frames + frames, least }
    }
}

impl FrameMap {
    /// A map for that many frames a second, set by the first message.
    pub(super) const fn new(rate: u32, slack: Slack) -> Self {
        Self {
            rate,
            slack,
            anchor: None,
            error: 0,
            correcting: false,
            next_step: 0,
            watched: 0,
            off: slack.tolerated,
            stays: Stays { periods: 0, frames: 0, least: 0 },
        }
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

    /// The time that falls on a frame; `None` until the map is set.
    pub(super) fn time_at(&self, frame: i64) -> Option<Nanos> {
        let (anchor, anchored) = self.anchor?;
        let span =
            i128::from(frame.saturating_sub(anchored)) * SECOND / i128::from(self.rate.max(1));
        Some(Nanos(anchor.0.saturating_add(i64::try_from(span).unwrap_or(i64::MAX))))
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
        let (rate, slack) = (self.rate, self.slack);
        let (Some(expected), Some((_, frame))) = (self.frame_at(starts_at), &mut self.anchor)
        else {
            return;
        };
        let ahead = cycle_frame - expected;
        let in_frames = |nanos: i64| nanos * i64::from(rate) / 1_000_000_000;
        if ahead.abs() > in_frames(slack.lost) {
            *frame += ahead;
            self.error = 0;
            self.off = 0;
            self.stays = Stays::default();
            return;
        }
        // Put right at once, not over minutes in which the band and its player are apart.
        self.stays = if ahead.abs() > in_frames(slack.lost_if_it_stays) {
            self.stays.with((cycle_frame - self.watched).max(0), ahead)
        } else {
            Stays::default()
        };
        let long = self.stays.frames >= i64::from(rate) / STAYS_PART;
        if long && self.stays.periods >= STAYS_PERIODS {
            *frame += self.stays.least;
            self.error = 0;
            self.correcting = false;
            self.stays = Stays::default();
            self.watched = cycle_frame;
            return;
        }
        let off = ahead * 1_000_000_000 / i64::from(rate.max(1));
        // More than is tolerated does not last, or is a single period's wrong word.
        self.off = off.min(slack.tolerated).max(self.off + (off - self.off) / slack.smoothing);
        self.error += (ahead * 256 - self.error) / slack.smoothing;
        let off = self.error.abs();
        self.correcting =
            off > 256 * in_frames(if self.correcting { slack.corrected } else { slack.tolerated });
        if self.correcting && cycle_frame >= self.next_step {
            // Far off, several at a time, as many as fit between two periods; else one.
            let far = off > 256 * in_frames(4 * slack.tolerated);
            let most = if far { (cycle_frame - self.watched) / slack.step_every } else { 1 };
            let step = self.error.signum() * most.clamp(1, (off / 256).max(1));
            *frame += step;
            self.error -= step * 256;
            self.next_step = cycle_frame + slack.step_every;
        }
        self.watched = cycle_frame;
    }

    /// How far the server's frames ran ahead of the map of late: messages go out so much before their
    /// time, or so much after it if below 0.
    pub(super) const fn off(&self) -> Nanos {
        Nanos(self.off)
    }

    /// How far at most a correction moves a message between two periods of so many frames.
    pub(super) const fn largest_step(&self, frames: u32) -> i64 {
        frames as i64 / self.slack.step_every + 1
    }
}
