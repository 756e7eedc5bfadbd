use super::{Standing, Status};
use crate::arrange::{Arrangement, Bar};
use crate::take::{HeardBar, RecordedBar, SongBar};
use crate::theory::Key;
use crate::time::{BarMeter, Nanos, Tempo, Ticks};

/// So near to a bar line is on it: a thirty-second note, far more than rounding and far less than
/// anybody who stops in the middle of a bar.
const AT_LINE: Ticks = Ticks::new(120);

/// Tempos that differ by less than this are one, in parts of a thousand: an outside clock wavers by one,
/// and the smallest step of the keys is twenty.
const SAME_TEMPO: u64 = 10;

/// About a loss of time, bars are not to be trusted for so long before it was noticed and after: a server tells of
/// it late, and the band is put right within a fifth of a second.
const ABOUT_LOST: Nanos = Nanos(250_000_000);

/// How many bars at the end of a song may be slower than the rest.
const SLOW_ENDING: usize = 2;

/// Where the song was heard when: the bars as they came, one after the other on a timeline of their own, on
/// which a pause is as many bars as it lasted, rounded up.
#[derive(Debug, Default)]
pub(super) struct Trail {
    bars: Vec<RecordedBar>,
    legs: Vec<Leg>,
    /// How the band stood when it was last told.
    last: Option<Status>,
    /// The bar of the song that was heard last.
    here: Option<Here>,
    /// Until when bars are not to be trusted, since time was lost.
    lost_until: Option<Nanos>,
}

/// From a time on, the timeline at a tempo.
#[derive(Clone, Copy, Debug)]
struct Leg {
    since: Nanos,
    at: Ticks,
    tempo: Tempo,
}

/// A bar of the song, and what the next one must be to follow on it.
#[derive(Clone, Copy, Debug)]
struct Here {
    /// In the arrangement.
    index: usize,
    number: usize,
    key: Key,
    tempo: Tempo,
    round: u32,
    /// The numbers of the first and last bar of its loop.
    looped: Option<(usize, usize)>,
    whole: bool,
}

impl Trail {
    /// Takes in how the band stands; to be called for every status, with the arrangement that it plays.
    pub(super) fn follow(&mut self, status: &Status, song: &Arrangement) {
        let last = self.last.replace(*status);
        if let Some(at) = status.lost_time
            && last.is_none_or(|last| last.lost_time != Some(at))
        {
            self.lose_time(at);
        }
        if last.is_some_and(|last| stands(&last) == stands(status)) {
            return;
        }
        match status.standing {
            Standing::CountingIn { bars } => self.count_in(status, bars, song, last),
            // The last moment before the very first note.
            Standing::Playing if status.since < status.bar_start => {}
            Standing::Playing => self.play(status, song, last),
            Standing::Paused => self.break_off(status.since),
            Standing::Ended => {}
        }
    }

    /// Playing was stopped at a time. Gives the bars and the tempos.
    pub(super) fn stop(&mut self, now: Nanos) {
        if self.last.is_some_and(|last| last.standing == Standing::Playing) {
            self.break_off(now);
        }
    }

    /// The bars so far.
    pub(super) fn bars(&self) -> &[RecordedBar] {
        &self.bars
    }

    /// The tempos so far, each with where it begins.
    pub(super) fn tempos(&self) -> Vec<(Ticks, Tempo)> {
        let mut tempos: Vec<(Ticks, Tempo)> = Vec::new();
        for leg in &self.legs {
            if tempos.last().is_some_and(|&(at, _)| at == leg.at) {
                tempos.pop();
            }
            if tempos.last().is_none_or(|&(_, tempo)| tempo != leg.tempo) {
                tempos.push((leg.at, leg.tempo));
            }
        }
        tempos
    }

    /// Where a time is on the timeline; `None` before its beginning.
    pub(super) fn place(&self, at: Nanos) -> Option<Ticks> {
        let begun = self.legs.partition_point(|leg| leg.since <= at);
        let leg = self.legs.get(begun.checked_sub(1)?)?;
        let place = leg.at + rounded(leg.tempo, Nanos(at.0.saturating_sub(leg.since.0)));
        Some(self.legs.get(begun).map_or(place, |next| place.min(next.at)))
    }

    fn count_in(&mut self, status: &Status, bars: u32, song: &Arrangement, last: Option<Status>) {
        let is_same = |last: Status| {
            last.visit == status.visit && matches!(last.standing, Standing::CountingIn { .. })
        };
        if last.is_some_and(is_same) {
            // Another tempo within it.
            if let Some(at) = self.place(status.since) {
                self.set_out(status.since, at, status.tempo);
            }
            return;
        }
        let length = song.meter.bar() * i64::from(bars);
        let begun = Nanos(status.bar_start.0.saturating_sub(status.tempo.nanos(length).0));
        let start = self.line(begun, song.meter.into(), status.tempo);
        self.set_out(begun, start, status.tempo);
        for _ in 0..bars {
            self.add(song.meter.into(), HeardBar::CountIn, None);
        }
    }

