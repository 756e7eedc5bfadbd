use crate::chart::RoleSet;
use crate::time::{Nanos, Tempo, Ticks};

/// What the band is doing.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Standing {
    /// Clicks before the bar that [`Status::bar`] names. They began at [`Status::bar_start`] less
    /// `bars` bars of the song's meter.
    CountingIn {
        /// Bars of clicks in all.
        bars: u32,
    },
    /// The bar is being played. When the band first begins, [`Status::bar_start`] is yet to come, by a
    /// tenth of a second, in which the channels get their sounds.
    Playing,
    /// Silent, to go on from the beginning of the bar.
    #[default]
    Paused,
    /// The song, or the last round, is over.
    Ended,
}

/// How the band stands, as it is heard now: not as it was sent ahead.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Status {
    /// Which score is played: [`Score::id`](super::Score::id).
    pub score: u32,
    /// What the band does.
    pub standing: Standing,
    /// The bar, in the score's arrangement.
    pub bar: usize,
    /// Counts bars as they are played, so that a bar played twice is told from one that goes on.
    pub visit: u32,
    /// When the bar's first beat sounds or sounded; after a change of tempo within the bar, when it
    /// would have at the present tempo. So the place in the bar is (now - `bar_start`) at `tempo`.
    pub bar_start: Nanos,
    /// The present tempo.
    pub tempo: Tempo,
    /// Since when the band has stood so.
    pub since: Nanos,
    /// Rounds of the loop that were finished; 0 where nothing loops.
    pub round: u32,
    /// Passes begun since playing began, less one: what [`Chairs`](crate::practice::Chairs) count.
    pub pass: u32,
    /// Who is silent by hand.
    pub muted: RoleSet,
    /// Who is silent by the rule of chairs.
    pub out: RoleSet,
    /// Notes that were dropped because they came too late to be played.
    pub dropped: u64,
    /// True while the port or the sound device is gone.
    pub lost: bool,
    /// When the server, the device or this machine lost time last: what was heard about then is not what was
    /// sent. It is noticed up to a fifth of a second later.
    pub lost_time: Option<Nanos>,
}

impl Status {
    /// The place in the bar at `now`: below zero while counting in, zero while paused, held below
    /// `length` of the bar.
    pub fn place(&self, now: Nanos, length: Ticks) -> Ticks {
        match self.standing {
            Standing::Paused | Standing::Ended => Ticks::ZERO,
            Standing::CountingIn { .. } => self.ticks(now).min(length - Ticks::new(1)),
            // Before its very first note the band plays already, but its bar has not begun.
            Standing::Playing => self.ticks(now).min(length - Ticks::new(1)).max(Ticks::ZERO),
        }
    }

    fn ticks(&self, now: Nanos) -> Ticks {
        self.tempo.ticks(Nanos(now.0.saturating_sub(self.bar_start.0)))
    }
}
