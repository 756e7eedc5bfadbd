//! What a pedal sends when it is pressed.

use std::fmt;

use thiserror::Error;

/// From here on a controller counts as down (MIDI 1.0, for its switches: 0 to 63 off, 64 to 127 on).
const DOWN: u8 = 64;

/// From here on controllers are no pedals but channel mode messages (MIDI 1.0).
const CHANNEL_MODE: u8 = 120;

/// What the press of a pedal sends. Channels from 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Trigger {
    /// A note, of any loudness.
    Note {
        /// 0 to 15.
        channel: u8,
        /// 0 to 127.
        note: u8,
    },
    /// A controller that rises to 64 or more.
    Controller {
        /// 0 to 15.
        channel: u8,
        /// 0 to 119.
        number: u8,
    },
    /// A program.
    Program {
        /// 0 to 15.
        channel: u8,
        /// 0 to 127.
        program: u8,
    },
}

/// Why a text names no trigger.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum TriggerError {
    /// Not of the form at all.
    #[error("this is nothing that a pedal sends")]
    NoTrigger,
    /// A number is out of its range.
    #[error("a {what} is a number from {from} to {to}")]
    OutOfRange {
        /// What it counts.
        what: &'static str,
        /// The least.
        from: u8,
        /// The most.
        to: u8,
    },
}

impl Trigger {
    /// As pedals are taught and as [`Display`](fmt::Display) writes it: `note 36 channel 10`,
    /// `controller 64 channel 1` or `program 5 channel 1`. Channels count from 1 to 16 and programs from
    /// 1 to 128, as General MIDI has them; notes and controllers from 0.
    ///
    /// # Errors
    /// The text is of another form, or a number out of its range.
    pub fn parse(text: &str) -> Result<Self, TriggerError> {
        let words: Vec<String> = text.split_whitespace().map(str::to_lowercase).collect();
        let [kind, value, word, channel] = words.as_slice() else {
            return Err(TriggerError::NoTrigger);
        };
        if word != "channel" {
            return Err(TriggerError::NoTrigger);
        }
        let channel = number(channel, "channel", 1, 16)? - 1;
        match kind.as_str() {
            "note" => Ok(Self::Note { channel, note: number(value, "note", 0, 127)? }),
            "controller" => {
                let number = number(value, "controller", 0, CHANNEL_MODE - 1)?;
                Ok(Self::Controller { channel, number })
            }
            "program" => {
                Ok(Self::Program { channel, program: number(value, "program", 1, 128)? - 1 })
            }
            _ => Err(TriggerError::NoTrigger),
        }
    }
}

fn number(text: &str, what: &'static str, from: u8, to: u8) -> Result<u8, TriggerError> {
    let digits = !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    if !digits {
        return Err(TriggerError::NoTrigger);
    }
    let value = text.parse().ok().filter(|value| (from..=to).contains(value));
    value.ok_or(TriggerError::OutOfRange { what, from, to })
}

impl fmt::Display for Trigger {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::Note { channel, note } => write!(f, "note {note} channel {}", channel + 1),
            Self::Controller { channel, number } => {
                write!(f, "controller {number} channel {}", channel + 1)
            }
            Self::Program { channel, program } => {
                write!(f, "program {} channel {}", program + 1, channel + 1)
            }
        }
    }
}

/// Finds the presses in what a MIDI input sends. A controller that is held, or that sends its
/// value again and again, is pressed once until it has fallen below 64. Fixed in size.
#[derive(Clone, Debug, Default)]
pub struct Presses {
    /// A bit for each controller of each channel that is down.
    down: [u128; 16],
}

impl Presses {
    /// With every controller up.
    pub fn new() -> Self {
        Self::default()
    }

    /// What this message presses, if anything.
    pub fn heard(&mut self, bytes: &[u8]) -> Option<Trigger> {
        let channel = bytes.first()? & 0x0F;
        match *bytes {
            // A note-on of velocity 0 is a note-off (MIDI 1.0).
            [0x90..=0x9F, note @ ..=127, 1..=127] => Some(Trigger::Note { channel, note }),
            [0xB0..=0xBF, number, value] if number < CHANNEL_MODE => {
                let bits = self.down.get_mut(usize::from(channel))?;
                let bit = 1 << number;
                let was_down = *bits & bit != 0;
                *bits = if value < DOWN { *bits & !bit } else { *bits | bit };
                (value >= DOWN && !was_down).then_some(Trigger::Controller { channel, number })
            }
            [0xC0..=0xCF, program @ ..=127] => Some(Trigger::Program { channel, program }),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_trigger_reads_as_it_is_written() {
        for trigger in [
            Trigger::Note { channel: 9, note: 36 },
            Trigger::Note { channel: 0, note: 0 },
            Trigger::Controller { channel: 15, number: 64 },
            Trigger::Program { channel: 0, program: 127 },
        ] {
            assert_eq!(Trigger::parse(&trigger.to_string()), Ok(trigger));
        }
        let spaced = Trigger::parse("  Note 36   CHANNEL 10 ");
        assert_eq!(spaced, Ok(Trigger::Note { channel: 9, note: 36 }));
        assert_eq!(Trigger::Program { channel: 0, program: 4 }.to_string(), "program 5 channel 1");
    }

    #[test]
    fn nonsense_is_no_trigger() {
        for text in
            ["", "note", "note 36", "note x channel 1", "note +6 channel 1", "knob 3 channel 1"]
        {
            assert_eq!(Trigger::parse(text), Err(TriggerError::NoTrigger), "{text}");
        }
        for text in [
            "note 128 channel 1",
            "note 99999999999 channel 1",
            "note 1 channel 17",
            "note 1 channel 0",
            "program 0 channel 1",
            "controller 120 channel 1",
        ] {
            let error = Trigger::parse(text);
            assert!(matches!(error, Err(TriggerError::OutOfRange { .. })), "{text}: {error:?}");
        }
    }

    #[test]
    fn a_press_is_heard_once() {
        let mut presses = Presses::new();
        let sustain = Trigger::Controller { channel: 1, number: 64 };
        let heard: Vec<_> = [
            &[0xB1, 64, 63][..],
            &[0xB1, 64, 64],
            &[0xB1, 64, 127],
            &[0xB1, 64, 100],
            &[0xB1, 64, 0],
            &[0xB1, 64, 127],
        ]
        .into_iter()
        .map(|bytes| presses.heard(bytes))
        .collect();
        assert_eq!(heard, [None, Some(sustain), None, None, None, Some(sustain)]);
        let note = Some(Trigger::Note { channel: 9, note: 36 });
        assert_eq!(presses.heard(&[0x99, 36, 1]), note);
        assert_eq!(presses.heard(&[0x99, 36, 0]), None, "a note-off");
        assert_eq!(presses.heard(&[0x89, 36, 64]), None);
        assert_eq!(presses.heard(&[0xC2, 4]), Some(Trigger::Program { channel: 2, program: 4 }));
        for bytes in
            [&[][..], &[0xF8], &[0xB0, 123, 127], &[0xE0, 0, 127], &[0x90, 200, 1], &[0x90]]
        {
            assert_eq!(presses.heard(bytes), None, "{bytes:?}");
        }
    }
}
