use std::collections::HashMap;

use crate::arrange::{Arrangement, BarKind};
use crate::chart::{Role, RoleSet};
use crate::perform::{
    CLICK_CHANNEL, LEGATO, Message, Note, Part, Performance, count_in_clicks, is_gone_on_from,
};
use crate::synth::{last_chord_rings, rings_on};
use crate::theory::MidiNote;
use crate::time::Ticks;

/// The click that tells of a chord change: General MIDI's side stick.
const SIDE_STICK: MidiNote = MidiNote::clamped(37);

/// How hard it is struck: softer than the count-in's first beat, so that the band stays in front.
const CHANGE_CLICK_VELOCITY: u8 = 88;

/// How long a change click lasts; a side stick has died away by then.
const CHANGE_CLICK_LENGTH: i64 = 120;

/// A performance laid out bar by bar, so that it can be played from any bar, in any order.
#[derive(Clone, Debug)]
pub struct Score {
    id: u32,
    pub(super) bars: Vec<ScoreBar>,
    pub(super) notes: Vec<ScoreNote>,
    /// The clicks before chord changes.
    pub(super) change_clicks: Vec<ScoreNote>,
    /// Where bars slow down: the place in the bar, in ticks, and the time of a quarter in thousandths.
    pub(super) slow: Vec<(i64, u32)>,
    /// One bar of the count-in.
    pub(super) clicks: Vec<ScoreNote>,
    /// How long that bar is.
    pub(super) click_bar: i64,
    pub(super) set_up: Vec<Message>,
    pub(super) roles: RoleSet,
    pub(super) round: Option<usize>,
}

/// One bar. Lengths and places in ticks.
#[derive(Clone, Debug)]
pub(super) struct ScoreBar {
    pub number: usize,
    pub length: i64,
    pub beat: i64,
    /// From the song's first bar, as the song is played through.
    pub place: i64,
    /// True if a pass of the form begins here.
    pub begins: bool,
    /// True before the form: what is played there is no pass.
    pub kickoff: bool,
    /// Its notes, in [`Score::notes`].
    pub from: usize,
    pub to: usize,
    /// How many of them begin before the bar line.
    pub early: usize,
    /// Its change clicks, in [`Score::change_clicks`].
    pub clicks_from: usize,
    pub clicks_to: usize,
    /// Where it slows down, in [`Score::slow`].
    pub slow_from: usize,
    pub slow_to: usize,
}

/// A note from its bar's line on, in ticks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct ScoreNote {
    /// When, from the bar line: below zero for one that feel has brought forward.
    pub at: i64,
    pub length: i64,
    pub channel: u8,
    pub pitch: MidiNote,
    pub velocity: u8,
    /// The pitch that it goes on from, if that sounds then.
    pub slurred: Option<MidiNote>,
    /// `None` for clicks.
    pub role: Option<Role>,
    /// The General MIDI program that it is played with; `None` for clicks.
    pub program: Option<u8>,
}

