//! Where the band is in the score, and what it plays next: a value of fixed size that can be copied
//! in an instant, so that what was sent ahead can be taken back and played otherwise.

mod audible;
mod channels;
mod clock_out;
mod coming;
mod follow;
mod line;
mod obey;
mod outbox;
mod passes;
mod pending;
mod position;
mod reading;
mod ringing;
mod step;
mod timeline;

pub(super) use channels::silencing;
pub(super) use pending::Swap;

use super::{Score, Standing, Status};
use crate::perform::Message;
use crate::theory::MidiNote;
use crate::time::{Nanos, Tempo};
use audible::Audible;
use channels::Channels;
use clock_out::ClockOut;
use coming::Coming;
use passes::Passes;
use pending::Pending;
use position::{Position, Segment};
use reading::Reading;
use ringing::{NOW, Ringing};
use timeline::Timeline;

/// How many scores there is room for: the one that is played and the one that comes, each for the
/// cursor that runs ahead and for the one behind it, and the one just handed over.
pub(super) const SLOTS: usize = 5;

/// The scores by slot.
pub(super) type Scores = [Option<Box<Score>>; SLOTS];

/// What happens.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Event {
    /// A message goes out.
    Message(Message),
    /// From now on the band stands so.
    Mark(Status),
}

/// What is under way, put together from values that each know one thing. All ticks are of the cursor's own timeline, which
/// runs on through every jump.
#[derive(Clone, Debug)]
pub(super) struct Cursor {
    /// Where in the score the band is.
    here: Position,
    /// How far the bar's notes have been read.
    reading: Reading,
    /// What comes after the bar line.
    coming: Coming,
    /// What was asked for and waits for it.
    pending: Pending,
    /// How often the band has come round.
    passes: Passes,
    /// Who is heard.
    audible: Audible,
    /// How ticks lie in time.
    timeline: Timeline,
    /// What sounds.
    ringing: Ringing,
    /// What the channels have been told.
    channels: Channels,
    /// The channel and the pitch that the note which is begun next goes on from, once that was said.
    goes_on: Option<(u8, MidiNote)>,
    /// MIDI clock as it is sent.
    clock: ClockOut,
    /// True if it is to be told how the band stands.
    mark: bool,
}

impl Cursor {
    /// At the first bar of the score in `slot`, silent, at time 0.
    pub(super) fn new(slot: usize, tempo: Tempo, clock: Option<Nanos>) -> Self {
        Self {
            here: Position::new(slot),
            reading: Reading::default(),
            coming: Coming::NONE,
            pending: Pending::default(),
            passes: Passes::default(),
            audible: Audible::default(),
            timeline: Timeline::new(tempo),
            ringing: Ringing::new(),
            channels: Channels::new(),
            goes_on: None,
            clock: ClockOut::new(clock),
            mark: true,
        }
    }

    /// Nothing sounds any more and nothing was ever played in the time since: the machine slept. The
    /// place is held, and what comes next comes at `to`.
    pub(super) fn hold(&mut self, to: Nanos) {
        self.timeline.hold(to.0);
        self.ringing.clear();
        // One that was sent may have been taken back.
        self.channels.forget();
        self.mark = true;
    }

    /// Playing begins: nothing is to come before `at`.
    pub(super) const fn begin(&mut self, at: Nanos) {
        self.timeline.set_floor(at.0);
    }

    /// Nothing comes before it any more.
    pub(super) const fn floor(&self) -> Nanos {
        Nanos(self.timeline.floor())
    }

    /// Notes for which there was no room.
    pub(super) const fn dropped(&self) -> u64 {
        self.ringing.dropped()
    }

    pub(super) const fn is_ended(&self) -> bool {
        matches!(self.here.segment, Segment::Ended)
    }

    /// True once each channel has its sound.
    pub(super) const fn is_set_up(&self) -> bool {
        self.channels.is_set_up()
    }

    /// The program that a channel has, as far as it is known.
    pub(super) fn program(&self, channel: u8) -> Option<u8> {
        self.channels.program(channel)
    }

    /// A new listener to the clock needs to be told where the song is, when the next bar begins.
    pub(super) const fn clock_again(&mut self) {
        self.clock.tell_again();
    }

    /// Its score's slot.
    pub(super) const fn slot(&self) -> usize {
        self.here.slot
    }

    /// True if it needs the score in that slot.
    pub(super) fn needs(&self, slot: usize) -> bool {
        self.here.slot == slot || self.pending.needs(slot)
    }

    /// As it stands.
    pub(super) fn status(&self, scores: &Scores) -> Status {
        let standing = match self.here.segment {
            Segment::Paused => Standing::Paused,
            Segment::CountIn { bars, .. } if bars > 0 => Standing::CountingIn { bars },
            Segment::CountIn { .. } | Segment::Bar | Segment::Over => Standing::Playing,
            Segment::Ended => Standing::Ended,
        };
        Status {
            score: self.here.score(scores).map_or(0, Score::id),
            standing,
            bar: self.here.bar,
            bar_start: Nanos(self.timeline.time(self.here.bar_head())),
            tempo: self.timeline.tempo(),
            since: self.floor(),
            round: self.passes.round(),
            visit: self.here.visit,
            pass: self.passes.pass(),
            muted: self.audible.muted,
            out: self.audible.out,
            dropped: self.dropped(),
            lost: false,
            lost_time: None,
        }
    }
}

/// A score by its slot.
fn score(scores: &Scores, slot: usize) -> Option<&Score> {
    scores.get(slot)?.as_deref()
}
