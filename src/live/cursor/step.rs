use super::ringing::Note;
use super::{Cursor, Event, Scores, Segment, score};
use crate::live::score::ScoreNote;
use crate::perform::{Message, Sync};
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
    Missed,
    Tail,
    Note,
    Early,
    Cue,
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
            let at = if tick == i64::MIN { self.floor } else { self.time(tick).max(self.floor) };
            if at >= until.0 {
                return None;
            }
            self.floor = at;
            let event = match next {
                Next::Off(place) => self.ringing.take(place).map(|note| Event::Message(note.off())),
                Next::Say => self.outbox.pop().map(Event::Message),
                Next::Mark => {
                    self.mark = false;
                    Some(Event::Mark(self.status(scores)))
                }
                Next::End => {
                    self.segment = Segment::Ended;
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
                    self.clock.tick();
                    Some(Event::Message(Message::Sync(Sync::Clock)))
                }
                Next::Missed | Next::Tail | Next::Note | Next::Early | Next::Cue => {
                    self.strike(scores, next, tick).map(Event::Message)
                }
            };
            if let Some(event) = event {
                return Some((Nanos(at), event));
            }
        }
    }

    /// Plays on up to a time, and tells nobody.
    pub(in crate::live) fn advance(&mut self, scores: &Scores, until: Nanos) {
        while self.step(scores, until).is_some() {}
        self.floor = self.floor.max(until.0);
    }

    /// What comes next and where on the timeline; `i64::MIN` is at once.
    fn next(&self, scores: &Scores) -> Option<(i64, Next)> {
        let off = self.ringing.soonest().map(|(place, end)| (end, Next::Off(place)));
        if off.is_some_and(|(end, _)| end == i64::MIN || self.time(end) <= self.floor) {
            return off;
        }
        if !self.outbox.is_empty() {
            return Some((i64::MIN, Next::Say));
        }
        if self.mark {
            return Some((i64::MIN, Next::Mark));
        }
        let Some(line) = self.line(scores) else {
            let over = self.segment == Segment::Over && off.is_none();
            return if over { Some((self.head, Next::End)) } else { off };
        };
        let mut first = off.unwrap_or((line, Next::Line)).min((line, Next::Line));
        let mut also = |tick: Option<i64>, next: Next| {
            if let Some(tick) = tick {
                first = first.min((tick, next));
            }
        };
        also(self.next_slow(scores).map(|(at, _)| at), Next::Slow);
        also(self.clock.next(), Next::Clock);
        also((self.missed.0 < self.missed.1).then_some(self.head), Next::Missed);
        let at = |next| Some(self.note(scores, next)?.0);
        for next in [Next::Tail, Next::Note, Next::Early, Next::Cue] {
            also(at(next), next);
        }
        Some(first)
    }

    /// The next note of a kind, and where it begins.
    fn note(&self, scores: &Scores, next: Next) -> Option<(i64, ScoreNote)> {
        let score = score(scores, self.slot)?;
        let bar = || score.bars.get(self.bar);
        match next {
            Next::Tail => {
                let tail = self.tail.filter(|tail| tail.next < tail.to)?;
                let note = score.notes.get(tail.next)?;
                Some((tail.head + note.at, *note))
            }
            Next::Missed => {
                let note = score.notes.get(bar()?.from + self.missed.0)?;
                Some((self.head, *note))
            }
            Next::Note => match self.segment {
                Segment::Bar => {
                    let bar = bar()?;
                    let note = score.notes.get(bar.from + self.next)?;
                    (bar.from + self.next < bar.to).then_some((self.head + note.at, *note))
                }
                Segment::CountIn { bars, .. } => {
                    let each = score.clicks.len().max(1);
                    let click = score.clicks.get(self.next % each)?;
                    let bar = (self.next / each) as i64;
                    let at = self.head + bar * score.click_bar + click.at;
                    (bar < i64::from(bars)).then_some((at, *click))
                }
                Segment::Paused | Segment::Over | Segment::Ended => None,
            },
            Next::Early => {
                let coming = self.coming.bar?;
                let score = scores.get(self.coming.slot)?.as_deref()?;
                let bar = score.bars.get(coming)?;
                // Before a count-in nothing of the bar after it sounds.
                if self.early >= bar.early || self.coming.count_in > 0 {
                    return None;
                }
                let note = score.notes.get(bar.from + self.early)?;
                Some((self.line(scores)? + note.at, *note))
            }
            Next::Cue => {
                let bar = bar().filter(|_| self.segment == Segment::Bar)?;
                let note = score.cues.get(bar.cues_from + self.cue)?;
                (bar.cues_from + self.cue < bar.cues_to).then_some((self.head + note.at, *note))
            }
            _ => None,
        }
    }

    /// Begins the next note of a kind, or first ends the same pitch.
    fn strike(&mut self, scores: &Scores, next: Next, tick: i64) -> Option<Message> {
        let (_, note) = self.note(scores, next)?;
        let out = if next == Next::Early { self.coming.out } else { self.out };
        let silent = match next {
            Next::Cue => !self.cues,
            _ => self.is_silent(note.role, out),
        };
        if !silent && let Some(place) = self.ringing.find(note.channel, note.pitch) {
            return self.ringing.take(place).map(|sounding| sounding.off());
        }
        // The channel may have been another instrument's: after a jump, in another pass.
        if !silent
            && let Some(program) = note.program
            && self.program(note.channel) != Some(program)
        {
            self.gave(note.channel, program);
            return Some(Message::Program { channel: note.channel, program });
        }
        let mut visit = self.visit;
        match next {
            Next::Missed => self.missed.0 += 1,
            Next::Note => self.next += 1,
            Next::Cue => self.cue += 1,
            Next::Early => {
                self.early += 1;
                visit += 1;
            }
            _ => {
                if let Some(tail) = &mut self.tail {
                    tail.next += 1;
                    visit = tail.visit;
                }
            }
        }
        if silent {
            return None;
        }
        let ScoreNote { length, channel, pitch, velocity, role, .. } = note;
        let sounding =
            Note { end: tick.saturating_add(length), visit, channel, pitch, role, serial: 0 };
        if !self.ringing.add(sounding) {
            self.dropped += 1;
            return None;
        }
        Some(Message::NoteOn { channel, pitch, velocity })
    }
}
