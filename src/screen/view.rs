use std::ops::{Range, RangeInclusive};

use super::chart_line::{BarView, chart_line, line_of, looped};
use super::chord_words::{ChordWords, chord_words};
use super::heard::{HeardView, heard_words};
use super::job::{Open, Task};
use super::place::{Coming, coming, span_at};
use crate::arrange::{Arrangement, Bar};
use crate::chart::{Lead, Role, RoleSet};
use crate::live::{Action, ChordsAs, Noticed, Standing, Status};
use crate::practice::Chairs;
use crate::text::inert;
use crate::theory::fretboard::banjo::choose_banjo_capo;
use crate::time::{Nanos, Tempo, Ticks};

/// What the screen is told besides the band's standing and the song.
#[derive(Clone, Copy, Debug)]
pub struct Facts<'a> {
    /// The backing style's name.
    pub style: &'a str,
    /// The tempo that counts as 100 %.
    pub base: Tempo,
    /// The whole song as it is played now, of which the arrangement that is heard may be a loop.
    pub whole: &'a Arrangement,
    /// The first and the last bar of the loop, by their numbers in the song as played.
    pub loop_bars: Option<(usize, usize)>,
    /// The first bar of a loop whose last is not marked yet.
    pub mark: Option<usize>,
    /// Rounds to play in all, if they end.
    pub rounds: Option<u32>,
    /// Of the rounds that were finished, how many were of another loop.
    pub rounds_before: u32,
    /// Whose chair is open in which pass.
    pub chairs: Chairs,
    /// Where the notes go: a port's or a sound device's name.
    pub output: &'a str,
    /// Something to tell for a while.
    pub message: Option<&'a str>,
    /// The drill, if one is played.
    pub drill: Option<Drill<'a>>,
    /// What the band leaves open.
    pub open: Option<Open<'a>>,
    /// How chords are written.
    pub chords: ChordsAs,
    /// The banjo's part, if its tab is shown.
    pub tab: Option<Tab<'a>>,
    /// True if the player is heard.
    pub listens: bool,
    /// How the player does, once anything was heard.
    pub noticed: Option<&'a Noticed>,
}

/// The tab of each bar of the arrangement that is heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tab<'a> {
    /// While the chairs are as they are now.
    pub now: &'a [String],
    /// From the next pass on; `None` if that is a surprise.
    pub next: Option<&'a [String]>,
}

/// A chord change that is drilled.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drill<'a> {
    /// The chord to come from and the one to go to.
    pub change: (&'a str, &'a str),
    /// Its number among the song's changes, from 1, and how many there are.
    pub number: (usize, usize),
    /// The best speed so far, in percent.
    pub mark: Option<f64>,
}

/// All that is on the screen. Two equal views look the same.
#[derive(Clone, Debug, PartialEq)]
pub struct View {
    /// The song's title.
    pub title: String,
    /// The backing style.
    pub style: String,
    /// `G`, `A mixolydian`.
    pub key: String,
    /// The guitar's capo, 0 for none.
    pub capo: u8,
    /// What the banjo has on its neck, and what that makes of the chords; `None` without a capo.
    pub banjo: Option<BanjoView>,
    /// Beats a minute.
    pub tempo: u32,
    /// The tempo in percent of the full one.
    pub speed: u32,
    /// What is to be played now.
    pub now: Now,
    /// What comes after it.
    pub coming: Coming,
    /// In how many beats.
    pub beats: u32,
    /// The bar's number in the song as played.
    pub bar: usize,
    /// The names of the passes about the present one.
    pub form: Vec<String>,
    /// The present one among them.
    pub pass: usize,
    /// How many passes come before those named, and how many after.
    pub unnamed: (usize, usize),
    /// The chart's line that is played.
    pub line: Vec<BarView>,
    /// The present bar in it.
    pub here: usize,
    /// The beat in the bar, from 0; `None` while nothing is played.
    pub beat: Option<u32>,
    /// The line after it.
    pub next_line: Vec<BarView>,
    /// Eighth notes in a bar of the song's own meter.
    pub eighths: usize,
    /// True if the band stops anywhere in the song.
    pub stops: bool,
    /// The line-up.
    pub chairs: Vec<Chair>,
    /// Who will sit out in the next pass, if that was asked to be said: `next: chop out`.
    pub announced: Option<String>,
    /// Whom to listen to.
    pub singer: Singer,
    /// What the player has to do now, and what soon.
    pub task: Option<Task>,
    /// The coming bar's tab, if it is shown.
    pub tab: Option<TabView>,
    /// What is heard of the player, if they are heard.
    pub heard: Option<HeardView>,
    /// `loop 5-8  round 3`, `loop from 5 to …`; in a drill, `round 3`.
    pub looping: Option<String>,
    /// `drill 2 of 7: G to C  mark 72 %`.
    pub drill: Option<String>,
    /// What the band waits for: `PAUSED  Space goes on from bar 17`.
    pub waiting: Option<String>,
    /// The output is gone.
    pub lost: Option<String>,
    /// Something to tell for a while.
    pub message: Option<String>,
}

