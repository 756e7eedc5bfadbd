use crate::chart::Role;
use crate::perform::Message;
use crate::theory::MidiNote;

/// The most notes that sound at once. The band has fewer than thirty strings and the clicks; the rest is
/// for performances that no band plays.
const MOST: usize = 256;

/// An end that has come already.
pub(super) const NOW: i64 = i64::MIN;

/// A note that sounds.
#[derive(Clone, Copy, Debug)]
pub(super) struct Note {
    /// When it ends, in ticks of the cursor's timeline.
    pub end: i64,
    /// Which visit of a bar it belongs to.
    pub visit: u32,
    pub channel: u8,
    pub pitch: MidiNote,
    pub role: Option<Role>,
    /// Counts notes as they begin.
    pub serial: u32,
}

impl Note {
    pub(super) const fn off(&self) -> Message {
        Message::NoteOff { channel: self.channel, pitch: self.pitch }
    }
}

/// The notes that sound, in a fixed place: nothing is allocated while playing. No two are of one
/// pitch and channel.
#[derive(Clone, Debug)]
pub(super) struct Ringing {
    notes: [Note; MOST],
    count: usize,
    begun: u32,
    /// Notes for which there was no room.
    dropped: u64,
}

impl Ringing {
    pub(super) const fn new() -> Self {
        let none = Note {
            end: 0,
            visit: 0,
            channel: 0,
            pitch: MidiNote::clamped(0),
            role: None,
            serial: 0,
        };
        Self { notes: [none; MOST], count: 0, begun: 0, dropped: 0 }
    }

    fn all(&self) -> &[Note] {
        self.notes.get(..self.count).unwrap_or_default()
    }

    fn all_mut(&mut self) -> &mut [Note] {
        self.notes.get_mut(..self.count).unwrap_or_default()
    }

    /// Its place, if the note sounds.
    pub(super) fn find(&self, channel: u8, pitch: MidiNote) -> Option<usize> {
        self.all().iter().position(|note| note.channel == channel && note.pitch == pitch)
    }

    /// The place and the end of the one that ends first; at one instant in the order of channels, then
    /// as they began.
    pub(super) fn soonest(&self) -> Option<(usize, i64)> {
        let notes = self.all().iter().enumerate();
        notes
            .min_by_key(|(_, note)| (note.end, note.channel, note.serial))
            .map(|(at, note)| (at, note.end))
    }

    /// False if there is no room.
    pub(super) fn add(&mut self, note: Note) -> bool {
        let Some(slot) = self.notes.get_mut(self.count) else {
            self.dropped += 1;
            return false;
        };
        self.begun = self.begun.wrapping_add(1);
        *slot = Note { serial: self.begun, ..note };
        self.count += 1;
        true
    }

    /// Takes one out.
    pub(super) fn take(&mut self, at: usize) -> Option<Note> {
        let last = self.count.checked_sub(1)?;
        if at > last {
            return None;
        }
        self.notes.swap(at, last);
        self.count = last;
        self.notes.get(last).copied()
    }

    /// Those that `which` picks end at `end`, unless they end sooner.
    pub(super) fn end(&mut self, end: i64, which: impl Fn(&Note) -> bool) {
        for note in self.all_mut().iter_mut().filter(|note| which(note)) {
            note.end = note.end.min(end);
        }
    }

    /// Those that began for the bar after `visit` belong to `visit` itself: another bar comes.
    pub(super) fn strand(&mut self, visit: u32) {
        for note in self.all_mut().iter_mut().filter(|note| note.visit > visit) {
            note.visit = visit;
        }
    }

    pub(super) fn clear(&mut self) {
        self.count = 0;
    }

    /// How many notes there was no room for.
    pub(super) const fn dropped(&self) -> u64 {
        self.dropped
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn note(pitch: u8, end: i64, visit: u32) -> Note {
        let pitch = MidiNote::clamped(i32::from(pitch));
        Note { end, visit, channel: 1, pitch, role: Some(Role::Bass), serial: 0 }
    }

    #[test]
    fn the_soonest_end_comes_first_and_of_equals_the_first_begun() {
        let mut ringing = Ringing::new();
        for (pitch, end) in [(40, 30), (41, 20), (42, 20)] {
            assert!(ringing.add(note(pitch, end, 0)));
        }
        let mut ends = Vec::new();
        while let Some((at, _)) = ringing.soonest() {
            ends.push(ringing.take(at).unwrap().pitch.get());
        }
        assert_eq!(ends, [41, 42, 40]);
        assert_eq!(ringing.take(0).map(|note| note.pitch), None);
    }

    #[test]
    fn some_are_ended_sooner_but_none_later() {
        let mut ringing = Ringing::new();
        ringing.add(note(40, 30, 1));
        ringing.add(note(41, 5, 1));
        ringing.add(note(42, 30, 2));
        ringing.end(10, |note| note.visit == 1);
        let end = |pitch| {
            let at = ringing.find(1, MidiNote::clamped(pitch)).unwrap();
            ringing.notes[at].end
        };
        assert_eq!([end(40), end(41), end(42)], [10, 5, 30]);
        ringing.strand(1);
        assert!(ringing.all().iter().all(|note| note.visit == 1));
    }

    #[test]
    fn what_finds_no_room_is_counted() {
        let mut ringing = Ringing::new();
        let added = (0..MOST + 3).filter(|&at| ringing.add(note(40, at as i64, 0))).count();
        assert_eq!((added, ringing.dropped()), (MOST, 3));
        ringing.clear();
        assert_eq!(ringing.soonest(), None);
    }
}
