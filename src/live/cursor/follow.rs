//! Going with an outside clock.

use super::line::Coming;
use super::{Cursor, NOW, Scores, Segment, score};
use crate::live::Follow;
use crate::time::{Nanos, Tempo, Ticks};

/// The farthest from the outside's tempo, in parts of a thousand, that an error of the beat is mended
/// with.
const MOST: i64 = 100;

impl Cursor {
    pub(super) fn follow(&mut self, scores: &Scores, follow: Follow) {
        self.follow_pace();
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
        if self.segment != Segment::Paused {
            return;
        }
        self.set_up(scores);
        self.seek(scores, place.get(), at, tempo);
        self.outside = Some(self.head.saturating_add(self.bar_into(scores, place) - place.get()));
    }

    /// How far into the bar a place of the song lies.
    fn bar_into(&self, scores: &Scores, place: Ticks) -> i64 {
        score(scores, self.slot).map_or(0, |score| score.bar_at(place.get()).1)
    }

    /// Goes on at another place at once: it is, or was, there at the time `at`.
    fn seek(&mut self, scores: &Scores, place: i64, at: Nanos, tempo: Tempo) {
        let Some(score) = score(scores, self.slot) else { return };
        let (bar, into) = score.bar_at(place);
        let Some(there) = score.bars.get(bar) else { return };
        self.ringing.end(NOW, |_| true);
        self.tail = None;
        self.jump = None;
        self.count_in = 0;
        let moved = self.bar != bar || !self.entered;
        self.bar = bar;
        self.tempo = self.pace.ask(tempo);
        self.tie(self.head.saturating_add(into), at.0);
        self.visit = self.visit.wrapping_add(1);
        let begins = !self.begun || (there.begins && moved);
        let out = self.out_there(begins, score.roles);
        (self.early, self.early_from) = (0, 0);
        self.enter(Coming { begins, out, kickoff: there.kickoff, ..Coming::NONE });
        self.coming = Coming::NONE;
        let notes = score.notes.iter().skip(there.from).take(there.to - there.from);
        self.missed = (0, 0);
        self.next = if into == 0 { 0 } else { notes.take_while(|note| note.at < into).count() };
        let cues = score.cues.iter().skip(there.cues_from);
        self.cue = cues.take(there.cues_to - there.cues_from).take_while(|c| c.at < into).count();
        if into == 0 {
            self.clock_at_bar(scores);
        } else {
            // The clock that is sent goes on with the next bar.
            self.clock_stop();
        }
    }

    /// The outside clock is at `place` at the time `at`.
    fn beat(&mut self, scores: &Scores, place: Ticks, at: Nanos, tempo: Tempo) {
        let bar = score(scores, self.slot).and_then(|score| score.bars.get(self.bar));
        let Some(bar) = bar.filter(|_| !matches!(self.segment, Segment::Paused | Segment::Ended))
        else {
            self.change_tempo(self.floor, tempo);
            return;
        };
        let whole = tempo.nanos(Ticks::new(bar.beat)).0.max(1);
        let behind = match self.outside {
            Some(begun) => self.time(begun.saturating_add(place.get())).saturating_sub(at.0),
            None => {
                // Where the outside clock began is not known: only where its beats are.
                let from_beat = self.tempo.nanos(Ticks::new(place.get().rem_euclid(bar.beat))).0;
                let off = self.time(self.head).saturating_add(from_beat).saturating_sub(at.0);
                // The band's own beats, at its own tempo, lie around it.
                let own = self.tempo.nanos(Ticks::new(bar.beat)).0.max(1);
                (off + own / 2).rem_euclid(own) - own / 2
            }
        };
        if behind.abs() > whole / 2 && self.outside.is_some() {
            let late = self.tempo.ticks(Nanos(behind)).get();
            let here = self.tempo.ticks(Nanos(at.0 - self.time(self.head))).get();
            let there = bar.place + here + late;
            self.seek(scores, there, at, tempo);
            let into = self.bar_into(scores, Ticks::new(there));
            self.outside = Some(self.head.saturating_add(into - place.get()));
            return;
        }
        // A beat is played in so much less time that what is behind is made up for by its end.
        let most = whole * MOST / 1000;
        let time = i128::from(whole - behind.clamp(-most, most));
        let micros = i128::from(tempo.micros_per_quarter()) * time / i128::from(whole);
        let steered = Tempo::from_micros(u32::try_from(micros).unwrap_or(u32::MAX));
        self.change_tempo(self.floor, steered);
    }
}
