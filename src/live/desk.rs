use std::ops::RangeInclusive;
use std::sync::Arc;

use super::taps::Taps;
use super::{Action, Command, Place, Score, Standing, Status};
use crate::arrange::{Arrangement, Plan, PlanError, arrange};
use crate::chart::{Role, RoleSet, Song};
use crate::perform::{StyleMismatch, perform};
use crate::practice::{Chairs, Ramp};
use crate::style::Style;
use crate::time::{Nanos, Tempo};

/// A step of the tempo, in percent of the song's own.
const STEP: f64 = 4.0;

/// The slowest and the fastest practice speed that keys reach, in percent.
const SPEEDS: RangeInclusive<f64> = 10.0..=200.0;

/// A loop is written out until it has about so many bars, so that what is left to chance differs
/// from round to round.
const WRITTEN_OUT: usize = 64;

/// How far the tempo of an outside clock may stray from the one that the score was made for, before
/// the score is made anew: what is reckoned in milliseconds, as the feel is, is then off by as much.
const STRAY: f64 = 0.05;

/// What to play and how, as the player asks for it at the start.
#[derive(Clone, Debug)]
pub struct Wish {
    /// Key, tempo, speed, line-up and who sits out. Count-ins are [`Self::count_in`].
    pub plan: Plan,
    /// Which of the band's endless performances.
    pub seed: u64,
    /// Bars of clicks before the first bar.
    pub count_in: u32,
    /// Whose chair is open in which pass.
    pub chairs: Chairs,
    /// The bars to loop, by number.
    pub stretch: Option<RangeInclusive<usize>>,
    /// Rounds to play; `None` without end.
    pub rounds: Option<u32>,
    /// Speeds that climb from round to round.
    pub ramp: Option<Ramp>,
    /// Clicks before each chord change.
    pub cues: bool,
    /// True if an outside clock says when to start, and how fast.
    pub follows: bool,
    /// True if the song is a chord change that is drilled: its loop and its key stay as they are.
    pub drills: bool,
}

/// Why a song can't be played as wished.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum WishError {
    /// The plan does not go with the song.
    #[error(transparent)]
    Plan(#[from] PlanError),
    /// The style does not.
    #[error(transparent)]
    Style(#[from] StyleMismatch),
    /// There are no such bars.
    #[error("the song has bars 1 to {last}; write a loop within them")]
    NoSuchBars {
        /// The last bar's number.
        last: usize,
    },
}

/// What the playing thread begins with.
#[derive(Debug)]
pub struct Opening {
    /// What to play.
    pub score: Box<Score>,
    /// How fast.
    pub tempo: Tempo,
    /// What to send at once, in this order.
    pub commands: Vec<Command>,
}

/// What a player's action leads to.
#[derive(Debug, Default)]
pub struct Answer {
    /// For the playing thread, in this order.
    pub commands: Vec<Command>,
    /// For the screen: what was done, in a few words.
    pub message: Option<String>,
    /// What is not the playing thread's.
    pub ask: Option<Ask>,
}

/// What the desk leaves to others.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Ask {
    Louder,
    Softer,
    GotIt,
    NextChange,
    Help,
    Quit,
}

/// A score that was sent: what it plays, and the song of which that is the whole or a loop.
#[derive(Debug)]
struct Take {
    id: u32,
    played: Arc<Arrangement>,
    whole: Arc<Arrangement>,
}

impl Answer {
    fn say(message: impl Into<String>) -> Self {
        Self { message: Some(message.into()), ..Self::default() }
    }

    fn ask(ask: Ask) -> Self {
        Self { ask: Some(ask), ..Self::default() }
    }

    fn with(mut self, command: Command) -> Self {
        self.commands.push(command);
        self
    }
}

/// Where the player's wishes meet the band: it knows the song and how it is to be played now, makes
/// new scores, and tells the playing thread. It runs beside the screen, never on the playing thread.
#[derive(Debug)]
pub struct Desk {
    song: Song,
    style: Style,
    wish: Wish,
    /// Beats a minute at full speed.
    base: f64,
    /// In percent.
    speed: f64,
    muted: RoleSet,
    /// The whole song as it would be played now.
    whole: Arrangement,
    /// What was sent last, newest last, and what is still playing.
    takes: Vec<Take>,
    /// The score that is heard.
    heard: u32,
    next_id: u32,
    /// A score sent and not yet heard.
    awaited: Option<u32>,
    /// The first bar of a loop that is being marked.
    mark: Option<usize>,
    /// The bar heard when a jump was asked for, and where it goes.
    heading: Option<(usize, usize)>,
    /// Steps of the ramp that were climbed, and the round that was last seen.
    climbed: (u32, u32),
    /// Rounds that were finished before what goes round now.
    rounds_before: u32,
    /// True if the score that is awaited begins another loop.
    anew: bool,
    taps: Taps,
}

