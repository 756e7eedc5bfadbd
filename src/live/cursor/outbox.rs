use crate::perform::Message;

/// Room for what is to be said at once: for each of six roles three messages of set-up and two that
/// silence its channel, two for the clicks', three of MIDI clock; twice.
const ROOM: usize = 2 * (6 * 5 + 2 + 3);

/// Messages to be sent at once, in order.
#[derive(Clone, Debug)]
pub(super) struct Outbox {
    messages: [Option<Message>; ROOM],
    sent: usize,
    count: usize,
}

impl Outbox {
    pub(super) const fn new() -> Self {
        Self { messages: [None; ROOM], sent: 0, count: 0 }
    }

    pub(super) const fn is_empty(&self) -> bool {
        self.sent == self.count
    }

    /// What finds no room is left out; no more is ever asked for at once.
    pub(super) fn push(&mut self, message: Message) {
        if let Some(slot) = self.messages.get_mut(self.count) {
            *slot = Some(message);
            self.count += 1;
        }
    }

    pub(super) fn pop(&mut self) -> Option<Message> {
        let waiting = self.messages.get(self.sent..self.count)?;
        let message = waiting.first().copied().flatten()?;
        self.sent += 1;
        if self.sent == self.count {
            (self.sent, self.count) = (0, 0);
        }
        Some(message)
    }
}
