mod outputs;

use std::collections::VecDeque;
use std::panic::{AssertUnwindSafe, catch_unwind};

use rtrb::{Consumer, Producer, RingBuffer};

use super::clock::SPIN;
use super::cursor::{Cursor, Event, SLOTS, Scores, Swap};
use super::lane::{Lane, Queues, TOO_LATE};
use super::report::panic_text;
use super::{
    Clock, Command, Control, Follow, FollowSender, PlayError, PlayReport, Remote, Score, StageDoor,
    Standing, Status, Supply, Waker,
};
use crate::perform::Message;
use crate::sink::SendError;
use crate::time::{Nanos, Tempo};

/// How often a long wait looks for a command or a stop.
const SLICE: i64 = 2_000_000;

/// The same while nothing sounds and nothing is to come: a command wakes the thread, a stop by a signal may wait so long.
const IDLE: i64 = 250_000_000;

/// How long before it is wanted a message is made, beyond what the outputs ask for: a slice, the spin,
/// and as much again for a thread that wakes late.
const PREPARED: i64 = 6_000_000;

/// A pause of the whole thread longer than this is a machine that slept: the place is held.
const SLEPT: i64 = 2_000_000_000;

/// Room for what a desk or an outside clock says between two looks.
const COMMANDS: usize = 256;
const STATUSES: usize = 256;
/// Room for marks that are not heard yet.
const MARKS: usize = 256;
/// Room for outputs that come and go, and scores that go.
const OUTPUTS: usize = 8;
const OLD_SCORES: usize = 64;

/// How the engine is to play.
pub struct Settings {
    /// What to play first.
    pub score: Box<Score>,
    /// How fast.
    pub tempo: Tempo,
    /// To send MIDI clock to the port: with how much time between a stop, a song position and a continue, where the
    /// song goes elsewhere. With none they come at once; with some, what is played up to the next sixteenth passes
    /// the listener by.
    pub clock: Option<Nanos>,
    /// True to play on in silence while an output is lost; otherwise the first that fails ends it.
    pub plays_on: bool,
}

/// What the playing thread runs: it takes commands, plays from the score, and hands each output its
/// messages as far ahead as it wants them.
///
/// Two copies of the place in the score make it: one that runs ahead as far as outputs want messages,
/// and one at the present. A command takes effect at the soonest instant of which nothing has gone out
/// yet; what was sent for later is taken back, and played otherwise from the copy at that instant.
pub struct Engine {
    scores: Scores,
    /// Up to now.
    heard: Cursor,
    /// Up to what was sent.
    ahead: Cursor,
    lanes: [Option<Lane>; 2],
    spare: [Option<Queues>; 2],
    lost: [bool; 2],
    marks: VecDeque<(i64, Status)>,
    /// The latest mark that was made known.
    marked: i64,
    status: Option<Status>,
    untold: bool,
    /// What outputs had lost when it was looked at last, and notes that were dropped.
    losses: u64,
    lost_time: Option<Nanos>,
    report: PlayReport,
    failure: Option<SendError>,
    plays_on: bool,
    last: i64,
    over: bool,
    commands: Consumer<Command>,
    follow: Consumer<Follow>,
    supplies: Consumer<Supply>,
    statuses: Producer<Status>,
    old_scores: Producer<Box<Score>>,
    old_outputs: Producer<Supply>,
    waker: Waker,
}

/// The other ends of an engine, each for a thread of its own.
pub struct Ends {
    /// For the desk.
    pub remote: Remote,
    /// For an outside clock.
    pub follow: FollowSender,
    /// For whoever looks after the outputs.
    pub door: StageDoor,
}