/// The banjo behind its capo.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct BanjoView {
    /// The capo's fret, from 1.
    pub capo: u8,
    /// The present chord's other name: `as G`, its shape; `is A` where shapes are what is written.
    pub now: String,
    /// The next chord's.
    pub next: String,
}

/// A bar of tab.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct TabView {
    /// Which bar it is: `bar 12`.
    pub bar: String,
    /// Its rows: chords, strings, counts, fingers. None where it is not known what will be played.
    pub rows: Vec<String>,
}

/// What is to be played now.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Now {
    /// This chord.
    Chord(ChordWords),
    /// Nothing yet: the count-in is at this beat, from 1.
    Count(u32),
    /// Nothing more.
    End,
}

/// A role of the line-up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Chair {
    /// Which.
    pub role: Role,
    /// True if nobody plays it now.
    pub open: bool,
}

/// Whom to listen to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Singer {
    /// The singer sings.
    Sings,
    /// The singer pauses.
    Pauses,
    /// An instrument has the lead.
    Instrument(Lead),
    /// The song names no lead here.
    Nobody,
}

impl Singer {
    /// `voice sings`, `guitar leads`; empty for nobody.
    pub fn words(self) -> String {
        match self {
            Self::Sings => "voice sings".to_owned(),
            Self::Pauses => "voice pauses".to_owned(),
            Self::Instrument(lead) => format!("{lead} leads"),
            Self::Nobody => String::new(),
        }
    }
}

impl View {
    /// The view of a band that stands so at `now`.
    pub fn new(status: &Status, song: &Arrangement, facts: &Facts<'_>, now: Nanos) -> Self {
        let index = status.bar.min(song.bars.len().saturating_sub(1));
        let bar = song.bars.get(index);
        let length = bar.map_or(Ticks::new(1), |bar| bar.meter.bar());
        let place = status.place(now, length);
        let at = bar.map_or(Ticks::ZERO, |bar| bar.start + place.max(Ticks::ZERO));
        let both = |how| now_and_coming(status, song, index, at, place, how);
        let (playing, coming, beats) = both(facts.chords);
        // Form and lines are the chart's, of which a loop is only a part.
        let number = bar.map_or(0, |bar| bar.number);
        let there = facts.whole.bars.get(index).is_some_and(|bar| bar.number == number);
        let in_whole = there
            .then_some(index)
            .or_else(|| facts.whole.bars.iter().position(|bar| bar.number == number));
        let (whole, place_in_whole) = match in_whole {
            Some(place) => (facts.whole, place),
            None => (song, index),
        };
        let pass = whole.bars.get(place_in_whole).map_or(0, |bar| bar.pass);
        let named = named(pass, whole.passes.len());
        let line = line_of(whole, place_in_whole);
        let looped = looped(song);
        let next_line = next_line(whole, &line, looped.as_ref());
        let looped = looped.as_ref();
        Self {
            title: inert(&song.title).into_owned(),
            style: facts.style.to_owned(),
            key: song.key.to_string(),
            capo: song.capo,
            banjo: banjo(song, facts.chords, both),
            tempo: status.tempo.beats_per_minute(song.meter).round() as u32,
            speed: percent(status.tempo, facts.base),
            now: playing,
            coming,
            beats,
            bar: number,
            form: whole
                .passes
                .get(named.clone())
                .unwrap_or_default()
                .iter()
                .map(|pass| pass.label.clone())
                .collect(),
            pass: pass.saturating_sub(named.start),
            unnamed: (named.start, whole.passes.len().saturating_sub(named.end)),
            here: place_in_whole - line.start,
            beat: (status.standing == Standing::Playing)
                .then(|| bar.map(|bar| beat(place, bar.beat())))
                .flatten(),
            line: chart_line(whole, line, looped, facts.chords),
            next_line: chart_line(whole, next_line, looped, facts.chords),
            eighths: usize::try_from(song.meter.bar().get() / Ticks::EIGHTH.get()).unwrap_or(1),
            stops: !whole.stops.is_empty(),
            chairs: chairs(status, song, bar),
            announced: announced(status, song, facts.chairs)
                .filter(|_| facts.rounds.is_none_or(|rounds| status.round + 1 < rounds)),
            singer: singer(song, bar, place),
            task: facts.open.and_then(|open| Task::new(status, song, open)),
            tab: facts.tab.map(|tab| tab_of(status, song, tab)),
            heard: facts
                .listens
                .then(|| heard_words(facts.noticed, song, status.tempo, facts.chords)),
            looping: looping(status, facts),
            drill: facts.drill.map(drill_words),
            waiting: waiting(status, bar),
            lost: status.lost.then(|| match facts.output {
                "" => "OUTPUT GONE: looking for it".to_owned(),
                name => format!("OUTPUT GONE: looking for {name}"),
            }),
            message: facts.message.map(str::to_owned).or_else(|| match status.dropped {
                0 => None,
                1 => Some("1 late note left out".to_owned()),
                dropped => Some(format!("{dropped} late notes left out")),
            }),
        }
    }
}

