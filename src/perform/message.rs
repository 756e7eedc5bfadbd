use super::{Instrument, Note, Part, Performance};
use crate::theory::MidiNote;
use crate::time::Ticks;

/// The channel that General MIDI keeps for percussion, from 0: the count-in's.
pub const CLICK_CHANNEL: u8 = 9;

/// The controller whose value is a key from which the channel's next note-on takes over the voice: no new attack,
/// and that key's note-off, which comes after, has no effect any more (MIDI 1.0 Detailed Specification,
/// "Portamento Control"; from memory). A receiver that does not know it plays one note after the other.
pub const PORTAMENTO_CONTROL: u8 = 84;

/// A message of MIDI 1.0, of the kinds that the band sends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Message {
    NoteOff { channel: u8, pitch: MidiNote },
    Control { channel: u8, controller: u8, value: u8 },
    Program { channel: u8, program: u8 },
    NoteOn { channel: u8, pitch: MidiNote, velocity: u8 },
    Sync(Sync),
}

/// The messages of MIDI 1.0 that keep two machines together ("MIDI clock"). No file holds them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sync {
    /// Timing clock: 24 to the quarter note.
    Clock,
    /// The next timing clock is the song's first.
    Start,
    /// The next timing clock goes on from the song position.
    Continue,
    /// The timing clocks mean nothing until the next start.
    Stop,
    /// Where the song goes on: in sixteenth notes from its beginning, 0 to 16,383.
    Position {
        /// The count.
        sixteenths: u16,
    },
}

impl Message {
    /// The bytes on the wire, without running status, and how many of the three count.
    pub const fn bytes(self) -> ([u8; 3], usize) {
        match self {
            Self::NoteOff { channel, pitch } => ([0x80 | channel, pitch.get(), 64], 3),
            Self::Control { channel, controller, value } => {
                ([0xB0 | channel, controller, value], 3)
            }
            Self::Program { channel, program } => ([0xC0 | channel, program, 0], 2),
            Self::NoteOn { channel, pitch, velocity } => {
                ([0x90 | channel, pitch.get(), velocity], 3)
            }
            Self::Sync(Sync::Clock) => ([0xF8, 0, 0], 1),
            Self::Sync(Sync::Start) => ([0xFA, 0, 0], 1),
            Self::Sync(Sync::Continue) => ([0xFB, 0, 0], 1),
            Self::Sync(Sync::Stop) => ([0xFC, 0, 0], 1),
            Self::Sync(Sync::Position { sixteenths }) => {
                // Two data bytes of seven bits, the lower first.
                ([0xF2, (sixteenths & 0x7F) as u8, (sixteenths >> 7 & 0x7F) as u8], 3)
            }
        }
    }

    /// What comes before a slurred note: the string that sounds `from` goes on (controller 84, see
    /// [`PORTAMENTO_CONTROL`]).
    pub const fn goes_on(channel: u8, from: MidiNote) -> Self {
        Self::Control { channel, controller: PORTAMENTO_CONTROL, value: from.get() }
    }

    /// True for what begins a note: the note-on, and what comes with it and means that note alone.
    pub const fn begins(self) -> bool {
        matches!(self, Self::NoteOn { .. } | Self::Control { controller: PORTAMENTO_CONTROL, .. })
    }

    /// What gives a channel its sound: program, volume (controller 7) and pan (controller 10).
    pub const fn set_up(channel: u8, instrument: Instrument) -> [Self; 3] {
        [
            Self::Program { channel, program: instrument.program },
            Self::Control { channel, controller: 7, value: instrument.volume },
            Self::Control { channel, controller: 10, value: instrument.pan },
        ]
    }
}

/// A message and when it is due.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TimedMessage {
    /// When.
    pub at: Ticks,
    /// What.
    pub message: Message,
}

/// The note-ons and note-offs of one channel in the order of sending. `notes` stand by start; at one
/// instant a note is ended before another begins. The one that a slurred note goes on from is named before it
/// ([`Message::goes_on`]) and ended after ([`LEGATO`]).
pub fn note_messages(channel: u8, notes: &[Note]) -> impl Iterator<Item = TimedMessage> {
    let mut waiting = notes;
    // The sounding notes, the soonest to end last. A player has ten fingers, so it stays short.
    let mut sounding: Vec<(Ticks, MidiNote)> = Vec::with_capacity(16);
    let mut named = false;
    std::iter::from_fn(move || {
        if let Some(&(end, pitch)) = sounding.last()
            && waiting.first().is_none_or(|note| end <= note.start)
        {
            sounding.pop();
            return Some(TimedMessage { at: end, message: Message::NoteOff { channel, pitch } });
        }
        let (&Note { start, end, pitch, velocity, slurred, .. }, rest) = waiting.split_first()?;
        let sounds = |pitch| sounding.iter().any(|(_, other)| *other == pitch);
        let message = |message| Some(TimedMessage { at: start, message });
        let from = slurred.filter(|from| !named && sounds(*from));
        if let Some(from) = from {
            named = true;
            return message(Message::goes_on(channel, from));
        }
        // Left by a string that went on just now, and struck on another.
        let left = (start + LEGATO, pitch);
        if let Some(place) = sounding.iter().position(|sounding| *sounding == left) {
            sounding.remove(place);
            return message(Message::NoteOff { channel, pitch });
        }
        (waiting, named) = (rest, false);
        let end = if is_gone_on_from(pitch, end, rest) { end + LEGATO } else { end };
        let place = sounding.partition_point(|&(other, _)| other > end);
        sounding.insert(place, (end, pitch));
        message(Message::NoteOn { channel, pitch, velocity })
    })
}

