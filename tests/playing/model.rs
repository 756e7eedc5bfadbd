//! Where the band is, reckoned in the plainest way from what it was told: bar by bar, no notes.

use std::sync::Arc;

use openchair::arrange::{Arrangement, BarKind};
use openchair::chart::RoleSet;
use openchair::live::{Entry, Standing, Status};
use openchair::perform::Performance;
use openchair::practice::Chairs;
use openchair::time::{Nanos, Tempo, Ticks};

/// What can be played.
pub struct Take {
    pub arrangement: Arrangement,
    pub performance: Performance,
}

impl Take {
    pub fn roles(&self) -> RoleSet {
        self.performance.parts.iter().map(|part| part.role).collect()
    }

    fn length(&self, bar: usize) -> Ticks {
        self.arrangement.bars[bar].meter.bar()
    }

    fn begins_pass(&self, bar: usize) -> bool {
        let start = self.arrangement.bars[bar].start;
        self.arrangement.passes.iter().any(|pass| pass.start == start)
    }

    /// The bar of a number: the same place if it has it, else the first that has it, else for a loop
    /// that is past it its first, else the nearest.
    fn find(&self, number: usize, hint: usize) -> usize {
        let numbers: Vec<usize> = self.arrangement.bars.iter().map(|bar| bar.number).collect();
        if numbers.get(hint) == Some(&number) {
            return hint;
        }
        let first = numbers.iter().position(|&it| it == number);
        let wrapped = numbers.iter().all(|&it| it < number).then_some(0);
        let distance = |at: &usize| numbers[*at].abs_diff(number);
        first.or(wrapped).unwrap_or_else(|| (0..numbers.len()).min_by_key(distance).unwrap())
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Doing {
    Paused,
    /// Until the bar begins.
    Counting(u32),
    Playing,
    Ended,
}

/// A stretch of time in which nothing changed.
#[derive(Clone, Copy, Debug)]
pub struct Piece {
    pub take: usize,
    pub bar: usize,
    pub from: i64,
    pub to: i64,
    pub bar_start: i64,
    pub tempo: Tempo,
    pub silent: RoleSet,
}

#[derive(Clone, Copy, Debug)]
pub struct Swap {
    pub id: u32,
    pub take: usize,
    pub at: Entry,
    pub from: Option<usize>,
    pub tempo: Option<Tempo>,
}

pub struct Model {
    takes: Arc<Vec<Take>>,
    pub id: u32,
    pub take: usize,
    pub doing: Doing,
    pub bar: usize,
    pub bar_start: i64,
    pub tempo: Tempo,
    pub muted: RoleSet,
    pub out: RoleSet,
    pub chairs: Chairs,
    pub pass: u32,
    pub round: u32,
    pub rounds_left: Option<u32>,
    begun: bool,
    entered: bool,
    jump: Option<usize>,
    count_in: u32,
    swap: Option<Swap>,
    now: i64,
    pub pieces: Vec<Piece>,
}

impl Model {
    pub fn new(takes: Arc<Vec<Take>>, id: u32, take: usize, tempo: Tempo) -> Self {
        Self {
            takes,
            id,
            take,
            doing: Doing::Paused,
            bar: 0,
            bar_start: 0,
            tempo,
            muted: RoleSet::EMPTY,
            out: RoleSet::EMPTY,
            chairs: Chairs::AsWritten,
            pass: 0,
            round: 0,
            rounds_left: None,
            begun: false,
            entered: false,
            jump: None,
            count_in: 0,
            swap: None,
            now: 0,
            pieces: Vec::new(),
        }
    }

    fn length(&self) -> i64 {
        self.tempo.nanos(self.takes[self.take].length(self.bar)).0
    }

    /// When the next bar line is.
    pub fn line(&self) -> Option<i64> {
        match self.doing {
            Doing::Counting(_) => Some(self.bar_start),
            Doing::Playing => Some(self.bar_start + self.length()),
            Doing::Paused | Doing::Ended => None,
        }
    }

    fn note_piece(&mut self, to: i64) {
        if self.doing == Doing::Playing && to > self.now {
            self.pieces.push(Piece {
                take: self.take,
                bar: self.bar,
                from: self.now,
                to,
                bar_start: self.bar_start,
                tempo: self.tempo,
                silent: self.muted.union(self.out),
            });
        }
        self.now = self.now.max(to);
    }

    /// Time passes.
    pub fn advance(&mut self, to: i64) {
        while let Some(line) = self.line().filter(|&line| line <= to) {
            self.note_piece(line);
            self.cross(line);
        }
        self.note_piece(to);
    }

    fn swap_now(&self, round_over: bool) -> Option<Swap> {
        let loops = self.takes[self.take].arrangement.round.is_some();
        self.swap.filter(|swap| swap.at == Entry::BarLine || round_over || !loops)
    }

    fn cross(&mut self, line: i64) {
        let takes = Arc::clone(&self.takes);
        let song = &takes[self.take].arrangement;
        let mut next = Some(self.bar);
        let mut round_over = false;
        if self.doing == Doing::Playing {
            let after = self.bar + 1;
            round_over =
                self.jump.is_none() && song.round.is_some_and(|round| after.is_multiple_of(round));
            next = if after < song.bars.len() { Some(after) } else { song.round.map(|_| 0) };
            if round_over {
                self.round += 1;
                if self.rounds_left.is_some_and(|left| left <= 1) {
                    self.doing = Doing::Ended;
                    return;
                }
                self.rounds_left = self.rounds_left.map(|left| left - 1);
            }
        }
        let fresh = self.doing == Doing::Playing || !self.entered;
        let mut moved = self.jump.is_some();
        let wanted = self.jump.take();
        if let Some(swap) = self.swap_now(round_over) {
            moved = true;
            let hint = next.unwrap_or(0);
            let number = wanted.or(swap.from).or(next.map(|bar| song.bars[bar].number));
            self.change(swap);
            if let Some(tempo) = swap.tempo {
                self.tempo = tempo;
            }
            next = match number {
                Some(number) => Some(takes[self.take].find(number, hint)),
                None => takes[self.take].arrangement.round.map(|_| 0),
            };
        } else if let Some(number) = wanted {
            next = Some(takes[self.take].find(number, next.unwrap_or(0)));
        }
        let Some(next) = next else {
            self.doing = Doing::Ended;
            return;
        };
        self.bar = next;
        if self.count_in > 0 {
            self.count(line, self.count_in);
            self.entered = false;
            self.count_in = 0;
            return;
        }
        self.doing = Doing::Playing;
        self.bar_start = line;
        if !self.begun || ((fresh || moved) && takes[self.take].begins_pass(next)) {
            self.pass = if self.begun { self.pass + 1 } else { 0 };
            self.out = self.chairs.open_in(self.pass, takes[self.take].roles());
        }
        // A kickoff belongs to the pass that it leads into.
        self.begun |= takes[self.take].arrangement.bars[next].kind != BarKind::Kickoff;
        self.entered = true;
    }

    fn change(&mut self, swap: Swap) {
        let looped = |take: usize| {
            let song = &self.takes[take].arrangement;
            song.round.map(|round| (song.bars[0].number, song.bars[round - 1].number, round))
        };
        if looped(self.take) != looped(swap.take) || looped(swap.take).is_none() {
            self.round = 0;
        }
        (self.id, self.take) = (swap.id, swap.take);
        self.swap = None;
    }

    fn count(&mut self, from: i64, bars: u32) {
        let bar = self.takes[self.take].arrangement.meter.bar();
        self.doing = Doing::Counting(bars);
        self.bar_start = from + self.tempo.nanos(bar * i64::from(bars)).0;
    }

    pub fn go(&mut self, at: i64, lead: i64) {
        self.advance(at);
        if self.doing == Doing::Paused {
            self.doing = Doing::Counting(0);
            self.bar_start = at + lead;
            // With no lead the bar begins at that very instant.
            self.advance(at);
        }
    }

    pub fn pause(&mut self, at: i64) {
        self.advance(at);
        if !matches!(self.doing, Doing::Playing | Doing::Counting(_)) {
            return;
        }
        self.doing = Doing::Paused;
        self.count_in = 0;
        self.swap_silently();
        if let Some(number) = self.jump.take() {
            self.place(number);
        }
    }

    fn swap_silently(&mut self) {
        let Some(swap) = self.swap_now(false) else { return };
        let here = self.takes[self.take].arrangement.bars[self.bar].number;
        let entered = self.entered && swap.from.is_none();
        self.change(swap);
        self.tempo = swap.tempo.unwrap_or(self.tempo);
        self.place(swap.from.unwrap_or(here));
        let there = self.takes[self.take].arrangement.bars[self.bar].number;
        self.entered = entered && there == here;
    }

    fn place(&mut self, number: usize) {
        self.bar = self.takes[self.take].find(number, self.bar);
        self.entered = false;
    }

    pub fn count_in(&mut self, at: i64, bars: u32) {
        self.advance(at);
        if self.doing == Doing::Paused {
            self.count(at, bars);
        } else {
            self.count_in = bars;
        }
    }

    pub fn set_tempo(&mut self, at: i64, tempo: Tempo) {
        self.advance(at);
        // The place in the bar stays, or that before it.
        let share =
            f64::from(tempo.micros_per_quarter()) / f64::from(self.tempo.micros_per_quarter());
        self.bar_start = at - ((at - self.bar_start) as f64 * share).round() as i64;
        self.tempo = tempo;
    }

    pub fn mute(&mut self, at: i64, roles: RoleSet) {
        self.advance(at);
        self.muted = roles;
    }

    pub fn jump(&mut self, at: i64, number: usize) {
        self.advance(at);
        if self.doing == Doing::Paused {
            self.place(number);
        } else {
            self.jump = Some(number);
            if let Some(swap) = &mut self.swap {
                swap.from = None;
            }
        }
    }

    pub fn play(&mut self, at: i64, swap: Swap) {
        self.advance(at);
        if swap.from.is_some() {
            self.jump = None;
        }
        self.swap = Some(swap);
        if self.doing == Doing::Paused {
            self.swap_silently();
        }
    }

    /// What is wrong with a status, if anything is.
    pub fn differs(&self, status: &Status) -> Option<String> {
        let standing = match self.doing {
            Doing::Paused => Standing::Paused,
            Doing::Counting(0) | Doing::Playing => Standing::Playing,
            Doing::Counting(bars) => Standing::CountingIn { bars },
            Doing::Ended => Standing::Ended,
        };
        let mine = (
            (self.id, standing, self.bar, self.tempo),
            (self.pass, self.round, self.muted, self.out),
        );
        let theirs = (
            (status.score, status.standing, status.bar, status.tempo),
            (status.pass, status.round, status.muted, status.out),
        );
        let timed = matches!(standing, Standing::Playing | Standing::CountingIn { .. });
        let off = Nanos(status.bar_start.0 - self.bar_start);
        let late = timed && off.0.abs() > 1_000;
        (mine != theirs || late).then(|| format!("{theirs:?} {off:?} for {mine:?}"))
    }
}
