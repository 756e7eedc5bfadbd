use super::reading::Row;
use super::ringing::Note;
use super::{Cursor, Event, NOW, Scores, Segment};
use crate::live::score::ScoreNote;
use crate::perform::Message;
use crate::time::Nanos;

/// What can be next, in the order in which it comes at one instant: notes end before others begin.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Next {
    Off(usize),
    Say,
    Mark,
    End,
    Line,
    Slow,
    Clock,
    Strike(Row),
}

impl Cursor {
    /// The next event before `until`, if there is one; calling again goes on. Times never go back.
    pub(in crate::live) fn step(
        &mut self,
        scores: &Scores,
        until: Nanos,
    ) -> Option<(Nanos, Event)> {
        loop {
            let (tick, next) = self.next(scores)?;
            let (floor, timeline) = (self.timeline.floor(), &mut self.timeline);
            let at = if tick == NOW { floor } else { timeline.time(tick).max(floor) };
            if at >= until.0 {
                return None;
            }
            timeline.set_floor(at);
            let event = match next {
                Next::Off(place) => self.ringing.take(place).map(|note| Event::Message(note.off())),
                Next::Say => self.channels.outbox.pop().map(Event::Message),
                Next::Mark => {
                    self.mark = false;
                    Some(Event::Mark(self.status(scores)))
                }
                Next::End => {
                    self.here.segment = Segment::Ended;
                    self.mark = true;
                    None
                }
                Next::Line => {
                    self.cross(scores);
                    None
                }
                Next::Slow => {
                    self.slow_down(scores);
                    None
                }
                Next::Clock => {
                    let sync = self.clock.say(self.timeline.here());
                    Some(Event::Message(Message::Sync(sync)))
                }
                Next::Strike(row) => self.strike(scores, row, tick).map(Event::Message),
            };
            if let Some(event) = event {
                return Some((Nanos(at), event));
            }
        }
    }

    /// Plays on up to a time, and tells nobody.
    pub(in crate::live) fn advance(&mut self, scores: &Scores, until: Nanos) {
        while self.step(scores, until).is_some() {}
        self.timeline.set_floor(self.timeline.floor().max(until.0));
    }

    /// What comes next and where on the timeline; [`NOW`] is at once.
    fn next(&self, scores: &Scores) -> Option<(i64, Next)> {
        let off = self.ringing.soonest().map(|(place, end)| (end, Next::Off(place)));
        if off
            .is_some_and(|(end, _)| end == NOW || self.timeline.time(end) <= self.timeline.floor())
        {
            return off;
        }
        if !self.channels.outbox.is_empty() {
            return Some((NOW, Next::Say));
        }
        if self.mark {
            return Some((NOW, Next::Mark));
        }
        let Some(line) = self.here.line(scores) else {
            let over = self.here.segment == Segment::Over && off.is_none();
            let clock = self.clock.next(self.timeline.here()).filter(|_| self.here.is_paused());
            let clock = clock.map(|at| (at, Next::Clock));
            return if over {
                Some((self.here.head, Next::End))
            } else {
                off.into_iter().chain(clock).min()
            };
        };
        let mut first = off.unwrap_or((line, Next::Line)).min((line, Next::Line));
        let mut also = |tick: Option<i64>, next: Next| {
            if let Some(tick) = tick {
                first = first.min((tick, next));
            }
        };
        also(self.next_slow(scores).map(|(at, _)| at), Next::Slow);
        also(self.clock.next(self.timeline.here()), Next::Clock);
        let missed = self.reading.has_missed();
        also(missed.then_some(self.here.head), Next::Strike(Row::Missed));
        for row in Row::ON_TIME {
            also(self.note(scores, row).map(|(at, _)| at), Next::Strike(row));
        }
        Some(first)
    }

    /// The next note of a row, and where it begins.
    fn note(&self, scores: &Scores, row: Row) -> Option<(i64, ScoreNote)> {
        self.reading.note(row, scores, &self.here, &self.coming)
    }

    /// Begins the next note of a row, or first ends the same pitch.
    fn strike(&mut self, scores: &Scores, row: Row, tick: i64) -> Option<Message> {
        let (_, note) = self.note(scores, row)?;
        let out = if row == Row::Early { self.coming.out } else { self.audible.out };
        let silent = match row {
            Row::ChangeClick => !self.audible.change_clicks,
            _ => self.audible.is_silent(note.role, out),
        };
        if !silent && let Some(place) = self.ringing.find(note.channel, note.pitch) {
            return self.ringing.take(place).map(|sounding| sounding.off());
        }
        if !silent && let Some(program) = self.channels.wanted_before(&note) {
            self.channels.gave(program);
            return Some(program);
        }
        // What a slurred note goes on from is named before it.
        let from = note.slurred.filter(|from| self.ringing.find(note.channel, *from).is_some());
        let from = from.filter(|_| !silent).map(|from| (note.channel, from));
        if self.goes_on != from {
            self.goes_on = from;
            if let Some((channel, from)) = from {
                return Some(Message::goes_on(channel, from));
            }
        }
        self.goes_on = None;
        let visit = self.reading.go_by(row, self.here.visit);
        if silent {
            return None;
        }
        let ScoreNote { length, channel, pitch, velocity, role, .. } = note;
        let sounding =
            Note { end: tick.saturating_add(length), visit, channel, pitch, role, serial: 0 };
        self.ringing.add(sounding).then_some(Message::NoteOn { channel, pitch, velocity })
    }
}