/// How long a note sounds on in messages after a slurred one has begun: [`PORTAMENTO_CONTROL`] takes over a voice
/// that sounds, and not one that ends at that instant.
pub const LEGATO: Ticks = Ticks::new(1);

/// True if of the notes after one of a pitch, one goes on from its end.
pub(crate) fn is_gone_on_from(pitch: MidiNote, end: Ticks, after: &[Note]) -> bool {
    let until = after.iter().take_while(|note| note.start <= end);
    until.filter(|note| note.start == end).any(|note| note.slurred == Some(pitch))
}

/// The messages of a part after its set-up, in the order of sending: its notes, and before the first
/// note of another sound its program.
pub fn part_messages(part: &Part) -> impl Iterator<Item = TimedMessage> {
    let channel = part.role.channel();
    let mut notes = note_messages(channel, &part.notes).peekable();
    let mut programs = part.programs.iter().peekable();
    std::iter::from_fn(move || {
        if let Some(TimedMessage { at, message: Message::NoteOn { .. } | Message::Control { .. } }) =
            notes.peek()
            && let Some(&(_, program)) = programs.next_if(|(from, _)| from <= at)
        {
            return Some(TimedMessage { at: *at, message: Message::Program { channel, program } });
        }
        notes.next()
    })
}

/// Every message of a performance in the order of sending: each channel's set-up at 0, then all
/// parts and the count-in.
pub fn messages(performance: &Performance) -> Vec<TimedMessage> {
    let mut out: Vec<TimedMessage> = performance
        .parts
        .iter()
        .flat_map(|part| Message::set_up(part.role.channel(), part.instrument))
        .map(|message| TimedMessage { at: Ticks::ZERO, message })
        .collect();
    for part in &performance.parts {
        out.extend(part_messages(part));
    }
    out.extend(note_messages(CLICK_CHANNEL, &performance.clicks));
    // A stable sort: each channel keeps its own order, and sorted runs merge in linear time.
    out.sort_by_key(|timed| timed.at);
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bytes_are_midi_1() {
        // The first notes of the Standard MIDI-File Format Spec. 1.1 worked example, channel 3.
        let pitch = MidiNote::new(48).unwrap();
        assert_eq!(
            Message::NoteOn { channel: 2, pitch, velocity: 96 }.bytes(),
            ([0x92, 0x30, 0x60], 3)
        );
        assert_eq!(Message::Program { channel: 0, program: 5 }.bytes(), ([0xC0, 0x05, 0], 2));
        // Song position pointer, lower seven bits first (MIDI 1.0 Detailed Specification 4.2, from
        // memory): 8 is two quarters in.
        let position = |sixteenths| Message::Sync(Sync::Position { sixteenths }).bytes();
        assert_eq!(position(8), ([0xF2, 8, 0], 3));
        assert_eq!(position(16_383), ([0xF2, 0x7F, 0x7F], 3));
        assert_eq!(Message::Sync(Sync::Clock).bytes().0[0], 0xF8);
    }

    fn note(start: i64, end: i64) -> Note {
        Note {
            start: Ticks::new(start),
            end: Ticks::new(end),
            pitch: MidiNote::new(60).unwrap(),
            velocity: 80,
            slurred: None,
            bar: 0,
        }
    }

    #[test]
    fn a_slurred_note_names_what_it_goes_on_from() {
        let pitch = |pitch| MidiNote::new(pitch).unwrap();
        let notes = [
            note(0, 10),
            Note { pitch: pitch(67), ..note(0, 10) },
            Note { pitch: pitch(62), slurred: Some(pitch(60)), ..note(10, 20) },
            // Struck on another string as the pitch is left.
            note(10, 20),
            Note { pitch: pitch(64), slurred: Some(pitch(62)), ..note(20, 30) },
            // What it went on from was stopped.
            Note { pitch: pitch(65), slurred: Some(pitch(60)), ..note(30, 40) },
        ];
        let sent: Vec<(i64, [u8; 3])> = note_messages(0, &notes)
            .map(|timed| (timed.at.get(), timed.message.bytes().0))
            .collect();
        let (on, off) = (|at, key| (at, [0x90, key, 80]), |at, key| (at, [0x80, key, 64]));
        let from = |at, key| (at, [0xB0, 84, key]);
        assert_eq!(
            sent,
            [
                [on(0, 60), on(0, 67), off(10, 67), from(10, 60), on(10, 62)].as_slice(),
                &[off(10, 60), on(10, 60), off(20, 60), from(20, 62), on(20, 64), off(21, 62)],
                &[off(30, 64), on(30, 65), off(40, 65)],
            ]
            .concat()
        );
    }

    #[test]
    fn a_note_ends_before_the_next_begins() {
        let sent: Vec<(i64, bool)> = note_messages(0, &[note(0, 10), note(10, 30), note(12, 20)])
            .map(|timed| (timed.at.get(), matches!(timed.message, Message::NoteOn { .. })))
            .collect();
        assert_eq!(
            sent,
            [(0, true), (10, false), (10, true), (12, true), (20, false), (30, false)]
        );
    }
}