/// An engine that is silent at the beginning of the score, and its other ends.
pub fn engine(settings: Settings) -> (Engine, Ends) {
    let (commands, commands_in) = RingBuffer::new(COMMANDS);
    let (follow, follow_in) = RingBuffer::new(COMMANDS);
    let (supplies, supplies_in) = RingBuffer::new(OUTPUTS);
    let (statuses, statuses_out) = RingBuffer::new(STATUSES);
    let (old_scores, scores) = RingBuffer::new(OLD_SCORES);
    let (old_outputs, lost) = RingBuffer::new(OUTPUTS);
    let mut scores_by_slot: Scores = Default::default();
    scores_by_slot[0] = Some(settings.score);
    let cursor = Cursor::new(0, settings.tempo, settings.clock);
    let waker = Waker::default();
    let engine = Engine {
        scores: scores_by_slot,
        heard: cursor.clone(),
        ahead: cursor,
        lanes: [None, None],
        spare: [Some(Queues::new()), Some(Queues::new())],
        lost: [false; 2],
        marks: VecDeque::with_capacity(MARKS),
        marked: i64::MIN,
        status: None,
        untold: false,
        losses: 0,
        lost_time: None,
        report: PlayReport::default(),
        failure: None,
        plays_on: settings.plays_on,
        last: i64::MIN,
        over: false,
        commands: commands_in,
        follow: follow_in,
        supplies: supplies_in,
        statuses,
        old_scores,
        old_outputs,
        waker: waker.clone(),
    };
    let follow = FollowSender { follows: follow, waker: waker.clone() };
    let remote = Remote { commands, statuses: statuses_out, scores, last: None, waker };
    let door = StageDoor { supplies, lost };
    (engine, Ends { remote, follow, door })
}

impl Engine {
    /// Plays until the song or the last round is over, the desk ends it, or `control` is stopped, and
    /// closes the outputs. See [`Self::play`].
    ///
    /// # Errors
    /// Those of [`Self::play`].
    pub fn run(mut self, clock: &dyn Clock, control: &Control) -> Result<PlayReport, PlayError> {
        let result = self.play(clock, control);
        self.close();
        result
    }

    /// Plays until the song or the last round is over, the desk ends it, or `control` is stopped.
    /// `control`'s position is the place in the bar. On every way out, a panic included, each note that
    /// sounds gets its note-off; closing the outputs is left to the caller. Allocates nothing and takes
    /// no lock until something fails.
    ///
    /// # Errors
    /// An output failed, if it was not to play on without; or the thread broke off.
    pub fn play(&mut self, clock: &dyn Clock, control: &Control) -> Result<PlayReport, PlayError> {
        self.waker.is_this_thread();
        let result = catch_unwind(AssertUnwindSafe(|| self.go_on(clock, control)));
        let well = result.is_ok() && self.failure.is_none();
        self.report.stopped = well && !self.over;
        for lane in self.lanes.iter_mut().flatten() {
            lane.silence(clock, well && self.over);
            let losses = lane.losses();
            self.report.losses.dropouts += losses.dropouts;
            self.report.losses.late += losses.late;
        }
        self.report.dropped += self.ahead.dropped();
        match (result, self.failure.take()) {
            (Err(cause), _) => Err(PlayError::BrokeOff(panic_text(cause.as_ref()))),
            (Ok(()), Some(failure)) => Err(failure.into()),
            (Ok(()), None) => Ok(self.report),
        }
    }

    /// Lets what was sent leave, then closes the outputs.
    pub fn close(self) {
        self.lanes.into_iter().flatten().for_each(Lane::close);
    }

    fn go_on(&mut self, clock: &dyn Clock, control: &Control) {
        let mut now = clock.now();
        self.begin(now);
        while !self.turn(now, control) {
            now = Nanos(self.wait(clock, now.0));
        }
    }

    /// For whoever calls [`Self::turn`] in place of [`Self::play`]: nothing came before `now`.
    pub fn begin(&mut self, now: Nanos) {
        self.last = now.0;
        self.heard.begin(now);
        self.ahead = self.heard.clone();
    }