    fn play(&mut self, status: &Status, song: &Arrangement, last: Option<Status>) {
        let Some(bar) = song.bars.get(status.bar) else { return };
        let into = rounded(status.tempo, Nanos(status.since.0 - status.bar_start.0));
        let is_same = |last: Status| {
            last.visit == status.visit
                && last.standing == Standing::Playing
                && last.since >= last.bar_start
        };
        if last.is_some_and(is_same) {
            // Another tempo within it, or other roles.
            if let Some(start) = self.bars.last().map(|bar| bar.start) {
                self.set_out(status.since, start + into, status.tempo);
            }
            return;
        }
        if last.is_some_and(|last| last.standing == Standing::Playing) {
            // An outside machine may go elsewhere within a bar.
            self.break_off(status.since);
        }
        if self.legs.is_empty() {
            // Room for what comes early.
            let room = status.tempo.nanos(bar.meter.bar());
            self.set_out(Nanos(status.bar_start.0 - room.0), Ticks::ZERO, status.tempo);
            self.add(bar.meter, HeardBar::Silence, None);
        }
        let start = self.line(status.bar_start, bar.meter, status.tempo);
        self.set_out(status.since, start + into, status.tempo);
        let lost_time = self.lost_until.is_some_and(|until| status.bar_start < until);
        let (here, goes_on) = self.after_here(status, song, bar);
        self.here = Some(here);
        let resting = bar.resting.union(status.muted).union(status.out);
        let heard = HeardBar::Song(SongBar {
            number: bar.number,
            key: song.key,
            silent: song.band.iter().filter(|&role| resting.contains(role)).collect(),
            goes_on,
            whole: true,
            lost_time,
        });
        let pass = song.passes.get(bar.pass).filter(|pass| pass.start == bar.start);
        self.add(bar.meter, heard, pass.map(|pass| pass.label.clone()));
    }

    /// The bar that begins, and whether it follows on the one before.
    fn after_here(&self, status: &Status, song: &Arrangement, bar: &Bar) -> (Here, bool) {
        let looped = song.round.and_then(|round| {
            Some((song.bars.first()?.number, song.bars.get(round.checked_sub(1)?)?.number))
        });
        let mut here = Here {
            index: status.bar,
            number: bar.number,
            key: song.key,
            tempo: status.tempo,
            round: status.round,
            looped,
            whole: true,
        };
        let Some(before) = self.here else { return (here, false) };
        let is_last = song.round.is_none() && status.bar + SLOW_ENDING >= song.bars.len();
        let (was, is) = (before.tempo.micros_per_quarter(), here.tempo.micros_per_quarter());
        if is_last && is > was {
            here.tempo = before.tempo;
        }
        let differs = u64::from(was.abs_diff(here.tempo.micros_per_quarter())) * 1000;
        let follows = match (before.whole, before.number, here.number) {
            (false, was, is) => was == is && (is > 0 || before.index == here.index),
            (true, 0, 0) => here.index == before.index + 1,
            (true, was, is) if is == was + 1 => true,
            (true, was, is) => looped == Some((is, was)) && here.round > before.round,
        };
        let alike = before.key == here.key
            && before.looped == here.looped
            && differs < u64::from(was) * SAME_TEMPO;
        (here, follows && alike)
    }

    /// The song ends, or goes elsewhere, at a time: within a bar, that bar is not whole.
    fn break_off(&mut self, at: Nanos) {
        let Some(place) = self.place(at) else { return };
        if let Some(bar) = self.bars.last_mut()
            && place + AT_LINE < bar.end()
            && let HeardBar::Song(heard) = &mut bar.heard
        {
            heard.whole = false;
            if let Some(here) = &mut self.here {
                here.whole = false;
            }
        }
    }

    /// Time was lost about `at`: the bars that were heard then are marked, and those that begin soon after.
    fn lose_time(&mut self, at: Nanos) {
        self.lost_until = Some(Nanos(at.0.saturating_add(ABOUT_LOST.0)));
        let from = self.place(Nanos(at.0.saturating_sub(ABOUT_LOST.0))).unwrap_or(Ticks::ZERO);
        for bar in self.bars.iter_mut().rev().take_while(|bar| bar.end() > from) {
            if let HeardBar::Song(heard) = &mut bar.heard {
                heard.lost_time = true;
            }
        }
    }

    /// The first bar line at a time or after it, with bars of silence up to there.
    fn line(&mut self, at: Nanos, meter: BarMeter, tempo: Tempo) -> Ticks {
        if self.legs.is_empty() {
            self.set_out(at, Ticks::ZERO, tempo);
        }
        let place = self.place(at).unwrap_or(Ticks::ZERO);
        while self.end() + AT_LINE < place {
            let meter = self.bars.last().map_or(meter, |bar| bar.meter);
            self.add(meter, HeardBar::Silence, None);
        }
        self.end()
    }

    fn end(&self) -> Ticks {
        self.bars.last().map_or(Ticks::ZERO, RecordedBar::end)
    }

    fn add(&mut self, meter: BarMeter, heard: HeardBar, pass: Option<String>) {
        self.bars.push(RecordedBar { start: self.end(), meter, heard, pass });
    }

    fn set_out(&mut self, since: Nanos, at: Ticks, tempo: Tempo) {
        // What was sent for later and taken back never was.
        while self.legs.last().is_some_and(|leg| leg.since >= since) {
            self.legs.pop();
        }
        let at = self.legs.last().map_or(at, |leg| at.max(leg.at));
        self.legs.push(Leg { since, at, tempo });
    }
}

/// What of a status tells where the song is.
fn stands(status: &Status) -> (Standing, u32, u32, Nanos, Tempo) {
    (status.standing, status.visit, status.score, status.bar_start, status.tempo)
}

/// How many ticks a time is, to the nearest.
fn rounded(tempo: Tempo, time: Nanos) -> Ticks {
    let half = tempo.nanos(Ticks::new(1)).0 / 2;
    tempo.ticks(Nanos(time.0.saturating_add(half)))
}
