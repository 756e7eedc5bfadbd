use super::{Instruments, Outlet, Renderer, Sequencer};
use crate::perform::Message;

/// Messages that may wait in a live renderer: more than a device's longest callback can hold.
pub const LIVE_ROOM: usize = 4_096;

/// A renderer that is told what to play while it plays.
///
/// Once made, it neither allocates nor locks, so that it may run in a sound device's callback.
pub trait LiveRenderer: Renderer {
    /// The first frame that is not reckoned yet: messages for it and later ones are on time. It lies
    /// up to two blocks past [`Renderer::position_frames`].
    fn reckoned(&self) -> u64;

    /// What [`Self::reckoned`] will be once that many frames more have been rendered.
    fn reckoned_after(&self, frames: usize) -> u64;

    /// Takes a message that is to be heard on that frame; calls come in the order of frames. What
    /// comes too late sounds on the first frame it can. False if there is no room.
    fn take(&mut self, frame: u64, message: Message) -> bool;
}

impl<I: Instruments> LiveRenderer for Outlet<Sequencer<I>> {
    fn reckoned(&self) -> u64 {
        self.blocks().reckoned()
    }

    fn reckoned_after(&self, frames: usize) -> u64 {
        self.reckoned() + self.frames_for(frames)
    }

    fn take(&mut self, frame: u64, message: Message) -> bool {
        self.blocks_mut().push(frame, message)
    }
}
