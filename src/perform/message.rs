use super::{Instrument, Performance};
use crate::theory::MidiNote;
use crate::time::Ticks;

/// The channel that General MIDI keeps for percussion, from 0: the count-in's.
pub const CLICK_CHANNEL: u8 = 9;

/// A channel message of MIDI 1.0, of the kinds that the band sends.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs)]
pub enum Message {
    // The order is the order in which messages of one instant are sent: a string is damped before
    // it is struck again, and a channel has its sound before its first note.
    NoteOff { channel: u8, pitch: MidiNote },
    Control { channel: u8, controller: u8, value: u8 },
    Program { channel: u8, program: u8 },
    NoteOn { channel: u8, pitch: MidiNote, velocity: u8 },
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
        }
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
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct TimedMessage {
    /// When.
    pub at: Ticks,
    /// What.
    pub message: Message,
}

/// Every message of a performance in the order of sending: each channel's set-up at 0, then all
/// notes of all parts and of the count-in.
pub fn messages(performance: &Performance) -> Vec<TimedMessage> {
    let parts = performance.parts.iter().map(|part| (part.role.channel(), &part.notes));
    let tracks = parts.chain([(CLICK_CHANNEL, &performance.clicks)]);
    let mut out: Vec<TimedMessage> = performance
        .parts
        .iter()
        .flat_map(|part| Message::set_up(part.role.channel(), part.instrument))
        .map(|message| TimedMessage { at: Ticks::ZERO, message })
        .collect();
    for (channel, notes) in tracks {
        for note in notes {
            let (pitch, velocity) = (note.pitch, note.velocity);
            let on = Message::NoteOn { channel, pitch, velocity };
            out.push(TimedMessage { at: note.start, message: on });
            out.push(TimedMessage { at: note.end, message: Message::NoteOff { channel, pitch } });
        }
    }
    out.sort_unstable();
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
    }
}
