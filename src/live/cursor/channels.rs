//! What the channels have been told, and what they are to be told at once.

use super::outbox::Outbox;
use crate::chart::{Role, RoleSet};
use crate::live::Score;
use crate::live::score::ScoreNote;
use crate::perform::{CLICK_CHANNEL, Message};

/// The channels of MIDI.
const CHANNELS: usize = 16;

/// See the module.
#[derive(Clone, Debug)]
pub(super) struct Channels {
    pub outbox: Outbox,
    /// The program that each channel was given last; `None` where that is not known.
    programs: [Option<u8>; CHANNELS],
    /// True once they were given their sounds.
    set_up: bool,
}

impl Channels {
    pub const fn new() -> Self {
        Self { outbox: Outbox::new(), programs: [None; CHANNELS], set_up: false }
    }

    /// True once each channel has its sound.
    pub const fn is_set_up(&self) -> bool {
        self.set_up
    }

    /// Sends a message as soon as may be.
    fn say(&mut self, message: Message) {
        self.outbox.push(message);
        self.gave(message);
    }

    /// A message has been sent.
    pub fn gave(&mut self, message: Message) {
        if let Message::Program { channel, program } = message
            && let Some(last) = self.programs.get_mut(usize::from(channel))
        {
            *last = Some(program);
        }
    }

    /// The program that a channel has, as far as it is known.
    pub fn program(&self, channel: u8) -> Option<u8> {
        self.programs.get(usize::from(channel)).copied().flatten()
    }

    /// What was given last may have been taken back.
    pub const fn forget(&mut self) {
        self.programs = [None; CHANNELS];
    }

    /// What a note's channel is to be given before it: it may have been another instrument's, after a jump or in another
    /// pass.
    pub fn wanted_before(&self, note: &ScoreNote) -> Option<Message> {
        let channel = note.channel;
        let program = note.program.filter(|program| self.program(channel) != Some(*program))?;
        Some(Message::Program { channel, program })
    }

    /// Each channel gets its sound, once.
    pub fn set_up(&mut self, score: &Score) {
        if !self.set_up {
            score.set_up.iter().for_each(|message| self.say(*message));
            self.set_up = true;
        }
    }

    /// Changes over to another score's sounds.
    pub fn change_over(&mut self, old: Option<&Score>, new: &Score) {
        if self.set_up {
            for message in &new.set_up {
                if !old.is_some_and(|old| old.set_up.contains(message)) {
                    self.say(*message);
                }
            }
        }
    }

    /// Tells the receiver to drop all notes on the channels of these roles and the clicks'.
    pub fn silence(&mut self, roles: RoleSet) {
        silencing(roles).for_each(|message| self.outbox.push(message));
    }
}

/// The messages that silence the channels of these roles, and the clicks': All Sound Off and All Notes Off (MIDI 1.0
/// Detailed Specification, channel mode messages 120 and 123).
pub(in crate::live) fn silencing(roles: RoleSet) -> impl Iterator<Item = Message> {
    let channels = roles.iter().map(Role::channel).chain([CLICK_CHANNEL]);
    channels.flat_map(|channel| {
        [120, 123].map(|controller| Message::Control { channel, controller, value: 0 })
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::live::testing::{arrangement, performance};
    use crate::theory::MidiNote;

    fn note(channel: u8, program: Option<u8>) -> ScoreNote {
        let pitch = MidiNote::clamped(60);
        let (slurred, role) = (None, None);
        ScoreNote { at: 0, length: 1, channel, pitch, velocity: 80, slurred, role, program }
    }

    #[test]
    fn a_program_is_given_where_another_is_wanted() {
        let mut channels = Channels::new();
        let given = channels.wanted_before(&note(3, Some(25))).unwrap();
        channels.gave(given);
        assert_eq!(channels.program(3), Some(25));
        assert_eq!(channels.wanted_before(&note(3, Some(25))), None);
        assert_eq!(channels.wanted_before(&note(9, None)), None, "clicks want none");
        channels.forget();
        assert_eq!(channels.wanted_before(&note(3, Some(25))), Some(given));
    }

    #[test]
    fn sounds_are_given_once_and_then_what_is_new() {
        let song = arrangement("| G | C |", "");
        let score = Score::new(0, &song, &performance(&song));
        let mut channels = Channels::new();
        channels.change_over(None, &score);
        assert!(channels.outbox.is_empty(), "not before they are set up");
        channels.set_up(&score);
        channels.set_up(&score);
        channels.change_over(Some(&score), &score);
        let said: Vec<Message> = std::iter::from_fn(|| channels.outbox.pop()).collect();
        assert_eq!(said, score.set_up);
        channels.change_over(None, &score);
        assert!(!channels.outbox.is_empty());
    }
}
