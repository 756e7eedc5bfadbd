mod acts;
mod scores;
mod shown;
mod touch;
mod wish;

use std::num::NonZeroU32;
use std::ops::RangeInclusive;
use std::sync::Arc;

use super::taps::Taps;
use super::{Command, Entry, Standing, Status};
use crate::arrange::Arrangement;
use crate::backup::Level;
use crate::chart::{RoleSet, Song};
use crate::coverage::Coverage;
use crate::perform::Swing;
use crate::practice::{Chairs, Ramp};
use crate::rehearsal::{Rehearsal, Rendition};
use crate::style::Style;
use crate::tablature::Tablature;
use crate::time::Tempo;

pub use shown::{ChordsAs, Shown};
pub use touch::Touch;
pub use wish::{Answer, Ask, Opening, Wish, WishError};

/// How far the tempo of an outside clock may stray from the one that the score was made for, before
/// the score is made anew: what is reckoned in milliseconds, as the feel is, is then off by as much.
const STRAY: f64 = 0.05;

/// A score that was sent: what it plays, and the song of which that is the whole or a loop.
#[derive(Debug)]
struct Take {
    id: u32,
    played: Rendition,
    whole: Arc<Arrangement>,
}

/// Where the player's wishes meet the band: it knows the song and how it is to be played now, makes
/// new scores, and tells the playing thread. It runs beside the screen, never on the playing thread.
#[derive(Debug)]
pub struct Desk {
    /// The song as it is to be played now.
    rehearsal: Rehearsal,
    wish: Wish,
    /// The bars that go round, by number.
    stretch: Option<RangeInclusive<usize>>,
    /// Rounds to play; `None` without end.
    rounds: Option<u32>,
    /// Beats a minute at full speed.
    base: f64,
    /// In percent.
    speed: f64,
    muted: RoleSet,
    /// The whole song as it would be played now.
    whole: Arrangement,
    /// What was sent last, newest last, and what is still playing.
    takes: Vec<Take>,
    /// What those cover with some roles silent: as last asked for, newest last.
    covered: Vec<(u32, RoleSet, Arc<Coverage>)>,
    /// The banjo's part to those, bar for bar, at a level: as last asked for, newest last.
    tabs: Vec<(u32, RoleSet, Level, Arc<Vec<String>>)>,
    /// What the player wants to see.
    shown: Shown,
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
    /// For what is rehearsed.
    ///
    /// # Errors
    /// [`WishError`] if song, style and wishes don't go together.
    pub fn new(mut rehearsal: Rehearsal, wish: Wish) -> Result<Self, WishError> {
        // Who sits out all along is silenced by hand, and can be called back.
        let muted = rehearsal.call_in();
        let speed = wish.ramp.map_or(rehearsal.wishes().speed, |ramp| ramp.speed(0));
        let base = rehearsal.full_tempo();
        rehearsal.set_speed(speed);
        let whole = rehearsal.whole()?;
        let stretch = rehearsal.bars(&whole)?;
        let rounds = rehearsal.wishes().rounds.map(u32::from);
        let level = rehearsal.wishes().banjo;
        let shown = Shown { tab: level.or(Shown::default().tab), ..Shown::default() };
        let mut desk = Self {
            rehearsal,
            wish,
            stretch,
            rounds,
            base,
            speed,
            muted,
            whole,
            takes: Vec::new(),
            covered: Vec::new(),
            tabs: Vec::new(),
            shown,
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
        if desk.wish.ramp.is_some() && desk.stretch.is_none() {
            desk.stretch = Some(1..=desk.form_bars());
        }
        Ok(desk)
    }

    /// The bars of the form, kickoff and ending left out.
    pub fn form_bars(&self) -> usize {
        self.whole.bars.iter().filter(|bar| self.whole.is_of_form(bar)).count()
    }

    /// What the playing thread begins with.
    ///
    /// # Errors
    /// [`WishError::Style`] if the style does not play the song's meter.
    pub fn open(&mut self) -> Result<Opening, WishError> {
        let score = self.score()?;
        let mut commands = vec![
            Command::Chairs(self.rehearsal.chairs()),
            Command::Mute(self.muted),
            Command::ChangeClicks(self.wish.change_clicks),
            Command::Rounds(self.rounds),
        ];
        match (self.wish.follows, self.rehearsal.wishes().count_in) {
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
        self.rehearsal.set_song(song);
        self.wish.ramp = ramp;
        self.speed = ramp.map_or(self.speed, |ramp| ramp.speed(0));
        self.anew = true;
        self.mark = None;
        self.heading = None;
        self.arrange()?;
        self.stretch = Some(1..=self.form_bars());
        let score = self.score()?;
        let tempo = Some(self.tempo());
        let answer = Answer::default().with(Command::Play {
            score,
            at: Entry::BarLine,
            from: Some(1),
            tempo,
        });
        Ok(match status.standing {
            Standing::Paused => answer,
            _ => answer.with(Command::CountIn(self.rehearsal.wishes().count_in.max(1))),
        })
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
        self.play(Entry::Round, None, true).unwrap_or_default()
    }

    fn keep_to(&mut self, tempo: Tempo) -> Vec<Command> {
        let asked = f64::from(tempo.micros_per_quarter());
        let made = f64::from(self.whole.tempo.micros_per_quarter());
        if (asked / made - 1.0).abs() < STRAY {
            return Vec::new();
        }
        self.base = tempo.beats_per_minute(self.rehearsal.song().meter);
        self.speed = 100.0;
        self.play(Entry::BarLine, None, false).unwrap_or_default()
    }

    /// The banjo's part to a score that was sent, written out, at the level that is shown, while some roles are silent.
    /// `None` where no tab is shown.
    pub fn tablature(&self, score: u32, silent: RoleSet) -> Option<Tablature> {
        let take = self.takes.iter().find(|take| take.id == score)?;
        Some(self.rehearsal.tab_while(&take.played, silent, self.shown.tab?))
    }

    /// The score that was made last.
    pub fn newest(&self) -> u32 {
        self.takes.last().map_or(self.heard, |take| take.id)
    }

    /// The arrangement of a score that was sent.
    pub fn arrangement(&self, score: u32) -> Option<&Arc<Arrangement>> {
        self.takes.iter().find(|take| take.id == score).map(|take| &take.played.arrangement)
    }

    /// The whole song as it was when that score was made, which may be a loop of it.
    pub fn whole_of(&self, score: u32) -> Option<&Arc<Arrangement>> {
        self.takes.iter().find(|take| take.id == score).map(|take| &take.whole)
    }

    /// How a score that was sent swings.
    pub fn swing(&self, score: u32) -> Option<Swing> {
        let take = self.takes.iter().find(|take| take.id == score)?;
        Some(take.played.performance.swing)
    }

    /// The whole song as it would be played now.
    pub const fn whole(&self) -> &Arrangement {
        &self.whole
    }

    /// The song.
    pub const fn song(&self) -> &Song {
        self.rehearsal.song()
    }

    /// The style.
    pub const fn style(&self) -> &Style {
        self.rehearsal.style()
    }

    /// The tempo that counts as full speed.
    pub fn full_tempo(&self) -> Tempo {
        Tempo::new(self.base, self.rehearsal.song().meter, 100.0)
    }

    /// The practice speed that is heard, in percent.
    pub fn speed(&self, status: &Status) -> f64 {
        let full = f64::from(self.full_tempo().micros_per_quarter());
        100.0 * full / f64::from(status.tempo.micros_per_quarter())
    }

    /// The bars that are looped.
    pub fn stretch(&self) -> Option<RangeInclusive<usize>> {
        self.stretch.clone()
    }

    /// The first bar of a loop whose last is not marked yet.
    pub const fn mark(&self) -> Option<usize> {
        self.mark
    }

    /// Whose chair is open in which pass.
    pub const fn chairs(&self) -> Chairs {
        self.rehearsal.chairs()
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
        self.rounds
    }

    /// How often the form is played.
    pub const fn times(&self) -> NonZeroU32 {
        self.rehearsal.wishes().times
    }

    /// What is rehearsed, as it is to be played now.
    pub const fn rehearsal(&self) -> &Rehearsal {
        &self.rehearsal
    }

    /// What the player wants to see.
    pub const fn shown(&self) -> Shown {
        self.shown
    }

    /// Who sits out by hand.
    pub const fn muted(&self) -> RoleSet {
        self.muted
    }

    fn tempo(&self) -> Tempo {
        Tempo::new(self.base, self.rehearsal.song().meter, self.speed)
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
}