/// What is to be played now, what comes after it, and in how many beats.
fn now_and_coming(
    status: &Status,
    song: &Arrangement,
    index: usize,
    at: Ticks,
    place: Ticks,
    how: ChordsAs,
) -> (Now, Coming, u32) {
    let bar = song.bars.get(index);
    let chord_at = |at| {
        let span = bar.and_then(|bar| span_at(song, bar, at));
        chord_words(song, span.and_then(|span| span.chord), how)
    };
    match status.standing {
        Standing::Ended => (Now::End, Coming::End, 0),
        Standing::CountingIn { .. } if place < Ticks::ZERO => {
            let (beat, beats) = (song.meter.beat().get(), song.meter.beats());
            // The first beat of the count is a whole number of bars before the bar.
            let left = (-place.get() + beat - 1) / beat;
            let count = (-left).rem_euclid(beats) + 1;
            let first = chord_at(bar.map_or(Ticks::ZERO, |bar| bar.start));
            let now = Now::Count(u32::try_from(count).unwrap_or(1));
            (now, Coming::Chord(first), u32::try_from(left).unwrap_or(0))
        }
        Standing::CountingIn { .. } | Standing::Playing | Standing::Paused => {
            let (coming, beats) = coming(song, index, at, how);
            (Now::Chord(chord_at(at)), coming, beats)
        }
    }
}

/// The banjo's capo, with the other name of both chords.
fn banjo(
    song: &Arrangement,
    shown: ChordsAs,
    both: impl Fn(ChordsAs) -> (Now, Coming, u32),
) -> Option<BanjoView> {
    let capo = choose_banjo_capo(song.key);
    if capo == 0 {
        return None;
    }
    let (other, word) = match shown {
        ChordsAs::Shapes => (ChordsAs::Names, "is"),
        ChordsAs::Names | ChordsAs::Numbers => (ChordsAs::Shapes, "as"),
    };
    let words = |chord: &ChordWords| match chord.is_chord() {
        true => format!("{word} {chord}"),
        false => String::new(),
    };
    let (now, next, _) = both(other);
    Some(BanjoView {
        capo,
        now: if let Now::Chord(chord) = &now { words(chord) } else { String::new() },
        next: if let Coming::Chord(chord) = &next { words(chord) } else { String::new() },
    })
}

/// The tab of the bar that comes: the next one, or the one that is counted in to or waited before.
fn tab_of(status: &Status, song: &Arrangement, tab: Tab<'_>) -> TabView {
    let next = match status.standing {
        Standing::Ended => return TabView::default(),
        Standing::Playing => status.bar + 1,
        Standing::CountingIn { .. } | Standing::Paused => status.bar,
    };
    let (index, round) = match (song.bars.get(next), song.round) {
        (Some(_), _) => (next, false),
        (None, Some(_)) => (next.saturating_sub(song.bars.len()), true),
        (None, None) => return TabView::default(),
    };
    let pass = |index: usize| song.bars.get(index).map(|bar| bar.pass);
    let same_pass = !round && pass(index) == pass(status.bar);
    let rows = if same_pass { Some(tab.now) } else { tab.next };
    let rows = rows
        .and_then(|bars| bars.get(index))
        .map_or_else(Vec::new, |text| text.lines().map(str::to_owned).collect());
    let number = song.bars.get(index).map_or(0, |bar| bar.number);
    TabView { bar: if number > 0 { format!("bar {number}") } else { "kickoff".to_owned() }, rows }
}

fn beat(place: Ticks, beat: Ticks) -> u32 {
    u32::try_from(place.get().max(0) / beat.get()).unwrap_or(0)
}

fn percent(tempo: Tempo, base: Tempo) -> u32 {
    let percent = 100.0 * f64::from(base.micros_per_quarter());
    (percent / f64::from(tempo.micros_per_quarter())).round() as u32
}

