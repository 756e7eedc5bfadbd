use std::collections::VecDeque;

use super::{Blocks, QUANTUM};
use crate::perform::Message;

/// Instruments that play what messages tell them, block by block.
pub trait Instruments: Send {
    /// Takes a message that takes effect `wait` frames into the next block, fewer than [`QUANTUM`];
    /// calls come in the order of time. Takes no memory and no lock.
    fn take(&mut self, message: Message, wait: usize);

    /// Fills the next block of each side. Takes no memory and no lock.
    fn block(&mut self, left: &mut [f32; QUANTUM], right: &mut [f32; QUANTUM]);
}

/// Instruments and the messages that wait for their frame: those of a whole performance, or what a
/// player sends while they sound. Either way the same messages give the very same samples.
#[derive(Clone, Debug)]
pub struct Sequencer<I> {
    instruments: I,
    waiting: VecDeque<(u64, Message)>,
    /// The first frame of the next block to be reckoned.
    reckoned: u64,
}

impl<I: Instruments> Sequencer<I> {
    /// With messages in the order of their frames, and room for `more`.
    pub fn new(instruments: I, messages: Vec<(u64, Message)>, more: usize) -> Self {
        let mut waiting = VecDeque::from(messages);
        waiting.reserve_exact(more);
        Self { instruments, waiting, reckoned: 0 }
    }

    /// The instruments, to be set up before they play.
    pub(super) const fn instruments_mut(&mut self) -> &mut I {
        &mut self.instruments
    }

    /// The first frame that no block has been reckoned for.
    pub const fn reckoned(&self) -> u64 {
        self.reckoned
    }

    /// Takes a message for a frame; calls come in the order of frames. What is for a frame already
    /// reckoned takes effect on the next one. False if there is no room.
    pub fn push(&mut self, frame: u64, message: Message) -> bool {
        let room = self.waiting.len() < self.waiting.capacity();
        if room {
            self.waiting.push_back((frame, message));
        }
        room
    }
}

impl<I: Instruments> Blocks for Sequencer<I> {
    fn block(&mut self, left: &mut [f32; QUANTUM], right: &mut [f32; QUANTUM]) {
        let end = self.reckoned + QUANTUM as u64;
        while let Some(&(frame, message)) = self.waiting.front()
            && frame < end
        {
            self.waiting.pop_front();
            self.instruments.take(message, frame.saturating_sub(self.reckoned) as usize);
        }
        self.instruments.block(left, right);
        self.reckoned = end;
    }
}
