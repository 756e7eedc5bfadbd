use midly::live::LiveEvent;
use midly::num::u24;
use midly::{MetaMessage, TrackEventKind};

/// What stands at a place in a track, of the kinds that are written or read here.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Event<'a> {
    /// The title of a file in its first track, else what the track is called.
    TrackName(&'a [u8]),
    /// Microseconds to the quarter note, 24 bits.
    Tempo(u32),
    /// A meter.
    TimeSignature {
        /// Beats in a bar, as the upper number has them.
        numerator: u8,
        /// Which power of two the lower number is.
        power: u8,
        /// MIDI clocks from click to click: 24 to the quarter note.
        clocks: u8,
    },
    /// A key.
    KeySignature {
        /// Sharps, or below 0 flats.
        accidentals: i8,
        /// True for a minor key.
        minor: bool,
    },
    /// The name of a part of the song.
    Marker(&'a [u8]),
    /// What happens here.
    CuePoint(&'a [u8]),
    /// Any words.
    Text(&'a [u8]),
    /// A message of a channel: its bytes with the status, and how many of the three count.
    Channel([u8; 3], usize),
}

/// The notated thirty-second notes to what MIDI calls a quarter: always eight, but for files that say that
/// their quarter is none.
const THIRTY_SECONDS: u8 = 8;

impl<'a> Event<'a> {
    /// A message of a channel, with its status byte.
    pub fn channel(message: &[u8]) -> Self {
        let mut bytes = [0; 3];
        bytes.iter_mut().zip(message).for_each(|(to, from)| *to = *from);
        Self::Channel(bytes, message.len())
    }

    /// As the library has it; `None` for bytes that are no message of a channel.
    pub(super) fn to_kind(self) -> Option<TrackEventKind<'a>> {
        Some(TrackEventKind::Meta(match self {
            Self::TrackName(name) => MetaMessage::TrackName(name),
            Self::Tempo(micros) => MetaMessage::Tempo(u24::new(micros)),
            Self::TimeSignature { numerator, power, clocks } => {
                MetaMessage::TimeSignature(numerator, power, clocks, THIRTY_SECONDS)
            }
            Self::KeySignature { accidentals, minor } => {
                MetaMessage::KeySignature(accidentals, minor)
            }
            Self::Marker(name) => MetaMessage::Marker(name),
            Self::CuePoint(name) => MetaMessage::CuePoint(name),
            Self::Text(words) => MetaMessage::Text(words),
            Self::Channel(bytes, length) => {
                return match LiveEvent::parse(bytes.get(..length)?) {
                    Ok(LiveEvent::Midi { channel, message }) => {
                        Some(TrackEventKind::Midi { channel, message })
                    }
                    _ => None,
                };
            }
        }))
    }

    /// From what the library read; `None` for what is not looked at here.
    pub(super) fn from_kind(kind: TrackEventKind<'a>) -> Option<Self> {
        Some(match kind {
            TrackEventKind::Meta(meta) => match meta {
                MetaMessage::TrackName(name) => Self::TrackName(name),
                MetaMessage::Tempo(micros) => Self::Tempo(micros.as_int()),
                MetaMessage::TimeSignature(numerator, power, clocks, _) => {
                    Self::TimeSignature { numerator, power, clocks }
                }
                MetaMessage::KeySignature(accidentals, minor) => {
                    Self::KeySignature { accidentals, minor }
                }
                MetaMessage::Marker(name) => Self::Marker(name),
                MetaMessage::CuePoint(name) => Self::CuePoint(name),
                MetaMessage::Text(words) => Self::Text(words),
                _ => return None,
            },
            TrackEventKind::Midi { channel, message } => {
                let mut bytes = [0; 3];
                let mut rest = bytes.as_mut_slice();
                LiveEvent::Midi { channel, message }.write_std(&mut rest).ok()?;
                let length = 3 - rest.len();
                Self::Channel(bytes, length)
            }
            _ => return None,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_event_comes_back_as_it_went() {
        let events = [
            Event::TrackName(b"Lantern"),
            Event::Tempo(0x00FF_FFFF),
            Event::TimeSignature { numerator: 6, power: 3, clocks: 36 },
            Event::KeySignature { accidentals: -3, minor: true },
            Event::Marker(b"verse"),
            Event::CuePoint(b"ending"),
            Event::Text(b"G/B"),
            Event::Channel([0x80, 60, 64], 3),
            Event::Channel([0x9F, 127, 1], 3),
            Event::Channel([0xA1, 5, 6], 3),
            Event::Channel([0xB2, 7, 100], 3),
            Event::Channel([0xC3, 105, 0], 2),
            Event::Channel([0xD4, 99, 0], 2),
            Event::Channel([0xE5, 0, 80], 3),
        ];
        for event in events {
            assert_eq!(event.to_kind().and_then(Event::from_kind), Some(event));
        }
    }

    #[test]
    fn what_no_channel_says_is_no_event() {
        for (bytes, length) in [([0xF8, 0, 0], 1), ([0xF2, 1, 2], 3), ([60, 64, 0], 2), ([0; 3], 9)]
        {
            assert_eq!(Event::Channel(bytes, length).to_kind(), None);
        }
        assert_eq!(Event::channel(&[0x90, 60, 64, 1]).to_kind(), None, "too long");
        assert_eq!(Event::channel(&[0xC0, 5]), Event::Channel([0xC0, 5, 0], 2));
    }
}
