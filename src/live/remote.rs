use rtrb::{Consumer, Producer};

use super::{Command, Follow, Score, Status, Supply, Waker};

/// The desk's end: commands to the playing thread, its status and its old scores back. Nothing here
/// ever waits.
pub struct Remote {
    pub(super) commands: Producer<Command>,
    pub(super) statuses: Consumer<Status>,
    pub(super) scores: Consumer<Box<Score>>,
    pub(super) last: Option<Status>,
    pub(super) waker: Waker,
}

impl Remote {
    /// Tells the playing thread something. It sees it within 2 ms: while it waits for longer it is woken.
    ///
    /// # Errors
    /// There is no room: the playing thread stands still, or is over. The command comes back.
    pub fn send(&mut self, command: Command) -> Result<(), Command> {
        let rtrb::PushError::Full(command) = match self.commands.push(command) {
            Ok(()) => {
                self.waker.wake();
                return Ok(());
            }
            Err(full) => full,
        };
        Err(command)
    }

    /// How the band stands, as it is heard now; `None` before playing begins. Also drops the scores
    /// that are no longer played.
    pub fn status(&mut self) -> Option<Status> {
        while let Ok(status) = self.statuses.pop() {
            self.last = Some(status);
        }
        while self.scores.pop().is_ok() {}
        self.last
    }

    /// The next of the statuses, each once and in order; `None` where there is no new one.
    pub fn next_status(&mut self) -> Option<Status> {
        let status = self.statuses.pop().ok();
        self.last = status.or(self.last);
        status
    }

    /// True once the playing thread is over.
    pub fn is_over(&self) -> bool {
        self.commands.is_abandoned()
    }
}

/// The outside clock's end.
pub struct FollowSender {
    pub(super) follows: Producer<Follow>,
    pub(super) waker: Waker,
}

impl FollowSender {
    /// Tells the playing thread what the outside clock says. Allocates nothing and takes no lock, so
    /// that it may be called from a real-time thread. False if there is no room.
    pub fn send(&mut self, follow: Follow) -> bool {
        let told = self.follows.push(follow).is_ok();
        self.waker.wake();
        told
    }
}

/// The end of whoever looks after the outputs, off the playing thread: what [`keep`](super::keep)
/// takes.
pub struct StageDoor {
    /// New outputs for the playing thread. Each takes the place of its slot's old one, if there is one.
    /// The receiver is first told to drop all notes, then gets the sounds of the channels.
    pub supplies: Producer<Supply>,
    /// Outputs that are played to no more, to be closed: they are lost, took no message, or others took
    /// their places.
    pub lost: Consumer<Supply>,
}