impl Desk {
    /// For a song in a style.
    ///
    /// # Errors
    /// [`WishError`] if they don't go together.
    pub fn new(song: Song, style: Style, mut wish: Wish) -> Result<Self, WishError> {
        wish.plan.count_in = 0;
        // Who sits out all along is silenced by hand, and can be called back.
        let muted = wish.plan.sit_out.iter().filter(|out| out.section.is_none());
        let muted = muted.map(|out| out.role).collect();
        wish.plan.sit_out.retain(|out| out.section.is_some());
        let speed = wish.ramp.map_or(wish.plan.speed, |ramp| ramp.speed(0));
        let base = wish.plan.tempo.unwrap_or(song.tempo);
        wish.plan.speed = speed;
        let whole = arrange(&song, &wish.plan)?;
        let mut desk = Self {
            song,
            style,
            wish,
            base,
            speed,
            muted,
            whole,
            takes: Vec::new(),
            heard: 0,
            next_id: 1,
            awaited: None,
            mark: None,
            heading: None,
            climbed: (0, 0),
            rounds_before: 0,
            anew: false,
            taps: Taps::default(),
        };
        if desk.wish.ramp.is_some() && desk.wish.stretch.is_none() {
            desk.wish.stretch = Some(1..=desk.form_bars());
        }
        if let Some(stretch) = &desk.wish.stretch
            && desk.whole.excerpt(stretch.clone(), 1).is_none()
        {
            return Err(WishError::NoSuchBars { last: desk.form_bars() });
        }
        Ok(desk)
    }

    /// The bars of the form, the ending left out.
    fn form_bars(&self) -> usize {
        let form = |bar: &&crate::arrange::Bar| {
            self.whole.passes.get(bar.pass).is_none_or(|pass| !pass.is_ending)
        };
        self.whole.bars.iter().filter(form).count()
    }

    /// What the playing thread begins with.
    ///
    /// # Errors
    /// [`WishError::Style`] if the style does not play the song's meter.
    pub fn open(&mut self) -> Result<Opening, WishError> {
        let score = self.score()?;
        let mut commands = vec![
            Command::Chairs(self.wish.chairs),
            Command::Mute(self.muted),
            Command::Cues(self.wish.cues),
            Command::Rounds(self.wish.rounds),
        ];
        match (self.wish.follows, self.wish.count_in) {
            (true, _) => {}
            (false, 0) => commands.push(Command::Go),
            (false, bars) => commands.push(Command::CountIn(bars)),
        }
        Ok(Opening { score, tempo: self.tempo(), commands })
    }

    /// The same desk with another song, as the next change of a drill is: from its beginning, with the
    /// ramp from its foot. A band that plays is counted in again; one that was paused waits on.
    ///
    /// # Errors
    /// [`WishError`] if the song doesn't go with the style or the wishes.
    pub fn take_up(
        &mut self,
        song: Song,
        ramp: Option<Ramp>,
        status: &Status,
    ) -> Result<Answer, WishError> {
        self.song = song;
        self.wish.ramp = ramp;
        self.speed = ramp.map_or(self.speed, |ramp| ramp.speed(0));
        self.anew = true;
        self.mark = None;
        self.heading = None;
        self.arrange()?;
        self.wish.stretch = Some(1..=self.form_bars());
        let score = self.score()?;
        let tempo = Some(self.tempo());
        let answer = Answer::default().with(Command::Play {
            score,
            at: Place::BarLine,
            from: Some(1),
            tempo,
        });
        Ok(match status.standing {
            Standing::Paused => answer,
            _ => answer.with(Command::CountIn(self.wish.count_in.max(1))),
        })
    }

