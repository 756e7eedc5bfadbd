//! What the desk asks for.

use super::{Cursor, NOW, Scores, Segment, Swap, score};
use crate::live::Command;
use crate::time::Nanos;

/// How long before the first note each channel gets its sound. A program change takes a synthesizer
/// some time, and over a MIDI cable eighteen messages take 15 ms, so at the first note's own time they
/// would hold it up.
const SET_UP_AHEAD: i64 = 100_000_000;

impl Cursor {
    /// Another score is to be played. It has been put into its slot before.
    pub(in crate::live) fn hand_over(&mut self, scores: &Scores, swap: Swap) {
        if swap.from.is_some() {
            self.jump = None;
        }
        self.swap = Some(swap);
        if self.segment == Segment::Paused {
            self.swap_while_silent(scores);
        }
        self.mark = true;
        self.foresee(scores);
    }

    /// Does what a command asks, from the floor on.
    pub(in crate::live) fn obey(&mut self, scores: &Scores, command: &Command) {
        match *command {
            Command::Go => self.go(scores),
            Command::Pause => self.pause(scores),
            Command::Silence => {
                self.pause(scores);
                self.silence(scores);
            }
            // The engine's own, and `hand_over`.
            Command::HandBack | Command::End | Command::Play { .. } => {}
            Command::CountIn(bars) => match (self.segment, bars) {
                (Segment::Paused, 0) => self.go(scores),
                (Segment::Paused, bars) => {
                    self.set_up(scores);
                    self.tie(self.head, self.floor);
                    self.click_in(scores, bars);
                }
                (_, bars) => self.count_in = bars,
            },
            Command::Tempo(tempo) => self.change_tempo(self.floor, tempo),
            Command::Mute(roles) => {
                self.muted = roles;
                let muted = move |role| roles.contains(role);
                self.ringing.end(NOW, |note| note.role.is_some_and(muted));
            }
            Command::Chairs(chairs) => self.chairs = chairs,
            Command::Cues(on) => self.cues = on,
            Command::Jump(number) => {
                if self.segment == Segment::Paused {
                    self.go_to(scores, number);
                } else {
                    self.jump = Some(number);
                    if let Some(swap) = &mut self.swap {
                        swap.from = None;
                    }
                }
            }
            Command::Rounds(left) => self.rounds_left = left,
            Command::Follow(follow) => self.follow(scores, follow),
        }
        self.mark = true;
        self.foresee(scores);
    }

    /// Plays from the beginning of the bar.
    fn go(&mut self, scores: &Scores) {
        if self.segment != Segment::Paused {
            return;
        }
        let lead = if self.set_up { 0 } else { SET_UP_AHEAD };
        self.set_up(scores);
        let length = self.tempo.ticks(Nanos(lead)).get();
        self.tie(self.head.saturating_add(length), self.floor.saturating_add(lead));
        self.segment = Segment::CountIn { bars: 0, length };
        if length == 0 {
            // At once: what is asked for next is asked of a band that plays.
            self.foresee(scores);
            self.cross(scores);
        }
        // The time since the outside clock's beginning counts no more: only its beat does.
        self.outside = None;
    }

    /// Silent at once. What would have come at the bar line comes now.
    pub(super) fn pause(&mut self, scores: &Scores) {
        if !matches!(self.segment, Segment::Bar | Segment::CountIn { .. }) {
            return;
        }
        self.segment = Segment::Paused;
        self.full_pace(self.head);
        self.ringing.end(NOW, |_| true);
        self.tail = None;
        self.missed = (0, 0);
        self.count_in = 0;
        self.clock_stop();
        self.swap_while_silent(scores);
        if let Some(number) = self.jump.take() {
            self.go_to(scores, number);
        }
    }

    /// Takes up the score that waits for a bar line; one that waits for the end of a round waits on.
    fn swap_while_silent(&mut self, scores: &Scores) {
        let Some(swap) = self.swap_at_line(scores, false) else { return };
        let number = score(scores, self.slot).and_then(|score| score.bars.get(self.bar));
        let number = swap.from.or(number.map(|bar| bar.number));
        let was_entered = self.entered && swap.from.is_none();
        let before = number;
        self.take_up(scores, swap);
        if let Some(tempo) = swap.tempo {
            self.tempo = self.pace.ask(tempo);
        }
        if let Some(number) = number {
            self.go_to(scores, number);
        }
        let after = score(scores, self.slot).and_then(|score| score.bars.get(self.bar));
        self.entered = was_entered && after.map(|bar| bar.number) == before;
    }

    /// Moves the place while nothing sounds.
    fn go_to(&mut self, scores: &Scores, number: usize) {
        let Some(score) = score(scores, self.slot) else { return };
        self.bar = score.find(number, self.bar);
        self.entered = false;
    }
}