impl Score {
    /// Of an arrangement and its performance. `id` tells it from other scores of the session. The
    /// performance's own count-in is left out: counting in is a command.
    pub fn new(id: u32, arrangement: &Arrangement, performance: &Performance) -> Self {
        let mut score = Self::empty(id, performance);
        score.round = arrangement.round.map(|round| round.max(1));
        score.clicks = count_in_clicks(arrangement.meter, 1)
            .iter()
            .map(|click| note(click, None, Ticks::ZERO))
            .collect();
        score.click_bar = arrangement.meter.bar().get();
        let lengths: Vec<i64> = arrangement.bars.iter().map(|bar| bar.meter.bar().get()).collect();
        let mut bars: Vec<Vec<ScoreNote>> = vec![Vec::new(); lengths.len()];
        let rings = ticks_past_the_end(performance);
        for part in &performance.parts {
            for (at, of_part) in part.notes.iter().enumerate() {
                let number = of_part.bar as usize;
                let Some(bar) = arrangement.bars.get(number) else { continue };
                let mut it = part_note(part, at, of_part, bar.start);
                if let Some(rings) = rings.filter(|_| rings_on(performance, part, of_part)) {
                    it.length += rings;
                }
                let (number, it) = near(&lengths, number, it);
                if let Some(bar) = bars.get_mut(number) {
                    bar.push(it);
                }
            }
        }
        let clicks = change_clicks(arrangement);
        let mut places = HashMap::new();
        // An excerpt alone can't know how long the bars before it are: as the song's meter has them.
        let before = arrangement.bars.first().map_or(0, |bar| bar.number.saturating_sub(1));
        let mut place = arrangement.meter.bar().get().saturating_mul(before as i64);
        for (index, (bar, mut notes)) in arrangement.bars.iter().zip(bars).enumerate() {
            // A stable sort: at one instant in the order of the parts, as in a file.
            notes.sort_by_key(|note| note.at);
            let begins = index == 0
                || arrangement.passes.get(bar.pass).is_some_and(|pass| pass.start == bar.start)
                || arrangement.bars.get(index - 1).is_some_and(|last| last.pass != bar.pass);
            // Rounds of a loop stand in one place. A kickoff's bars all have one number, and come once.
            let kickoff = bar.kind == BarKind::Kickoff;
            let place_here =
                if kickoff { place } else { *places.entry(bar.number).or_insert(place) };
            place = place_here + bar.meter.bar().get();
            let clicks_from = score.change_clicks.len();
            let from = clicks.partition_point(|(at, _)| *at < index);
            let here = clicks.iter().skip(from).take_while(|(at, _)| *at == index);
            score.change_clicks.extend(here.map(|(_, note)| *note));
            score.push(bar.number, bar.meter.bar(), bar.beat(), begins, notes);
            if let Some(last) = score.bars.last_mut() {
                last.place = place_here;
                last.kickoff = kickoff;
                last.clicks_from = clicks_from;
                last.clicks_to = score.change_clicks.len();
                last.slow_from = score.slow.len();
                let slowing = performance.slowing.iter();
                let here = slowing.filter(|slowing| (bar.start..bar.end()).contains(&slowing.at));
                score.slow.extend(here.map(|it| ((it.at - bar.start).get(), it.permille)));
                last.slow_to = score.slow.len();
            }
        }
        score
    }

    /// Of a performance alone, all of it one bar, count-in and all: for playing straight through.
    pub fn whole(id: u32, performance: &Performance) -> Self {
        let mut score = Self::empty(id, performance);
        let mut notes: Vec<ScoreNote> = Vec::new();
        for part in &performance.parts {
            let of_part = part.notes.iter().enumerate();
            notes.extend(of_part.map(|(at, it)| part_note(part, at, it, Ticks::ZERO)));
        }
        let clicks = performance.clicks.iter();
        notes.extend(clicks.map(|it| note(it, None, Ticks::ZERO)));
        notes.sort_by_key(|note| note.at);
        score.push(1, performance.end, Ticks::QUARTER, true, notes);
        score.slow.extend(performance.slowing.iter().map(|it| (it.at.get(), it.permille)));
        if let Some(all) = score.bars.last_mut() {
            all.slow_to = score.slow.len();
        }
        score
    }

    /// Where its bars stand in the whole song, of which it is an excerpt: for the song position of
    /// MIDI clock. Bars that the song does not have stay as they are.
    #[must_use]
    pub fn placed_in(mut self, song: &Arrangement) -> Self {
        let places: HashMap<usize, i64> =
            song.bars.iter().map(|bar| (bar.number, (bar.start - song.start).get())).collect();
        for bar in self.bars.iter_mut().filter(|bar| !bar.kickoff) {
            bar.place = places.get(&bar.number).copied().unwrap_or(bar.place);
        }
        self
    }

    fn empty(id: u32, performance: &Performance) -> Self {
        Self {
            id,
            bars: Vec::new(),
            notes: Vec::new(),
            change_clicks: Vec::new(),
            slow: Vec::new(),
            clicks: Vec::new(),
            click_bar: 0,
            set_up: performance
                .parts
                .iter()
                .flat_map(|part| Message::set_up(part.role.channel(), part.instrument))
                .collect(),
            roles: performance.parts.iter().map(|part| part.role).collect(),
            round: None,
        }
    }

    fn push(
        &mut self,
        number: usize,
        length: Ticks,
        beat: Ticks,
        begins: bool,
        notes: Vec<ScoreNote>,
    ) {
        let from = self.notes.len();
        let early = notes.partition_point(|note| note.at < 0);
        self.notes.extend(notes);
        self.bars.push(ScoreBar {
            number,
            // A bar takes time, or the band would go round in one instant for ever.
            length: length.get().max(1),
            beat: beat.get().max(1),
            place: 0,
            begins,
            kickoff: false,
            from,
            to: self.notes.len(),
            early,
            clicks_from: self.change_clicks.len(),
            clicks_to: self.change_clicks.len(),
            slow_from: self.slow.len(),
            slow_to: self.slow.len(),
        });
    }

