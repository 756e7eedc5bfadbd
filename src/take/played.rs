use crate::perform::CLICK_CHANNEL;
use crate::theory::MidiNote;

/// From here on controllers are no controllers but channel mode messages (MIDI 1.0).
const CHANNEL_MODE: u8 = 120;

/// A message of MIDI 1.0 that a player's instrument has sent on a channel: notes, bends, pressure,
/// controllers and programs. Other kinds of messages are no playing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Played {
    bytes: [u8; 3],
    length: u8,
}

impl Played {
    /// From a whole message with its status byte. A note-on of velocity 0 is the note-off that it means
    /// (MIDI 1.0). `None` for what is no message of a channel, and for channel mode messages, which are
    /// about the receiver and not about playing.
    pub fn from_bytes(bytes: &[u8]) -> Option<Self> {
        match *bytes {
            [0xB0..=0xBF, controller, _] if controller >= CHANNEL_MODE => None,
            [status @ 0x90..=0x9F, key @ 0..=127, 0] => {
                Some(Self { bytes: [status - 0x10, key, 64], length: 3 })
            }
            [status @ (0x80..=0xBF | 0xE0..=0xEF), first @ 0..=127, second @ 0..=127] => {
                Some(Self { bytes: [status, first, second], length: 3 })
            }
            [status @ 0xC0..=0xDF, first @ 0..=127] => {
                Some(Self { bytes: [status, first, 0], length: 2 })
            }
            _ => None,
        }
    }

    /// A note-off.
    pub const fn note_off(channel: u8, key: u8) -> Self {
        // 64 is the release velocity of an instrument that does not sense it (MIDI 1.0).
        Self { bytes: [0x80 | channel & 15, key & 127, 64], length: 3 }
    }

    /// A controller set to a value.
    pub const fn control(channel: u8, controller: u8, value: u8) -> Self {
        Self { bytes: [0xB0 | channel & 15, controller & 127, value & 127], length: 3 }
    }

    /// The bytes on the wire, without running status.
    pub fn bytes(&self) -> &[u8] {
        self.bytes.get(..usize::from(self.length)).unwrap_or(&self.bytes)
    }

    /// The channel, from 0.
    pub const fn channel(&self) -> u8 {
        self.bytes[0] & 15
    }

    /// The upper half of the status byte, which says what kind of message it is, and both data bytes.
    pub(super) const fn parts(&self) -> (u8, u8, u8) {
        (self.bytes[0] >> 4, self.bytes[1], self.bytes[2])
    }

    /// The pitch and the velocity, 1 to 127, if a string was struck. What comes on the percussion channel
    /// keeps time and is no string.
    pub fn struck(&self) -> Option<(MidiNote, u8)> {
        match self.parts() {
            (9, key, velocity) if self.channel() != CLICK_CHANNEL => {
                Some((MidiNote::new(key)?, velocity))
            }
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_played_is_kept_and_the_rest_is_not() {
        let kept: [&[u8]; 6] = [
            &[0x93, 62, 90],
            &[0x83, 62, 0],
            &[0xB0, 64, 127],
            &[0xE2, 0, 80],
            &[0xC5, 105],
            &[0xD1, 33],
        ];
        for bytes in kept {
            assert_eq!(Played::from_bytes(bytes).unwrap().bytes(), bytes);
        }
        let not: [&[u8]; 7] = [
            &[0xF8],
            &[0xF0, 1, 0xF7],
            &[0xB0, 123, 0],
            &[],
            &[0x90, 60],
            &[60, 60],
            &[0x90, 200, 3],
        ];
        for bytes in not {
            assert_eq!(Played::from_bytes(bytes), None, "{bytes:?}");
        }
        let off = Played::from_bytes(&[0x93, 62, 0]).unwrap();
        assert_eq!(off.bytes(), [0x83, 62, 64], "velocity 0 ends a note");
    }

    #[test]
    fn only_strings_are_struck() {
        let struck =
            |bytes: &[u8]| Played::from_bytes(bytes).unwrap().struck().map(|it| it.0.get());
        assert_eq!(struck(&[0x90, 62, 90]), Some(62));
        assert_eq!(struck(&[0x80, 62, 90]), None);
        assert_eq!(struck(&[0x99, 38, 90]), None, "percussion");
    }
}