/// Which passes are named: enough for any screen, and always from a round number, so that they stay
/// where they are from pass to pass.
fn named(pass: usize, passes: usize) -> Range<usize> {
    const STEP: usize = 48;
    let from = pass / STEP * STEP;
    from..(from + 2 * STEP).min(passes).max(from)
}

/// The chart's line that follows: in a loop, its first after its last. None where that is the same.
fn next_line(
    whole: &Arrangement,
    line: &Range<usize>,
    looped: Option<&RangeInclusive<usize>>,
) -> Range<usize> {
    let number = |index: usize| whole.bars.get(index).map(|bar| bar.number);
    let next = match (number(line.end), looped) {
        (Some(number), Some(bars)) if bars.contains(&number) => line_of(whole, line.end),
        (_, Some(bars)) => {
            let first = whole.bars.iter().position(|bar| bar.number == *bars.start());
            first.map_or(0..0, |first| line_of(whole, first))
        }
        (Some(_), None) => line_of(whole, line.end),
        (None, None) => 0..0,
    };
    if next == *line { 0..0 } else { next }
}

/// What goes round, and how often it has.
fn looping(status: &Status, facts: &Facts<'_>) -> Option<String> {
    if let Some(from) = facts.mark {
        return Some(format!("loop from {from} to …"));
    }
    let (from, to) = facts.loop_bars?;
    let of = facts.rounds.map_or_else(String::new, |rounds| format!(" of {rounds}"));
    let round = status.round.saturating_sub(facts.rounds_before).saturating_add(1);
    let round = format!("round {round}{of}");
    Some(match facts.drill {
        // It is two chords, and always all of it.
        Some(_) => round,
        None if from == to => format!("loop bar {from}  {round}"),
        None => format!("loop {from}-{to}  {round}"),
    })
}

fn chairs(status: &Status, song: &Arrangement, bar: Option<&Bar>) -> Vec<Chair> {
    let resting = bar.map_or(RoleSet::EMPTY, |bar| bar.resting);
    let out = resting.union(status.muted).union(status.out);
    song.band.iter().map(|role| Chair { role, open: out.contains(role) }).collect()
}

/// Who sits out in the next pass, if that is to be said beforehand: `next pass open: chop`.
pub fn announced(status: &Status, song: &Arrangement, chairs: Chairs) -> Option<String> {
    let said = match chairs {
        Chairs::AsWritten => false,
        Chairs::Turns => true,
        Chairs::Surprise { announced, .. } => announced,
    };
    let pass = song.bars.get(status.bar).map(|bar| bar.pass + 1);
    let is_last = song.round.is_none() && pass == Some(song.passes.len());
    // The chairs of a kickoff are those of the pass that it leads into.
    let in_kickoff =
        pass.and_then(|next| song.passes.get(next - 1)).is_some_and(|it| it.is_kickoff);
    if !said || is_last || in_kickoff || status.standing == Standing::Ended {
        return None;
    }
    let next = chairs.open_in(status.pass.saturating_add(1), song.band);
    let names: Vec<&str> = next.iter().map(Role::as_str).collect();
    Some(match names.as_slice() {
        [] => "next pass: all play".to_owned(),
        names => format!("next pass open: {}", names.join(", ")),
    })
}

fn singer(song: &Arrangement, bar: Option<&Bar>, place: Ticks) -> Singer {
    let Some(bar) = bar else { return Singer::Nobody };
    match song.passes.get(bar.pass).and_then(|pass| pass.lead) {
        None => Singer::Nobody,
        Some(Lead::Voice) if bar.is_sung_at(place.max(Ticks::ZERO)) => Singer::Sings,
        Some(Lead::Voice) => Singer::Pauses,
        Some(lead) => Singer::Instrument(lead),
    }
}

fn drill_words(drill: Drill<'_>) -> String {
    let ((from, to), (number, of)) = (drill.change, drill.number);
    let mark = drill.mark.map_or_else(String::new, |mark| format!("  mark {mark:.0} %"));
    format!("drill {number} of {of}: {from} to {to}{mark}")
}

fn waiting(status: &Status, bar: Option<&Bar>) -> Option<String> {
    match status.standing {
        Standing::Paused => {
            let number = bar.map_or(1, |bar| bar.number);
            Some(format!("PAUSED  {} goes on from bar {number}", Action::PauseOrGo.key()))
        }
        Standing::Ended => Some(format!("THE END  {} stops", Action::Quit.key())),
        Standing::CountingIn { .. } => Some("COUNT-IN".to_owned()),
        Standing::Playing => None,
    }
}