    /// Its number.
    pub const fn id(&self) -> u32 {
        self.id
    }

    /// The bar of that number: `hint` if that one has it, else the first that has it, else the
    /// nearest. Past the last bar of a loop, the loop's first.
    pub(super) fn find(&self, number: usize, hint: usize) -> usize {
        if self.bars.get(hint).is_some_and(|bar| bar.number == number) {
            return hint;
        }
        if let Some(found) = self.bars.iter().position(|bar| bar.number == number) {
            return found;
        }
        let past = self.bars.iter().all(|bar| bar.number < number);
        if past && self.round.is_some() {
            return 0;
        }
        let away = |bar: &ScoreBar| bar.number.abs_diff(number);
        // Of two as near, and of rounds alike, the first.
        let nearest = self.bars.iter().enumerate().min_by_key(|(_, bar)| away(bar));
        nearest.map_or(0, |(index, _)| index)
    }

    /// The bar in which a place of the song lies, and how far into it; the nearest there is.
    pub(super) fn bar_at(&self, place: i64) -> (usize, i64) {
        let inside = |bar: &ScoreBar| (bar.place..bar.place + bar.length).contains(&place);
        if let Some((index, bar)) = self.bars.iter().enumerate().find(|(_, bar)| inside(bar)) {
            return (index, place - bar.place);
        }
        let away = |bar: &ScoreBar| bar.place.abs_diff(place);
        let nearest = self.bars.iter().enumerate().min_by_key(|(_, bar)| away(bar));
        (nearest.map_or(0, |(index, _)| index), 0)
    }

    /// True if both go round the same bars.
    pub(super) fn same_loop(&self, other: &Self) -> bool {
        let bars = |score: &Self| {
            let round = score.round?;
            Some((round, score.bars.first()?.number, score.bars.get(round - 1)?.number))
        };
        bars(self) == bars(other) && self.round.is_some()
    }
}

/// The note at a place of a part.
fn part_note(part: &Part, at: usize, of_part: &Note, line: Ticks) -> ScoreNote {
    let after = part.notes.get(at + 1..).unwrap_or_default();
    let goes_on = is_gone_on_from(of_part.pitch, of_part.end, after);
    let legato = if goes_on { LEGATO.get() } else { 0 };
    let it = note(of_part, Some(part), line);
    ScoreNote { length: it.length + legato, ..it }
}

/// For how many ticks of its last tempo the last chord rings past the end: no hand comes down on it there.
fn ticks_past_the_end(performance: &Performance) -> Option<i64> {
    let rings = last_chord_rings(performance)?;
    let quarter = performance.nanos(performance.end + Ticks::QUARTER).0
        - performance.nanos(performance.end).0;
    Some(rings.0.saturating_mul(Ticks::QUARTER.get()) / quarter.max(1))
}

/// A note of a part, or a click.
fn note(note: &Note, part: Option<&Part>, line: Ticks) -> ScoreNote {
    ScoreNote {
        at: (note.start - line).get(),
        length: (note.end - note.start).get().max(1),
        channel: part.map_or(CLICK_CHANNEL, |part| part.role.channel()),
        pitch: note.pitch,
        velocity: note.velocity,
        slurred: note.slurred,
        role: part.map(|part| part.role),
        program: part.map(|part| part.program_at(note.start)),
    }
}

/// Moves a note to a neighbouring bar if it would begin more than a bar before its own, or a bar
/// after it: those who play bar by bar look no farther.
fn near(lengths: &[i64], mut bar: usize, mut note: ScoreNote) -> (usize, ScoreNote) {
    let length = |bar: usize| lengths.get(bar).copied().unwrap_or(i64::MAX);
    while bar > 0 && note.at < -length(bar - 1) {
        bar -= 1;
        note.at += length(bar);
    }
    while bar + 1 < lengths.len() && note.at >= length(bar).saturating_add(length(bar + 1)) {
        note.at -= length(bar);
        bar += 1;
    }
    (bar, note)
}