    /// What a player's action leads to. `status` is the latest.
    pub fn act(&mut self, action: Action, status: &Status, now: Nanos) -> Answer {
        match action {
            Action::PauseOrGo if status.standing == Standing::Paused => {
                Answer::default().with(Command::Go)
            }
            Action::PauseOrGo => Answer::default().with(Command::Pause),
            Action::Silence => Answer::say("silence").with(Command::Silence),
            Action::CountIn if status.standing == Standing::Playing => {
                Answer::say("count-in from the next bar line").with(Command::CountIn(1))
            }
            Action::CountIn => Answer::default().with(Command::CountIn(1)),
            Action::BarBack => self.jump(status, |at, _| at.saturating_sub(1)),
            // While a bar is played, the next one comes anyway: forward means the one after it.
            Action::BarForward => self.jump(status, |at, playing| at + if playing { 2 } else { 1 }),
            Action::SectionBack => self.section_back(status),
            Action::SectionForward => self.section_forward(status),
            Action::Slower => self.at_speed(self.speed - STEP),
            Action::Faster => self.at_speed(self.speed + STEP),
            Action::SpeedQuarter => self.at_speed(25.0),
            Action::SpeedHalf => self.at_speed(50.0),
            Action::SpeedThreeQuarters => self.at_speed(75.0),
            Action::SpeedFull => self.at_speed(100.0),
            Action::Tap => match self.taps.tap(now) {
                Some(beats) => self.at_speed(beats / self.base * 100.0),
                None => Answer::say("tap on"),
            },
            Action::SitOut(role) => self.sit_out(role),
            Action::Cues => {
                self.wish.cues = !self.wish.cues;
                let on = if self.wish.cues { "on" } else { "off" };
                Answer::say(format!("clicks before a change: {on}"))
                    .with(Command::Cues(self.wish.cues))
            }
            Action::KeyUp | Action::KeyDown if self.wish.drills => {
                Answer::say("a drill keeps its key: choose it at the start with --key")
            }
            Action::KeyUp => self.transpose(1, status),
            Action::KeyDown => self.transpose(-1, status),
            Action::LoopSection | Action::LoopFrom | Action::LoopTo | Action::LoopOff
                if self.wish.drills =>
            {
                Answer::say("a drill goes round as it is")
            }
            Action::LoopSection if self.wish.stretch.is_some() => self.stop_looping(),
            Action::LoopSection => match self.pass_of(self.number(status)) {
                Some(pass) => self.loop_bars(pass),
                None => Answer::default(),
            },
            Action::LoopFrom => {
                let number = self.number(status);
                self.mark = Some(number);
                let to = Action::LoopTo.key();
                Answer::say(format!("a loop from bar {number}; {to} at its last bar"))
            }
            Action::LoopTo => {
                let to = self.number(status);
                let first = self.pass_of(to).map_or(1, |pass| *pass.start());
                let from = self.mark.take().unwrap_or(first);
                self.loop_bars(from.min(to)..=from.max(to))
            }
            Action::LoopOff => self.stop_looping(),
            Action::Louder => Answer::ask(Ask::Louder),
            Action::Softer => Answer::ask(Ask::Softer),
            Action::GotIt => Answer::ask(Ask::GotIt),
            Action::NextChange => Answer::ask(Ask::NextChange),
            Action::Help => Answer::ask(Ask::Help),
            Action::Quit => Answer::ask(Ask::Quit),
        }
    }

    /// What follows from how the band stands: the next speed of the ramp, a score for the tempo of an
    /// outside clock. To be called for every status.
    pub fn watch(&mut self, status: &Status) -> Vec<Command> {
        self.heard = status.score;
        if self.awaited == Some(status.score) {
            self.awaited = None;
            // The playing thread counts on: it knows of no other loop.
            if std::mem::take(&mut self.anew) {
                self.rounds_before = status.round;
                self.climbed = (0, status.round);
            }
        }
        if self.heading.is_some_and(|(bar, _)| bar != self.number(status)) {
            self.heading = None;
        }
        let (steps, seen) = self.climbed;
        if status.round > seen && self.wish.ramp.is_some() {
            self.climbed.0 = steps.saturating_add(status.round - seen);
        }
        self.climbed.1 = status.round;
        if self.awaited.is_some() || status.standing == Standing::Ended {
            return Vec::new();
        }
        if self.wish.follows {
            return self.keep_to(status.tempo);
        }
        let Some(ramp) = self.wish.ramp else { return Vec::new() };
        let next = ramp.speed(self.climbed.0.saturating_add(1));
        if next == self.speed || status.standing != Standing::Playing {
            return Vec::new();
        }
        self.speed = next;
        self.play(Place::Round, None, true).unwrap_or_default()
    }

    fn keep_to(&mut self, tempo: Tempo) -> Vec<Command> {
        let asked = f64::from(tempo.micros_per_quarter());
        let made = f64::from(self.whole.tempo.micros_per_quarter());
        if (asked / made - 1.0).abs() < STRAY {
            return Vec::new();
        }
        self.base = tempo.beats_per_minute(self.song.meter);
        self.speed = 100.0;
        self.play(Place::BarLine, None, false).unwrap_or_default()
    }

    /// The arrangement of a score that was sent.
    pub fn arrangement(&self, score: u32) -> Option<&Arc<Arrangement>> {
        self.takes.iter().find(|take| take.id == score).map(|take| &take.played)
    }