    /// Does once what there is to do at `now`, which never goes back: commands, what outputs want by now, how the
    /// band stands. True once it is over: the song or the last round is, the desk ended it, or `control` is stopped.
    /// This is all of playing for a program that has no thread for it; it should be called every few milliseconds.
    pub fn turn(&mut self, now: Nanos, control: &Control) -> bool {
        let now = now.0;
        if now.saturating_sub(self.last) > SLEPT {
            self.wake(now);
        }
        self.last = now;
        // First what the wait was for: nothing that other threads share is touched before.
        self.send(now);
        self.publish(now, control);
        if control.is_stopping() || self.failure.is_some() {
            return true;
        }
        self.look_after_outputs(now);
        if self.take_commands(now) {
            return true;
        }
        self.heard.advance(&self.scores, Nanos(now));
        self.produce(now);
        self.put_away_scores();
        self.over = self.is_over(now);
        self.over
    }

    /// Waits for the next thing to do, a slice at most.
    fn wait(&self, clock: &dyn Clock, now: i64) -> i64 {
        let slice = now.saturating_add(if self.is_idle() { IDLE } else { SLICE });
        let mut deadline = self.marks.front().map_or(slice, |mark| mark.0.min(slice));
        let mut exactly = i64::MAX;
        for (at, exact) in self.lanes.iter().flatten().filter_map(Lane::deadline) {
            if exact {
                exactly = exactly.min(at);
            } else {
                deadline = deadline.min(at);
            }
        }
        // Others are not in such a hurry that they would not wait for it.
        if exactly.saturating_sub(SPIN.0) <= now {
            return clock.wait_until(Nanos(exactly)).0;
        }
        clock.sleep_until(Nanos(deadline.min(exactly.saturating_sub(SPIN.0))));
        clock.now().0
    }

    /// True if nothing comes before somebody asks for it.
    fn is_idle(&self) -> bool {
        self.status.is_some_and(|status| status.standing == Standing::Paused)
            && self.marks.is_empty()
            && !self.untold
            && self.lanes.iter().flatten().all(|lane| lane.deadline().is_none())
    }

    /// Hands over what is due.
    fn send(&mut self, now: i64) {
        for lane in self.lanes.iter_mut().flatten() {
            if let Err(error) = lane.send(now, &mut self.report) {
                if !self.plays_on && self.failure.is_none() {
                    self.failure = Some(error);
                }
                lane.leave(now);
            }
        }
    }

    fn most_ahead(&self) -> i64 {
        self.lanes.iter().flatten().map(Lane::ahead).max().unwrap_or(0)
    }

    /// Makes what the outputs want by now.
    fn produce(&mut self, now: i64) {
        let until = Nanos(now.saturating_add(self.most_ahead()).saturating_add(PREPARED));
        while self.marks.len() < MARKS && self.lanes.iter().flatten().all(Lane::has_room) {
            match self.ahead.step(&self.scores, until) {
                None => break,
                Some((at, Event::Mark(status))) => self.marks.push_back((at.0, status)),
                Some((at, Event::Message(message))) => {
                    if message.begins() && now.saturating_sub(at.0) > TOO_LATE {
                        let note = matches!(message, Message::NoteOn { .. });
                        self.report.dropped += u64::from(note);
                        continue;
                    }
                    for lane in self.lanes.iter_mut().flatten() {
                        lane.push(at, message);
                    }
                }
            }
        }
    }

    /// Makes known how the band stands as it is heard.
    fn publish(&mut self, now: i64, control: &Control) {
        while let Some((at, status)) = self.marks.front().copied().filter(|mark| mark.0 <= now) {
            self.marks.pop_front();
            self.marked = self.marked.max(at);
            self.status = Some(status);
            self.untold = true;
        }
        let lost = self.lost.contains(&true);
        let dropped = self.report.dropped.saturating_add(self.ahead.dropped());
        // It counts up; an output that is opened anew begins at nothing.
        let losses = self.losses().saturating_add(dropped);
        if losses > self.losses || lost {
            self.lost_time = Some(Nanos(now));
        }
        self.losses = losses;
        let Some(status) = &mut self.status else { return };
        if (status.dropped, status.lost, status.lost_time) != (dropped, lost, self.lost_time) {
            (status.dropped, status.lost, status.lost_time) = (dropped, lost, self.lost_time);
            self.untold = true;
        }
        if self.untold {
            self.untold = self.statuses.push(*status).is_err();
        }
        match status.standing {
            Standing::Playing | Standing::Ended => {
                control.set_position(Nanos(now - status.bar_start.0))
            }
            Standing::CountingIn { .. } | Standing::Paused => {}
        }
    }