/// Two clicks before each chord change, a beat and half a beat ahead, each with the bar it falls in.
fn change_clicks(song: &Arrangement) -> Vec<(usize, ScoreNote)> {
    let mut out = Vec::new();
    let mut click = |bar: usize, at: Ticks| {
        let Some(line) = song.bars.get(bar).map(|bar| bar.start) else { return };
        let note = ScoreNote {
            at: (at - line).get(),
            length: CHANGE_CLICK_LENGTH,
            channel: CLICK_CHANNEL,
            pitch: SIDE_STICK,
            velocity: CHANGE_CLICK_VELOCITY,
            slurred: None,
            role: None,
            program: None,
        };
        out.push((bar, note));
    };
    let mut before = |change: Ticks| {
        // The bar of the beat before.
        let place = song.bars.partition_point(|bar| bar.start < change);
        let Some(bar) = place.checked_sub(1) else { return };
        let Some(beat) = song.bars.get(bar).map(|bar| bar.beat()) else { return };
        for back in [beat, Ticks::new(beat.get() / 2)] {
            let at = change - back;
            let place = song.bars.partition_point(|bar| bar.start <= at);
            if let Some(bar) = place.checked_sub(1) {
                click(bar, at);
            }
        }
    };
    for span in song.spans.iter().skip(1) {
        before(span.start);
    }
    let (first, last) = (song.spans.first(), song.spans.last());
    if song.round.is_some() && first.map(|span| span.chord) != last.map(|span| span.chord) {
        before(song.end);
    }
    out.sort_by_key(|(bar, note)| (*bar, note.at));
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::live::testing::{arrangement, performance};

    #[test]
    fn every_note_has_its_place_in_its_bar() {
        let song = arrangement("| G | C / D / | (2/4) G | D |", "");
        let performance = performance(&song);
        let score = Score::new(3, &song, &performance);
        assert_eq!((score.id(), score.bars.len()), (3, 4));
        let count: usize = performance.parts.iter().map(|part| part.notes.len()).sum();
        assert_eq!(score.notes.len(), count);
        let mut laid: Vec<(i64, u8, u8)> = Vec::new();
        for (bar, of) in score.bars.iter().zip(&song.bars) {
            assert_eq!(bar.place, of.start.get());
            let notes = &score.notes[bar.from..bar.to];
            assert!(notes.is_sorted_by_key(|note| note.at));
            assert_eq!(notes.iter().filter(|note| note.at < 0).count(), bar.early);
            laid.extend(notes.iter().map(|n| (n.at + bar.place, n.channel, n.pitch.get())));
        }
        laid.sort_unstable();
        let parts = performance.parts.iter();
        let mut played: Vec<(i64, u8, u8)> = parts
            .flat_map(|p| p.notes.iter().map(|n| (n.start.get(), p.role.channel(), n.pitch.get())))
            .collect();
        played.sort_unstable();
        assert_eq!(laid, played);
    }

    #[test]
    fn changes_are_told_of_a_beat_before() {
        let song = arrangement("| G | C / D / | D | D |", "");
        let score = Score::new(0, &song, &performance(&song));
        let of = |bar: usize| {
            let bar = &score.bars[bar];
            score.change_clicks[bar.clicks_from..bar.clicks_to]
                .iter()
                .map(|click| click.at)
                .collect::<Vec<_>>()
        };
        assert_eq!(of(0), [2880, 3360], "C comes on the next bar's first beat");
        assert_eq!(of(1), [960, 1440], "D on its third");
        assert!(of(2).is_empty());
    }

    #[test]
    fn bars_are_found_by_number() {
        let song = arrangement("| G | C | D | G |", "");
        let mut score = Score::new(0, &song, &performance(&song));
        for bar in &mut score.bars {
            bar.number += 4;
        }
        assert_eq!((score.find(6, 0), score.find(1, 3), score.find(99, 0)), (1, 0, 3));
        score.round = Some(2);
        assert_eq!(score.find(99, 0), 0, "past the last of a loop");
        score.bars[2].number = 5;
        score.bars[3].number = 6;
        assert_eq!((score.find(6, 3), score.find(6, 2)), (3, 1));
        assert_eq!(score.bar_at(3840 + 7), (1, 7));
        assert_eq!((score.bar_at(-5), score.bar_at(1 << 40)), ((0, 0), (3, 0)));
    }
}
