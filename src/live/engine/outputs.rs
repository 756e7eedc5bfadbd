//! The outputs that an engine plays to: put in, lost, handed back, replaced.

use super::Engine;
use crate::live::cursor::silencing;
use crate::live::lane::Lane;
use crate::live::{Slot, Supply};
use crate::perform::Message;
use crate::sink::SendError;

const fn place(slot: Slot) -> usize {
    match slot {
        Slot::Port => 0,
        Slot::Sound => 1,
    }
}

impl Engine {
    /// Puts in an output before playing. One that was in its slot is closed.
    pub fn install(&mut self, supply: Supply) {
        let at = place(supply.slot);
        let (lane, spare) = (self.lanes.get_mut(at), self.spare.get_mut(at));
        let (Some(lane), Some(spare)) = (lane, spare) else { return };
        if let Some(old) = lane.take() {
            let (old, queues) = old.end();
            *spare = Some(queues);
            old.out.close();
        }
        *lane = Some(Lane::new(supply, spare.take().unwrap_or_default()));
    }

    /// Hands back what is lost, and takes up what is supplied.
    pub(super) fn look_after_outputs(&mut self, now: i64) {
        for at in 0..self.lanes.len() {
            let Some(slot) = self.lanes.get_mut(at) else { continue };
            let Some(lane) = slot else { continue };
            if self.old_outputs.is_full() || !(lane.is_lost() || lane.has_left(now)) {
                continue;
            }
            if lane.is_lost() && !self.plays_on && self.failure.is_none() {
                self.failure = Some(SendError::ServerStopped);
            }
            if let (Some(old), Some(lost)) = (slot.take(), self.lost.get_mut(at)) {
                *lost = true;
                self.take_out(at, old);
            }
        }
        while self.old_outputs.slots() > 1 {
            let Ok(supply) = self.supplies.pop() else { break };
            self.take_up(now, supply);
        }
    }

    /// Hands back every output.
    pub(super) fn hand_back(&mut self, now: i64) {
        for at in 0..self.lanes.len() {
            if self.old_outputs.is_full() {
                return;
            }
            let Some(mut old) = self.lanes.get_mut(at).and_then(Option::take) else { continue };
            old.leave(now);
            old.has_left(now);
            if let Some(lost) = self.lost.get_mut(at) {
                *lost = true;
            }
            self.take_out(at, old);
        }
    }

    fn take_out(&mut self, at: usize, lane: Lane) {
        let (supply, queues) = lane.end();
        if let Some(spare) = self.spare.get_mut(at) {
            *spare = Some(queues);
        }
        let _ = self.old_outputs.push(supply);
    }

    /// Takes up a new output while playing.
    fn take_up(&mut self, now: i64, supply: Supply) {
        let at = place(supply.slot);
        if let Some(mut old) = self.lanes.get_mut(at).and_then(Option::take) {
            old.leave(now);
            old.has_left(now);
            self.take_out(at, old);
        }
        let queues = self.spare.get_mut(at).and_then(Option::take);
        let mut lane = Lane::new(supply, queues.unwrap_or_default());
        let score = self.scores.get(self.ahead.slot()).and_then(Option::as_deref);
        if let Some(score) = score {
            let set_up = score.set_up.iter().copied().filter(|_| self.ahead.is_set_up());
            // One that fails here fails again at its first note, and is lost then.
            // Not the sounds of the beginning, but those of now.
            let ahead = &self.ahead;
            let set_up = set_up.map(|message| match message {
                Message::Program { channel, program } => {
                    let program = ahead.program(channel).unwrap_or(program);
                    Message::Program { channel, program }
                }
                other => other,
            });
            for message in silencing(score.roles).chain(set_up) {
                let _ = lane.say(message);
            }
        }
        if lane.slot() == Slot::Port {
            self.ahead.clock_again();
            self.heard.clock_again();
        }
        if let (Some(slot), Some(lost)) = (self.lanes.get_mut(at), self.lost.get_mut(at)) {
            *slot = Some(lane);
            *lost = false;
        }
    }
}
