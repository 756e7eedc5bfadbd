//! What the desk asks for.

use super::{Cursor, NOW, Scores, Segment, Swap};
use crate::chart::RoleSet;
use crate::live::Command;

/// How long before the first note each channel gets its sound. A program change takes a synthesizer
/// some time, and over a MIDI cable eighteen messages take 15 ms, so at the first note's own time they
/// would hold it up.
const SET_UP_AHEAD: i64 = 100_000_000;

impl Cursor {
    /// Another score is to be played. It has been put into its slot before.
    pub(in crate::live) fn hand_over(&mut self, scores: &Scores, swap: Swap) {
        self.pending.hand_over(swap);
        if self.here.is_paused() {
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
                let score = self.here.score(scores);
                self.channels.silence(score.map_or(RoleSet::EMPTY, |score| score.roles));
            }
            // The engine's own, and `hand_over`.
            Command::HandBack | Command::End | Command::Play { .. } => {}
            Command::CountIn(bars) => match (self.here.segment, bars) {
                (Segment::Paused, 0) => self.go(scores),
                (Segment::Paused, bars) => {
                    self.set_up(scores);
                    self.timeline.tie(self.here.head, self.timeline.floor());
                    self.click_in(scores, bars);
                }
                (_, bars) => self.pending.count_in = bars,
            },
            Command::Tempo(tempo) => self.timeline.change_tempo(self.here.head, tempo),
            Command::Mute(roles) => {
                self.audible.muted = roles;
                let muted = move |role| roles.contains(role);
                self.ringing.end(NOW, |note| note.role.is_some_and(muted));
            }
            Command::Chairs(chairs) => self.audible.chairs = chairs,
            Command::ChangeClicks(on) => self.audible.change_clicks = on,
            Command::Jump(number) => {
                if self.here.is_paused() {
                    self.here.go_to(scores, number);
                } else {
                    self.pending.jump_to(number);
                }
            }
            Command::Rounds(left) => self.pending.rounds_left = left,
            Command::Follow(follow) => self.follow(scores, follow),
        }
        self.mark = true;
        self.foresee(scores);
    }

    /// Plays from the beginning of the bar.
    fn go(&mut self, scores: &Scores) {
        if !self.here.is_paused() {
            return;
        }
        let lead = if self.channels.is_set_up() { 0 } else { SET_UP_AHEAD };
        self.set_up(scores);
        let timeline = &mut self.timeline;
        let length = timeline.ticks(lead);
        timeline.tie(self.here.head.saturating_add(length), timeline.floor().saturating_add(lead));
        self.here.segment = Segment::CountIn { bars: 0, length };
        self.clock.align(self.here.bar_head());
        if length == 0 {
            // At once: what is asked for next is asked of a band that plays.
            self.foresee(scores);
            self.cross(scores);
        }
        // The time since the outside clock's beginning counts no more: only its beat does.
        self.timeline.outside = None;
    }

    /// Silent at once. What would have come at the bar line comes now.
    pub(super) fn pause(&mut self, scores: &Scores) {
        if !self.here.is_playing() {
            return;
        }
        self.here.segment = Segment::Paused;
        self.mark |= self.timeline.full(self.here.head);
        self.ringing.end(NOW, |_| true);
        self.reading.pause();
        self.pending.count_in = 0;
        self.clock.stop(&mut self.channels.outbox);
        self.swap_while_silent(scores);
        if let Some(number) = self.pending.take_jump() {
            self.here.go_to(scores, number);
        }
    }

    /// Takes up the score that waits for a bar line; one that waits for the end of a round waits on.
    fn swap_while_silent(&mut self, scores: &Scores) {
        let Some(swap) = self.swap_at_line(scores, false) else { return };
        let number = swap.from.or(self.here.bar_in(scores).map(|bar| bar.number));
        let was_entered = self.here.entered && swap.from.is_none();
        self.take_up(scores, swap);
        if let Some(tempo) = swap.tempo {
            self.timeline.ask(tempo);
        }
        if let Some(number) = number {
            self.here.go_to(scores, number);
        }
        let after = self.here.bar_in(scores).map(|bar| bar.number);
        self.here.entered = was_entered && after == number;
    }
}
