//! Where the band is in the score, and what it plays next: a value of fixed size that can be copied
//! in an instant, so that what was sent ahead can be taken back and played otherwise.

mod clock_out;
mod follow;
mod line;
mod obey;
mod outbox;
mod pace;
mod ringing;
mod step;

pub(super) use line::silencing;

use super::{Place, Score, Standing, Status};
use crate::chart::{Role, RoleSet};
use crate::perform::Message;
use crate::practice::Chairs;
use crate::time::{Nanos, Tempo, Ticks};
use clock_out::ClockOut;
use line::Coming;
use outbox::Outbox;
use pace::Pace;
use ringing::{NOW, Ringing};

/// How many scores there is room for: the one that is played and the one that comes, each for the
/// cursor that runs ahead and for the one behind it, and the one just handed over.
pub(super) const SLOTS: usize = 5;

/// The channels of MIDI.
const CHANNELS: usize = 16;

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

/// What is under way. All ticks are of the cursor's own timeline, which runs on through every jump.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Segment {
    /// Silent, at the beginning of the bar.
    Paused,
    /// Clicks, or with no bars of them the moment before the first note, up to the bar.
    CountIn { bars: u32, length: i64 },
    /// The bar.
    Bar,
    /// The last bar is over, but for what still rings.
    Over,
    /// All is over.
    Ended,
}

/// A score that has been handed over, and its turn has not come.
#[derive(Clone, Copy, Debug)]
pub(super) struct Swap {
    pub slot: usize,
    pub at: Place,
    pub from: Option<usize>,
    pub tempo: Option<Tempo>,
}

/// The notes of the bar before that begin after its end.
#[derive(Clone, Copy, Debug)]
struct Tail {
    next: usize,
    to: usize,
    head: i64,
    visit: u32,
}

/// See the module.
#[derive(Clone, Debug)]
pub(super) struct Cursor {
    slot: usize,
    bar: usize,
    /// True once the bar was played into, so that going on in it begins no pass.
    entered: bool,
    segment: Segment,
    /// Where the segment begins.
    head: i64,
    /// Counts bars as they are played.
    visit: u32,
    /// The next of the bar's notes, or of the count-in's clicks.
    next: usize,
    /// The next of its cue clicks.
    cue: usize,
    /// Its early notes whose time had passed before it was known that it comes: at its bar line.
    missed: (usize, usize),
    tail: Option<Tail>,
    coming: Coming,
    /// The next early note of the bar that comes, and where those begin that were not missed.
    early: usize,
    early_from: usize,
    /// A point of the timeline and its time.
    anchor: i64,
    anchor_at: i64,
    /// The present tempo: the one that was asked for, and slower where an ending slows down.
    tempo: Tempo,
    pace: Pace,
    /// Nothing happens before it any more.
    floor: i64,
    ringing: Ringing,
    outbox: Outbox,
    /// The program that each channel was given last; `None` where that is not known.
    programs: [Option<u8>; CHANNELS],
    mark: bool,
    muted: RoleSet,
    out: RoleSet,
    cues: bool,
    chairs: Chairs,
    pass: u32,
    round: u32,
    /// True once a bar was played, the kickoff's not counted.
    begun: bool,
    /// True once the channels were given their sounds.
    set_up: bool,
    rounds_left: Option<u32>,
    jump: Option<usize>,
    count_in: u32,
    swap: Option<Swap>,
    clock: ClockOut,
    /// Where on the timeline the outside clock's place 0 is, if it said where it started.
    outside: Option<i64>,
    dropped: u64,
}

impl Cursor {
    /// At the first bar of the score in `slot`, silent, at time 0.
    pub(super) fn new(slot: usize, tempo: Tempo, clock: bool) -> Self {
        Self {
            slot,
            bar: 0,
            entered: false,
            segment: Segment::Paused,
            head: 0,
            visit: 0,
            next: 0,
            cue: 0,
            missed: (0, 0),
            tail: None,
            coming: Coming::NONE,
            early: 0,
            early_from: 0,
            anchor: 0,
            anchor_at: 0,
            tempo,
            pace: Pace::new(tempo),
            floor: 0,
            ringing: Ringing::new(),
            outbox: Outbox::new(),
            programs: [None; CHANNELS],
            mark: true,
            muted: RoleSet::EMPTY,
            out: RoleSet::EMPTY,
            cues: false,
            chairs: Chairs::AsWritten,
            pass: 0,
            round: 0,
            begun: false,
            set_up: false,
            rounds_left: None,
            jump: None,
            count_in: 0,
            swap: None,
            clock: ClockOut::new(clock),
            outside: None,
            dropped: 0,
        }
    }