    /// What the open outputs have lost so far.
    fn losses(&self) -> u64 {
        let losses = self.lanes.iter().flatten().map(Lane::losses);
        losses.map(|it| it.dropouts.saturating_add(it.late)).sum()
    }

    /// True once nothing more comes and all has been heard.
    fn is_over(&self, now: i64) -> bool {
        self.ahead.is_ended()
            && self.marks.front().is_none_or(|mark| mark.0 <= now)
            && self.lanes.iter().flatten().all(Lane::is_empty)
    }

    /// The soonest instant of which nothing has gone out yet.
    fn cut(&self, now: i64) -> i64 {
        let lanes = || self.lanes.iter().flatten();
        let guard = lanes().map(Lane::guard).max().unwrap_or(0);
        let gone = lanes().map(Lane::gone).fold(self.marked, i64::max);
        now.saturating_add(guard).max(gone.saturating_add(1)).max(self.heard.floor().0)
    }

    /// Does what was asked for meanwhile. True if that is to end.
    fn take_commands(&mut self, now: i64) -> bool {
        loop {
            let command = match self.follow.pop() {
                Ok(follow) => Command::Follow(follow),
                Err(_) => match self.commands.pop() {
                    Ok(command) => command,
                    Err(_) => return false,
                },
            };
            if matches!(command, Command::End) {
                return true;
            }
            if matches!(command, Command::HandBack) {
                self.hand_back(now);
                continue;
            }
            let mut cut = self.cut(now);
            if !self.heard.is_set_up() && matches!(command, Command::Go | Command::CountIn(_)) {
                // There is time for the very first messages to be handed over as outputs like it.
                cut = cut.max(now.saturating_add(self.most_ahead()));
            }
            self.rewind(cut);
            self.obey(command);
        }
    }

    /// Takes back everything from `cut` on.
    fn rewind(&mut self, cut: i64) {
        for lane in self.lanes.iter_mut().flatten() {
            lane.take_back(cut);
        }
        while self.marks.back().is_some_and(|mark| mark.0 >= cut) {
            self.marks.pop_back();
        }
        self.heard.advance(&self.scores, Nanos(cut));
        self.ahead = self.heard.clone();
    }

    fn obey(&mut self, command: Command) {
        match command {
            Command::Play { score, at, from, tempo } => {
                // One is played and one may wait.
                let free = (0..SLOTS).find(|&slot| !self.ahead.needs(slot)).unwrap_or(0);
                let Some(slot) = self.scores.get_mut(free) else { return };
                if let Some(old) = slot.replace(score) {
                    // Dropped here only if nobody has come for the old ones for a long time.
                    let _ = self.old_scores.push(old);
                }
                self.ahead.hand_over(&self.scores, Swap { slot: free, at, from, tempo });
            }
            command => self.ahead.obey(&self.scores, &command),
        }
        self.heard = self.ahead.clone();
    }

    /// Hands back the scores that are not played any more.
    fn put_away_scores(&mut self) {
        for slot in 0..SLOTS {
            if self.ahead.needs(slot) || self.heard.needs(slot) || self.old_scores.is_full() {
                continue;
            }
            if let Some(old) = self.scores.get_mut(slot).and_then(Option::take) {
                let _ = self.old_scores.push(old);
            }
        }
    }

    /// The machine slept: goes on where it was, with nothing of what was missed.
    fn wake(&mut self, now: i64) {
        let cut = self.cut(now);
        self.marks.clear();
        for lane in self.lanes.iter_mut().flatten() {
            lane.wake(now, self.last, cut);
        }
        // After the ends of what sounded, which no later cut may take back.
        self.heard.hold(Nanos(cut.saturating_add(1)));
        self.ahead = self.heard.clone();
    }
}
