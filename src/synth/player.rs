use super::QUANTUM;
use super::bow_voice::{BowStroke, BowVoice};
use super::held::{Held, Strings};
use super::picking_hand::PickingHand;
use super::pluck::Pluck;
use super::room::Acoustics;
use super::seat::Seat;
use super::sound::Sound;
use super::timbre::{Timbre, Way};
use super::voice::Voice;
use crate::chart::Role;
use crate::hash::mix;
use crate::perform::{Instrument, PORTAMENTO_CONTROL};
use crate::theory::MidiNote;

/// Seconds in which a change of volume or pan gets two thirds of the way: it makes no click, and is
/// there at once for the ear.
const GLIDE: f64 = 0.005;

/// Left-hand events nearer together than this are a slide over the frets between: no finger hammers so fast (common
/// practice, no source).
const SLIDE_SECONDS: f64 = 0.045;

/// One member of the band, playing what it is told.
#[derive(Clone, Debug)]
pub(super) struct Player {
    rate: f64,
    role: Role,
    instrument: Instrument,
    /// Its instruments, each with a body of its own: what sounds rings on when another is taken up.
    held: Vec<Held>,
    /// Which of them is played.
    current: usize,
    plucked: Vec<Voice>,
    bowed: Vec<BowVoice>,
    glide: f32,
    /// The pitch that the next note goes on from.
    source: Option<u8>,
    /// How often each pitch has been struck.
    struck: [u32; 128],
    /// Where it sits, if there are walls.
    seat: Option<Seat>,
    /// Which way the plectrum goes.
    hand: PickingHand,
    /// The first frame of the next block, and the frame of the last left-hand event.
    frame: u64,
    turned: u64,
}

impl Player {
    /// Ready to play the pitches that `plays` gives true for, `most` notes at once, those that are
    /// being damped included; when more are struck, the oldest gives way.
    pub fn new(
        role: Role,
        instrument: Instrument,
        plays: impl Fn(Sound, u8) -> bool,
        most: usize,
        sample_rate: u32,
    ) -> Self {
        let rate = f64::from(sample_rate);
        let sounds = Sound::played_by(role).iter();
        let held: Vec<Held> =
            sounds.map(|&sound| Held::new(sound, instrument, &plays, rate)).collect();
        let of = |plucked: bool| {
            held.iter().any(|it| plucked == matches!(it.strings, Strings::Plucked { .. }))
        };
        let reach = held.iter().map(Held::reach).max().unwrap_or(0);
        let mut player = Self {
            rate,
            role,
            instrument,
            plucked: if of(true) { vec![Voice::new(reach); most] } else { Vec::new() },
            bowed: if of(false) { vec![BowVoice::default(); most] } else { Vec::new() },
            held,
            current: 0,
            source: None,
            glide: (1.0 - (-(QUANTUM as f64) / (GLIDE * rate)).exp()) as f32,
            struck: [0; 128],
            seat: None,
            hand: PickingHand::default(),
            frame: 0,
            turned: 0,
        };
        player.take_up(instrument.program);
        player
    }

    /// Sits down in a room, or where there is none. Takes memory.
    pub fn sit(&mut self, room: Option<Acoustics>) {
        self.seat = room.map(|room| Seat::new(self.instrument.pan, room, self.rate));
    }

    /// Its channel.
    pub const fn channel(&self) -> u8 {
        self.role.channel()
    }

    /// Plays on with the instrument of that program, if it has one.
    pub fn take_up(&mut self, program: u8) {
        let sound = Sound::told(self.role, program);
        self.current = self.held.iter().position(|held| held.sound == sound).unwrap_or(0);
    }

    /// Strikes a note `wait` frames into the next block, or lets one go on as it, if that was said before. A pitch
    /// that it has no plan for stays silent.
    pub fn strike(&mut self, pitch: MidiNote, velocity: u8, wait: usize) {
        let number = usize::from(pitch.get());
        let Some(times) = self.struck.get_mut(number) else { return };
        *times = times.wrapping_add(1);
        let seed = seed(self.role, pitch, velocity, *times);
        let sound = self.current;
        let source = self.source.take().and_then(MidiNote::new);
        if source.is_some_and(|from| self.go_on(from, pitch, velocity, seed, wait)) {
            return;
        }
        let Some(held) = self.held.get(sound) else { return };
        // A resting voice, or else the oldest.
        match &held.strings {
            Strings::Plucked { timbre, manner, plans } => {
                let Some(Some(plan)) = plans.get(number) else { return };
                let (hz, rate) = (pitch.hertz(), self.rate);
                let way = self.hand.strike(pitch.get(), self.frame + wait as u64, rate);
                let stroke = timbre.stroke(pitch.get(), hz, velocity, way, rate, seed);
                let voices = self.plucked.iter_mut();
                let voice = voices.max_by_key(|voice| voice.age().unwrap_or(u64::MAX));
                if let Some(voice) = voice {
                    let manner = (sound, *manner);
                    voice.strike(pitch.get(), manner, plan, Pluck::new(stroke), wait);
                }
            }
            Strings::Bowed { timbre, .. } => {
                let hz = pitch.hertz();
                let stroke = BowStroke { sound, pitch: pitch.get(), hz, velocity, seed };
                let voices = self.bowed.iter_mut();
                let voice = voices.max_by_key(|voice| voice.age().unwrap_or(u64::MAX));
                if let Some(voice) = voice {
                    voice.strike(*timbre, stroke, self.rate, wait);
                }
            }
        }
    }