    /// The whole song as it was when that score was made, which may be a loop of it.
    pub fn whole_of(&self, score: u32) -> Option<&Arc<Arrangement>> {
        self.takes.iter().find(|take| take.id == score).map(|take| &take.whole)
    }

    /// The whole song as it would be played now.
    pub const fn whole(&self) -> &Arrangement {
        &self.whole
    }

    /// The song.
    pub const fn song(&self) -> &Song {
        &self.song
    }

    /// The style.
    pub const fn style(&self) -> &Style {
        &self.style
    }

    /// The tempo that counts as full speed.
    pub fn full_tempo(&self) -> Tempo {
        Tempo::new(self.base, self.song.meter, 100.0)
    }

    /// The practice speed that is heard, in percent.
    pub fn speed(&self, status: &Status) -> f64 {
        let full = f64::from(self.full_tempo().micros_per_quarter());
        100.0 * full / f64::from(status.tempo.micros_per_quarter())
    }

    /// The bars that are looped.
    pub fn stretch(&self) -> Option<RangeInclusive<usize>> {
        self.wish.stretch.clone()
    }

    /// The first bar of a loop whose last is not marked yet.
    pub const fn mark(&self) -> Option<usize> {
        self.mark
    }

    /// Whose chair is open in which pass.
    pub const fn chairs(&self) -> Chairs {
        self.wish.chairs
    }

    /// The ramp, if speeds climb.
    pub const fn ramp(&self) -> Option<Ramp> {
        self.wish.ramp
    }

    /// Rounds that were finished before what goes round now, of [`Status::round`].
    pub const fn rounds_before(&self) -> u32 {
        self.rounds_before
    }

    /// Rounds to play in all, if they end.
    pub const fn rounds(&self) -> Option<u32> {
        self.wish.rounds
    }

    /// Who sits out by hand.
    pub const fn muted(&self) -> RoleSet {
        self.muted
    }

    fn tempo(&self) -> Tempo {
        Tempo::new(self.base, self.song.meter, self.speed)
    }

    /// The number of the bar that is heard.
    fn number(&self, status: &Status) -> usize {
        let arrangement = self.arrangement(status.score).map_or(&self.whole, Arc::as_ref);
        arrangement.bars.get(status.bar).map_or(1, |bar| bar.number)
    }

    /// The bars of the pass that a bar belongs to.
    fn pass_of(&self, number: usize) -> Option<RangeInclusive<usize>> {
        let pass = self.whole.bars.iter().find(|bar| bar.number == number)?.pass;
        let mut bars = self.whole.bars.iter().filter(|bar| bar.pass == pass);
        let first = bars.next()?.number;
        Some(first..=bars.next_back().map_or(first, |bar| bar.number))
    }

    /// A jump by bars; asked for again before the bar line it goes on from where the last one leads.
    fn jump(&mut self, status: &Status, to: impl Fn(usize, bool) -> usize) -> Answer {
        let here = self.number(status);
        let playing = status.standing == Standing::Playing;
        let target = match self.heading {
            Some((_, target)) => to(target, false),
            None => to(here, playing),
        };
        self.head_for(here, target)
    }

    fn head_for(&mut self, here: usize, target: usize) -> Answer {
        let last = self.whole.bars.len();
        let bars = self.wish.stretch.clone().unwrap_or(1..=last);
        // A loop comes round: after its last bar is its first.
        let beyond = self.wish.stretch.is_some() && target > *bars.end();
        let target = if beyond { *bars.start() } else { target };
        let target = target.clamp(*bars.start(), *bars.end());
        self.heading = Some((here, target));
        Answer::say(format!("to bar {target}")).with(Command::Jump(target))
    }

    fn section_back(&mut self, status: &Status) -> Answer {
        let here = self.number(status);
        let at = self.heading.map_or(here, |(_, target)| target);
        let first = self.pass_of(at).map_or(1, |pass| *pass.start());
        // From its first bar the section before is meant, from any other the section's own beginning.
        let target = if at > first {
            first
        } else {
            self.pass_of(first.saturating_sub(1)).map_or(1, |pass| *pass.start())
        };
        self.head_for(here, target)
    }

    fn section_forward(&mut self, status: &Status) -> Answer {
        let here = self.number(status);
        let at = self.heading.map_or(here, |(_, target)| target);
        let after = self.pass_of(at).map_or(at, |pass| *pass.end()) + 1;
        self.head_for(here, after)
    }