    /// When a point of the timeline is, at the present tempo.
    fn time(&self, at: i64) -> i64 {
        let from_anchor = Ticks::new(at.saturating_sub(self.anchor));
        self.anchor_at.saturating_add(self.tempo.nanos(from_anchor).0)
    }

    /// Ties the timeline to time anew.
    fn tie(&mut self, at: i64, time: i64) {
        (self.anchor, self.anchor_at) = (at, time);
    }

    /// Another tempo is asked for from the time `at` on: the place stays.
    fn change_tempo(&mut self, at: i64, tempo: Tempo) {
        let tempo = self.pace.ask(tempo);
        let begun = self.time(self.head);
        let scaled = i128::from(at.saturating_sub(begun)) * i128::from(tempo.micros_per_quarter())
            / i128::from(self.tempo.micros_per_quarter());
        let begun = i128::from(at) - scaled;
        let limit = if begun < 0 { i64::MIN } else { i64::MAX };
        self.tie(self.head, i64::try_from(begun).unwrap_or(limit));
        self.tempo = tempo;
    }

    /// Nothing sounds any more and nothing was ever played in the time since: the machine slept. The
    /// place is held, and what comes next comes at `to`.
    pub(super) fn hold(&mut self, to: Nanos) {
        let since = to.0.saturating_sub(self.floor);
        self.anchor_at = self.anchor_at.saturating_add(since);
        self.floor = to.0;
        self.ringing.clear();
        // One that was sent may have been taken back.
        self.programs = [None; CHANNELS];
        self.mark = true;
    }

    /// Playing begins: nothing is to come before `at`.
    pub(super) const fn begin(&mut self, at: Nanos) {
        self.floor = at.0;
    }

    /// Nothing comes before it any more.
    pub(super) const fn floor(&self) -> Nanos {
        Nanos(self.floor)
    }

    /// Notes for which there was no room.
    pub(super) const fn dropped(&self) -> u64 {
        self.dropped
    }

    pub(super) const fn is_ended(&self) -> bool {
        matches!(self.segment, Segment::Ended)
    }

    /// True once each channel has its sound.
    pub(super) const fn is_set_up(&self) -> bool {
        self.set_up
    }

    /// Sends a message as soon as may be.
    fn say(&mut self, message: Message) {
        self.outbox.push(message);
        if let Message::Program { channel, program } = message {
            self.gave(channel, program);
        }
    }

    /// A channel has been given a program.
    fn gave(&mut self, channel: u8, program: u8) {
        if let Some(last) = self.programs.get_mut(usize::from(channel)) {
            *last = Some(program);
        }
    }

    /// The program that a channel has, as far as it is known.
    pub(super) fn program(&self, channel: u8) -> Option<u8> {
        self.programs.get(usize::from(channel)).copied().flatten()
    }

    /// Its score's slot.
    pub(super) const fn slot(&self) -> usize {
        self.slot
    }

    /// True if it needs the score in that slot.
    pub(super) fn needs(&self, slot: usize) -> bool {
        self.slot == slot || self.swap.is_some_and(|swap| swap.slot == slot)
    }

    fn is_silent(&self, role: Option<Role>, out: RoleSet) -> bool {
        role.is_some_and(|role| self.muted.contains(role) || out.contains(role))
    }

    /// Where the segment ends; none while silent.
    fn line(&self, scores: &Scores) -> Option<i64> {
        match self.segment {
            Segment::CountIn { length, .. } => Some(self.head.saturating_add(length)),
            Segment::Bar => {
                let bar = score(scores, self.slot)?.bars.get(self.bar)?;
                Some(self.head.saturating_add(bar.length))
            }
            Segment::Paused | Segment::Over | Segment::Ended => None,
        }
    }

    /// As it stands.
    pub(super) fn status(&self, scores: &Scores) -> Status {
        let (standing, head) = match self.segment {
            Segment::Paused => (Standing::Paused, self.head),
            Segment::CountIn { bars, length } => {
                let standing =
                    if bars == 0 { Standing::Playing } else { Standing::CountingIn { bars } };
                (standing, self.head.saturating_add(length))
            }
            Segment::Bar | Segment::Over => (Standing::Playing, self.head),
            Segment::Ended => (Standing::Ended, self.head),
        };
        Status {
            score: score(scores, self.slot).map_or(0, Score::id),
            standing,
            bar: self.bar,
            bar_start: Nanos(self.time(head)),
            tempo: self.tempo,
            since: Nanos(self.floor),
            round: self.round,
            visit: self.visit,
            pass: self.pass,
            muted: self.muted,
            out: self.out,
            dropped: self.dropped,
            lost: false,
        }
    }
}

/// A score by its slot.
fn score(scores: &Scores, slot: usize) -> Option<&Score> {
    scores.get(slot)?.as_deref()
}