    /// Lets the note that sounds go on as another, on the same string or under the same bow; false if none does.
    fn go_on(
        &mut self,
        from: MidiNote,
        pitch: MidiNote,
        velocity: u8,
        seed: u64,
        wait: usize,
    ) -> bool {
        let sound = self.current;
        let (hz, number) = (pitch.hertz(), pitch.get());
        match self.held.get(sound).map(|held| &held.strings) {
            Some(Strings::Plucked { timbre, plans, .. }) => {
                let Some(Some(plan)) = plans.get(usize::from(number)) else { return false };
                let voice = self.plucked.iter_mut().find(|it| it.holds(from.get(), sound));
                let Some(voice) = voice else { return false };
                let at = self.frame + wait as u64;
                let since = at.saturating_sub(self.turned) as f64;
                let slid = since < SLIDE_SECONDS * self.rate;
                self.turned = at;
                let from = from.hertz();
                let stroke = timbre.stroke(number, hz, velocity, Way::Down, self.rate, seed);
                let touch = Timbre::touch(stroke, hz, from, slid, self.rate);
                voice.go_on(number, plan, hz / from, Pluck::new(touch), wait);
                true
            }
            Some(Strings::Bowed { .. }) => {
                let voice = self.bowed.iter_mut().find(|it| it.holds(from.get(), sound));
                voice.map(|voice| voice.go_on(number, hz, wait)).is_some()
            }
            None => false,
        }
    }

    /// Lets go of a note `wait` frames into the next block.
    pub fn damp(&mut self, pitch: MidiNote, wait: usize) {
        self.plucked.iter_mut().for_each(|voice| voice.damp(pitch.get(), wait));
        self.bowed.iter_mut().for_each(|voice| voice.damp(pitch.get(), wait));
    }

    /// Brings every note to silence in `frames`, from `wait` frames into the next block on.
    pub fn hush(&mut self, wait: usize, frames: u32) {
        self.plucked.iter_mut().for_each(|voice| voice.hush(wait, frames));
        self.bowed.iter_mut().for_each(|voice| voice.hush(wait, frames));
    }

    /// True if nothing sounds but what is being hushed.
    pub fn is_quiet(&self) -> bool {
        self.plucked.iter().all(Voice::is_quiet) && self.bowed.iter().all(BowVoice::is_quiet)
    }

    /// Nothing rings any more, body included.
    pub fn still(&mut self) {
        self.plucked.iter_mut().for_each(Voice::still);
        self.bowed.iter_mut().for_each(BowVoice::still);
        self.held.iter_mut().for_each(Held::still);
        self.seat.iter_mut().for_each(Seat::still);
    }

    /// Changes the volume or the pan, or says what the next note goes on from; other controllers mean nothing to
    /// strings.
    pub fn control(&mut self, controller: u8, value: u8) {
        match controller {
            7 => self.instrument.volume = value,
            10 => {
                self.instrument.pan = value;
                self.seat.iter_mut().for_each(|seat| seat.shift(value));
            }
            PORTAMENTO_CONTROL => {
                self.source = Some(value);
                return;
            }
            _ => return,
        }
        let instrument = self.instrument;
        self.held.iter_mut().for_each(|held| held.set(instrument));
    }

    /// Adds the next block to both sides and to what goes into the room.
    pub fn add(
        &mut self,
        left: &mut [f32; QUANTUM],
        right: &mut [f32; QUANTUM],
        room: &mut [f32; QUANTUM],
    ) {
        self.frame += QUANTUM as u64;
        let mut near = [0.0; QUANTUM];
        for (number, held) in self.held.iter_mut().enumerate() {
            let mut sound = [0.0; QUANTUM];
            let mut moved = false;
            if let Strings::Bowed { saw, .. } = &held.strings {
                let voices = self.bowed.iter_mut().filter(|voice| voice.sound() == Some(number));
                for voice in voices {
                    voice.add(saw, &mut sound);
                    moved = true;
                }
                if moved || !held.is_still() {
                    held.sing(&mut sound);
                }
            } else {
                moved = self.plucked.iter().any(|voice| voice.sound() == Some(number));
                if moved || !held.is_still() {
                    held.play(&mut self.plucked, number, &mut sound);
                }
            }
            if moved || !held.is_still() {
                held.add(&sound, self.glide, left, right, &mut near, room);
            } else {
                held.glide(self.glide);
            }
        }
        if let Some(seat) = &mut self.seat {
            seat.add(&near, left, right);
        }
    }
}

/// What picks the noise of a stroke. It hangs on the role's own playing alone: whoever else plays,
/// the same stroke scrapes the same way, live as in a file.
fn seed(role: Role, pitch: MidiNote, velocity: u8, times: u32) -> u64 {
    let stroke = u64::from(times) ^ (role.stream() << 56);
    mix(stroke ^ (u64::from(pitch.get()) << 48 | u64::from(velocity) << 40))
}
