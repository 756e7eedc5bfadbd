//! Hearing a player by MIDI: what comes in goes through a queue without locks to whoever keeps it.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use rtrb::{Consumer, Producer, RingBuffer};

use super::{PedalMap, Trigger};
use crate::take::Played;
use crate::time::Nanos;

/// Room for what comes between two looks: a cable carries a thousand notes a second (31,250 bits a
/// second, MIDI 1.0), and a machine may be held up for some.
const ROOM: usize = 1 << 13;

/// The end of the input's thread.
#[derive(Debug)]
pub struct Ear {
    send: Producer<(Nanos, Played)>,
    missed: Arc<AtomicU64>,
    pedals: Option<PedalMap>,
}

/// The end of whoever keeps what was heard.
#[derive(Debug)]
pub struct Hearing {
    heard: Consumer<(Nanos, Played)>,
    missed: Arc<AtomicU64>,
}

/// Both ends.
pub fn ear() -> (Ear, Hearing) {
    let (send, heard) = RingBuffer::new(ROOM);
    let missed = Arc::<AtomicU64>::default();
    (Ear { send, missed: Arc::clone(&missed), pedals: None }, Hearing { heard, missed })
}

impl Ear {
    /// What these pedals were taught is no playing: for a pedal at the same input.
    pub fn leave_out(&mut self, pedals: PedalMap) {
        self.pedals = Some(pedals);
    }

    /// Takes a message that came at `at`. Allocates nothing and takes no lock: it may be called from a
    /// real-time thread.
    pub fn hear(&mut self, at: Nanos, bytes: &[u8]) {
        let Some(played) = Played::from_bytes(bytes) else { return };
        let is_pedal = |pedals: &PedalMap| {
            trigger(played.bytes()).is_some_and(|trigger| pedals.action(trigger).is_some())
        };
        if self.pedals.as_ref().is_some_and(is_pedal) {
            return;
        }
        if self.send.push((at, played)).is_err() {
            self.missed.fetch_add(1, Ordering::Relaxed);
        }
    }
}

impl Hearing {
    /// The next thing that was heard, and when; `None` where there is nothing new.
    pub fn take(&mut self) -> Option<(Nanos, Played)> {
        self.heard.pop().ok()
    }

    /// Messages for which there was no room.
    pub fn missed(&self) -> u64 {
        self.missed.load(Ordering::Relaxed)
    }
}

/// The trigger that a message belongs to, pressed or let go.
fn trigger(bytes: &[u8]) -> Option<Trigger> {
    let (&status, &first) = (bytes.first()?, bytes.get(1)?);
    let channel = status & 15;
    match status >> 4 {
        8 | 9 => Some(Trigger::Note { channel, note: first }),
        11 => Some(Trigger::Controller { channel, number: first }),
        12 => Some(Trigger::Program { channel, program: first }),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::live::Action;

    #[test]
    fn what_is_played_comes_through_and_a_pedal_does_not() {
        let (mut ear, mut hearing) = ear();
        let mut pedals = PedalMap::new();
        pedals.teach(Trigger::Note { channel: 9, note: 36 }, Action::PauseOrGo);
        pedals.teach(Trigger::Controller { channel: 0, number: 64 }, Action::CountIn);
        ear.leave_out(pedals);
        for bytes in [
            &[0x99, 36, 90][..],
            &[0x90, 36, 90],
            &[0x89, 36, 0],
            &[0xB0, 64, 127],
            &[0xB0, 1, 127],
            &[0xF8],
        ] {
            ear.hear(Nanos(5), bytes);
        }
        let heard: Vec<Vec<u8>> =
            std::iter::from_fn(|| hearing.take()).map(|(_, it)| it.bytes().to_vec()).collect();
        assert_eq!(heard, [vec![0x90, 36, 90], vec![0xB0, 1, 127]]);
    }

    #[test]
    fn what_has_no_room_is_counted() {
        let (mut ear, mut hearing) = ear();
        for _ in 0..ROOM + 3 {
            ear.hear(Nanos(0), &[0x90, 36, 90]);
        }
        assert_eq!(hearing.missed(), 3);
        assert_eq!(std::iter::from_fn(|| hearing.take()).count(), ROOM);
    }
}