    /// The tempo at once; at the next bar line the score that was made for it.
    fn at_speed(&mut self, percent: f64) -> Answer {
        if self.wish.follows {
            return Answer::say("the tempo is the outside clock's");
        }
        self.speed = percent.clamp(*SPEEDS.start(), *SPEEDS.end());
        // A hand on the tempo ends the climbing.
        self.wish.ramp = None;
        let tempo = self.tempo();
        let beats = tempo.beats_per_minute(self.song.meter);
        let mut answer = Answer::say(format!("{:.0} % · tempo {beats:.0}", self.speed));
        answer.commands.push(Command::Tempo(tempo));
        self.add_score(&mut answer);
        answer
    }

    fn transpose(&mut self, half_steps: i32, status: &Status) -> Answer {
        let before = self.wish.plan.key;
        let key = self.whole.key.moved(half_steps);
        self.wish.plan.key = Some(key);
        let from = if status.standing == Standing::Playing { " from the next bar" } else { "" };
        let mut answer = Answer::say(format!("key of {key}{from}"));
        if !self.add_score(&mut answer) {
            self.wish.plan.key = before;
        }
        answer
    }

    fn sit_out(&mut self, role: Role) -> Answer {
        if !self.whole.band.contains(role) {
            return Answer::say(format!("the {role} is not in this line-up"));
        }
        let out = self.muted.contains(role);
        let others = self.muted.iter().filter(|&other| other != role);
        self.muted = if out { others.collect() } else { self.muted.with(role) };
        let done = if out { "plays again" } else { "sits out" };
        Answer::say(format!("the {role} {done}")).with(Command::Mute(self.muted))
    }

    fn loop_bars(&mut self, bars: RangeInclusive<usize>) -> Answer {
        let (from, to) = (*bars.start(), (*bars.end()).min(self.form_bars()));
        if from > to {
            return Answer::say("the ending can't be looped");
        }
        self.wish.stretch = Some(from..=to);
        self.anew = true;
        self.mark = None;
        self.wish.ramp = None;
        self.wish.rounds = None;
        let mut answer = Answer::say(if from == to {
            format!("looping bar {from}")
        } else {
            format!("looping bars {from} to {to}")
        });
        self.add_score(&mut answer);
        answer.with(Command::Rounds(None))
    }

    fn stop_looping(&mut self) -> Answer {
        self.mark = None;
        if self.wish.stretch.take().is_none() {
            return Answer::say("nothing is looped");
        }
        self.wish.ramp = None;
        self.wish.rounds = None;
        let mut answer = Answer::say("no more looping");
        self.add_score(&mut answer);
        answer.with(Command::Rounds(None))
    }

    /// Adds a new score from the next bar line on. False, with the reason as message, if it can't be.
    fn add_score(&mut self, answer: &mut Answer) -> bool {
        match self.play(Place::BarLine, None, false) {
            Ok(commands) => {
                answer.commands.extend(commands);
                true
            }
            Err(why) => {
                answer.message = Some(why.to_string());
                false
            }
        }
    }

    fn play(
        &mut self,
        at: Place,
        from: Option<usize>,
        with_tempo: bool,
    ) -> Result<Vec<Command>, WishError> {
        self.arrange()?;
        let score = self.score()?;
        let tempo = with_tempo.then(|| self.tempo());
        Ok(vec![Command::Play { score, at, from, tempo }])
    }

    fn arrange(&mut self) -> Result<(), WishError> {
        let plan = &mut self.wish.plan;
        plan.tempo = Some(self.base);
        plan.speed = self.speed;
        self.whole = arrange(&self.song, plan)?;
        Ok(())
    }

    /// The whole song or the loop, performed.
    fn score(&mut self) -> Result<Box<Score>, WishError> {
        let excerpt = self.wish.stretch.clone().and_then(|stretch| {
            let bars = stretch.end().saturating_sub(*stretch.start()) + 1;
            self.whole.excerpt(stretch, (WRITTEN_OUT / bars).clamp(1, 16))
        });
        let arrangement = excerpt.unwrap_or_else(|| self.whole.clone());
        let performance = perform(&arrangement, &self.style, self.wish.seed)?;
        let id = self.next_id;
        self.next_id = self.next_id.wrapping_add(1);
        self.awaited = Some(id);
        let score = Box::new(Score::new(id, &arrangement, &performance));
        // As many as a hasty player may have sent within the tenth of a second that is queued.
        const KEPT: usize = 16;
        if self.takes.len() == KEPT {
            // However many keys are pressed within a bar, what is heard stays known.
            let oldest = self.takes.iter().position(|take| take.id != self.heard).unwrap_or(0);
            self.takes.remove(oldest);
        }
        let whole = Arc::new(self.whole.clone());
        self.takes.push(Take { id, played: Arc::new(arrangement), whole });
        Ok(score)
    }
}
