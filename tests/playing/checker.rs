//! Holds a stream of messages, as it is heard, to the stream that was to come: nothing lost, doubled,
//! strange, out of order or left sounding, and when each came.
#![allow(dead_code, missing_docs)]

/// A message that comes by more than this off its time is not that message.
const WINDOW: i64 = 250_000_000;

/// A message that is to come, and when, in nanoseconds from any zero.
#[derive(Clone, Copy, Debug)]
pub struct Expected {
    pub at: i64,
    pub bytes: [u8; 3],
}

/// What was found so far.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Found {
    pub heard: usize,
    pub lost: usize,
    /// The same message came before, at its time.
    pub doubled: usize,
    /// Nobody was to send it, or not then.
    pub strange: usize,
    pub out_of_order: usize,
    /// Notes that sound.
    pub sounding: usize,
}

/// All of its memory is in use from the beginning.
pub struct Checker {
    expected: Vec<Expected>,
    /// How far each was off its time, in order of time.
    off: Vec<Option<i64>>,
    /// Of all before, the window has gone by.
    first: usize,
    /// How often each note of each channel sounds.
    on: Vec<u16>,
    latest: (i64, bool),
    found: Found,
}

const fn is_on(bytes: [u8; 3]) -> bool {
    bytes[0] >> 4 == 9
}

const fn note(bytes: [u8; 3]) -> usize {
    (bytes[0] & 15) as usize * 128 + (bytes[1] & 127) as usize
}

impl Checker {
    /// Of messages in the order of their times; at one time, the ends of notes first.
    pub fn new(expected: Vec<Expected>) -> Self {
        assert!(expected.is_sorted_by_key(|it| it.at));
        // Written to, so that the system counts it.
        let mut off = vec![Some(1); expected.len()];
        off.fill(None);
        let mut on = vec![1; 16 * 128];
        on.fill(0);
        let latest = (i64::MIN, false);
        Self { expected, off, first: 0, on, latest, found: Found::default() }
    }

    /// A message came at that time.
    pub fn hear(&mut self, at: i64, bytes: [u8; 3]) {
        self.found.heard += 1;
        match bytes[0] >> 4 {
            9 => self.on[note(bytes)] += 1,
            8 => self.on[note(bytes)] = self.on[note(bytes)].saturating_sub(1),
            _ => {}
        }
        self.pass(at);
        let near = self.expected[self.first..].iter().take_while(|it| it.at <= at + WINDOW);
        let alike = near.enumerate().filter(|(_, it)| it.bytes == bytes);
        let alike = alike.map(|(index, it)| (self.first + index, (at - it.at).abs()));
        let taken = |index: usize| self.off[index].is_some();
        let Some((index, _)) = alike.clone().filter(|(i, _)| !taken(*i)).min_by_key(|it| it.1)
        else {
            let again = alike.map(|(index, _)| index).any(taken);
            *if again { &mut self.found.doubled } else { &mut self.found.strange } += 1;
            return;
        };
        let due = self.expected[index].at;
        self.off[index] = Some(at - due);
        let order = (due, is_on(bytes));
        if order < self.latest {
            self.found.out_of_order += 1;
        }
        self.latest = self.latest.max(order);
    }

    /// What was to come by then and can't come any more is lost.
    fn pass(&mut self, at: i64) {
        while self.expected.get(self.first).is_some_and(|it| it.at < at - WINDOW) {
            self.found.lost += usize::from(self.off[self.first].is_none());
            self.first += 1;
        }
    }

    /// What was found until now.
    pub fn so_far(&self) -> Found {
        Found { sounding: self.on.iter().map(|&on| usize::from(on)).sum(), ..self.found }
    }

    /// What was found in all, and how far off their times messages were, in the order of the times.
    pub fn end(mut self) -> (Found, Vec<i64>) {
        self.pass(i64::MAX);
        (self.so_far(), self.off.iter().flatten().copied().collect())
    }
}
