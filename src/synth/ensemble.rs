use super::QUANTUM;
use super::click::Clicker;
use super::player::Player;
use super::room::{Room, Tail};
use super::sequencer::Instruments;
use crate::perform::{CLICK_CHANNEL, Message};

/// How long All Notes Off takes to bring a role's strings to silence, and then all that rings.
const HUSH_SECONDS: f64 = 0.02;
const HAND_SECONDS: f64 = 0.03;

/// Channel mode messages of MIDI 1.0 (table of controllers).
const ALL_SOUND_OFF: u8 = 120;
const ALL_NOTES_OFF: u8 = 123;

/// The players, who clicks, and the room around them, playing what messages tell them.
///
/// - Note-ons and note-offs on the roles' channels; wood on the channel of percussion.
/// - Controllers 7 (volume) and 10 (pan), gliding.
/// - 84, Portamento Control: the next note of the channel goes on from that key's string or bow, if it sounds.
/// - 123, All Notes Off: the role's strings fall silent in 20 ms; once no role is left that plays, all
///   that rings does within 30 ms.
/// - 120, All Sound Off: the same within [`QUANTUM`] frames.
/// - Program changes on the lead's channel: the lead plays on with the instrument that is nearest to
///   the program, and what sounds rings on in its own voice. Each of the others has one sound.
#[derive(Clone, Debug)]
pub struct Ensemble {
    players: Vec<Player>,
    clicker: Clicker,
    tail: Option<Tail>,
    /// Of all that sounds.
    gain: f32,
    rate: f64,
    hand: Option<Hand>,
    /// How fast a hand was asked for since the last block, in frames.
    asked: Option<u32>,
}

/// A flat hand on everything: a straight fall.
#[derive(Clone, Copy, Debug)]
struct Hand {
    left: u32,
    frames: u32,
}

impl Ensemble {
    /// Of those players, all at rest.
    pub(super) fn new(players: Vec<Player>, sample_rate: u32) -> Self {
        Self {
            players,
            clicker: Clicker::new(sample_rate),
            tail: None,
            gain: 1.0,
            rate: f64::from(sample_rate),
            hand: None,
            asked: None,
        }
    }

    /// All of it louder by that factor.
    pub(super) const fn set_gain(&mut self, gain: f32) {
        self.gain = gain;
    }

    /// In a room. Takes memory.
    pub(super) fn set_room(&mut self, room: Room) {
        let acoustics = room.acoustics();
        self.tail = acoustics.map(|acoustics| Tail::new(acoustics, self.rate));
        self.players.iter_mut().for_each(|player| player.sit(acoustics));
    }

    fn player(&mut self, channel: u8) -> Option<&mut Player> {
        self.players.iter_mut().find(|player| player.channel() == channel)
    }

    fn still(&mut self) {
        self.players.iter_mut().for_each(Player::still);
        self.clicker.still();
        self.tail.iter_mut().for_each(Tail::still);
    }

    fn hush(&mut self, channel: u8, wait: usize, notes: u32, all: u32) {
        if let Some(player) = self.player(channel) {
            player.hush(wait, notes);
        }
        self.asked = Some(self.asked.map_or(all, |asked| asked.min(all)));
    }

    /// What a stroke finds while the hand still comes down is silenced at once, under the stroke.
    fn lift_hand(&mut self) {
        self.asked = None;
        if self.hand.take().is_some() {
            self.still();
        }
    }

    /// Begins what was asked for, if no role goes on playing.
    fn lay_hand(&mut self) {
        let Some(frames) = self.asked.take() else { return };
        let under_way = self.hand.is_some_and(|hand| hand.left <= frames);
        if !under_way && self.players.iter().all(Player::is_quiet) {
            // One that is under way goes on from where it is.
            let share = self.hand.map_or(1.0, |hand| hand.left as f32 / hand.frames as f32);
            let whole = (frames as f32 / share.max(1e-3)) as u32;
            self.hand = Some(Hand { left: frames, frames: whole.max(frames) });
        }
    }
}

impl Instruments for Ensemble {
    fn take(&mut self, message: Message, wait: usize) {
        match message {
            Message::NoteOn { channel: CLICK_CHANNEL, pitch, velocity } => {
                self.lift_hand();
                self.clicker.strike(pitch, velocity, wait);
            }
            Message::NoteOn { channel, pitch, velocity } => {
                self.lift_hand();
                if let Some(player) = self.player(channel) {
                    player.strike(pitch, velocity, wait);
                }
            }
            Message::NoteOff { channel, pitch } => {
                if let Some(player) = self.player(channel) {
                    player.damp(pitch, wait);
                }
            }
            Message::Control { channel, controller: ALL_SOUND_OFF, .. } => {
                self.hush(channel, wait, QUANTUM as u32, QUANTUM as u32);
            }
            Message::Control { channel, controller: ALL_NOTES_OFF, .. } => {
                let frames = |seconds: f64| (seconds * self.rate) as u32;
                self.hush(channel, wait, frames(HUSH_SECONDS), frames(HAND_SECONDS));
            }
            Message::Control { channel, controller, value } => {
                if let Some(player) = self.player(channel) {
                    player.control(controller, value);
                }
            }
            Message::Program { channel, program } => {
                if let Some(player) = self.player(channel) {
                    player.take_up(program);
                }
            }
            Message::Sync(_) => {}
        }
    }

    fn block(&mut self, left: &mut [f32; QUANTUM], right: &mut [f32; QUANTUM]) {
        self.lay_hand();
        *left = [0.0; QUANTUM];
        *right = [0.0; QUANTUM];
        let mut send = [0.0; QUANTUM];
        for player in &mut self.players {
            player.add(left, right, &mut send);
        }
        self.clicker.add(left, right, &mut send);
        if let Some(tail) = &mut self.tail {
            tail.add(&send, left, right);
        }
        if self.gain != 1.0 {
            left.iter_mut().chain(right.iter_mut()).for_each(|frame| *frame *= self.gain);
        }
        let Some(hand) = &mut self.hand else { return };
        for (left, right) in left.iter_mut().zip(right) {
            hand.left = hand.left.saturating_sub(1);
            let gain = hand.left as f32 / hand.frames as f32;
            *left *= gain;
            *right *= gain;
        }
        if hand.left == 0 {
            self.hand = None;
            self.still();
        }
    }
}
