//! Going with an outside clock.

use super::coming::Coming;
use super::{Cursor, NOW, Scores, Segment};
use crate::live::Follow;
use crate::time::{Nanos, Tempo, Ticks};

/// The farthest from the outside's tempo, in parts of a thousand, that an error of the beat is mended
/// with.
const MOST: i64 = 100;

impl Cursor {
    pub(super) fn follow(&mut self, scores: &Scores, follow: Follow) {
        self.timeline.follow(self.here.head);
        match follow {
            Follow::Start(at, tempo) => self.start_at(scores, Ticks::ZERO, at, tempo),
            Follow::Continue { place, at, tempo } => self.start_at(scores, place, at, tempo),
            Follow::Beat { place, at, tempo } => self.beat(scores, place, at, tempo),
            Follow::Stop => self.pause(scores),
        }
    }

    /// Plays from `place`, which is at the time `at`.
    fn start_at(&mut self, scores: &Scores, place: Ticks, at: Nanos, tempo: Tempo) {
        self.pause(scores);
        if !self.here.is_paused() {
            return;
        }
        self.set_up(scores);
        self.seek(scores, place.get(), at, tempo);
        let begun = self.here.head.saturating_add(self.bar_into(scores, place) - place.get());
        self.timeline.outside = Some(begun);
    }

    /// How far into the bar a place of the song lies.
    fn bar_into(&self, scores: &Scores, place: Ticks) -> i64 {
        self.here.score(scores).map_or(0, |score| score.bar_at(place.get()).1)
    }

    /// Goes on at another place at once: it is, or was, there at the time `at`.
    fn seek(&mut self, scores: &Scores, place: i64, at: Nanos, tempo: Tempo) {
        let Some(score) = self.here.score(scores) else { return };
        let (bar, into) = score.bar_at(place);
        let Some(there) = score.bars.get(bar) else { return };
        self.ringing.end(NOW, |_| true);
        self.pending.take_jump();
        self.pending.count_in = 0;
        let moved = self.here.bar != bar || !self.here.entered;
        self.here.bar = bar;
        self.timeline.ask(tempo);
        self.timeline.tie(self.here.head.saturating_add(into), at.0);
        self.here.count();
        let begins = self.passes.begins(there.begins && moved);
        let out = self.out_there(begins, score.roles);
        self.enter(Coming { begins, out, kickoff: there.kickoff, ..Coming::NONE });
        self.coming = Coming::NONE;
        self.reading.seek(score, there, into);
        if into == 0 {
            self.clock_at_bar(scores);
        } else {
            // The clock that is sent goes on with the next bar.
            self.clock.stop(&mut self.channels.outbox);
        }
    }

    /// The outside clock is at `place` at the time `at`.
    fn beat(&mut self, scores: &Scores, place: Ticks, at: Nanos, tempo: Tempo) {
        let silent = matches!(self.here.segment, Segment::Paused | Segment::Ended);
        let Some(bar) = self.here.bar_in(scores).filter(|_| !silent) else {
            self.timeline.change_tempo(self.here.head, tempo);
            return;
        };
        let timeline = &self.timeline;
        let begun = timeline.time(self.here.head);
        let whole = tempo.nanos(Ticks::new(bar.beat)).0.max(1);
        let behind = match timeline.outside {
            Some(begun) => timeline.time(begun.saturating_add(place.get())).saturating_sub(at.0),
            None => {
                // Where the outside clock began is not known: only where its beats are.
                let from_beat = timeline.nanos(place.get().rem_euclid(bar.beat));
                let off = begun.saturating_add(from_beat).saturating_sub(at.0);
                // The band's own beats, at its own tempo, lie around it.
                let own = timeline.nanos(bar.beat).max(1);
                (off + own / 2).rem_euclid(own) - own / 2
            }
        };
        if behind.abs() > whole / 2 && timeline.outside.is_some() {
            let late = timeline.ticks(behind);
            let here = timeline.ticks(at.0 - begun);
            let there = bar.place + here + late;
            self.seek(scores, there, at, tempo);
            let into = self.bar_into(scores, Ticks::new(there));
            self.timeline.outside = Some(self.here.head.saturating_add(into - place.get()));
            return;
        }
        // A beat is played in so much less time that what is behind is made up for by its end.
        let most = whole * MOST / 1000;
        let time = i128::from(whole - behind.clamp(-most, most));
        let micros = i128::from(tempo.micros_per_quarter()) * time / i128::from(whole);
        let steered = Tempo::from_micros(u32::try_from(micros).unwrap_or(u32::MAX));
        self.timeline.change_tempo(self.here.head, steered);
    }
}
