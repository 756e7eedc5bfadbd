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
        Self { notes: [none; MOST], count: 0, begun: 0 }
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
        let Some(slot) = self.notes.get_mut(self.count) else { return false };
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
}
