use std::f64::consts::FRAC_PI_2;

use super::QUANTUM;
use super::body::Body;
use super::pluck::Pluck;
use super::schedule::{Action, Event, events};
use super::timbre::Timbre;
use super::voice::{Plan, Voice, damped_frames};
use crate::perform::{Instrument, Note, Part, Performance};

/// Notes at once at most, those that are being damped included. More than two hands on six strings
/// make even in a fast strum; when it is met, the oldest note gives way.
const MOST_VOICES: usize = 32;

/// One member of the band with the notes to play.
#[derive(Clone, Debug)]
pub(super) struct Player {
    timbre: Timbre,
    rate: f64,
    role: u64,
    notes: Vec<Note>,
    events: Vec<Event>,
    next: usize,
    plans: Vec<Option<Plan>>,
    voices: Vec<Voice>,
    body: Body,
    sides: [f32; 2],
    send: f32,
}

/// Gains left and right of an instrument: controller 7 as 40·log10(value/127) dB, controller 10 with
/// equal power, 64 in the middle (both as General MIDI's guidelines recommend; from memory).
pub(super) fn sides(instrument: Instrument) -> [f32; 2] {
    let volume = (f64::from(instrument.volume) / 127.0).powi(2);
    let angle = (f64::from(instrument.pan.max(1)) - 1.0) / 126.0 * FRAC_PI_2;
    [angle.cos(), angle.sin()].map(|side| (volume * side) as f32)
}

impl Player {
    /// Reckons all that the part will need.
    pub fn new(performance: &Performance, part: &Part, sample_rate: u32) -> Self {
        let rate = f64::from(sample_rate);
        let timbre = Timbre::of(part.role);
        let mut plans: Vec<Option<Plan>> = vec![None; 128];
        for note in &part.notes {
            if let Some(plan @ None) = plans.get_mut(usize::from(note.pitch.get())) {
                *plan = Plan::new(timbre, note.pitch, rate);
            }
        }
        let events = events(performance, &part.notes, sample_rate);
        let reach = plans.iter().flatten().map(Plan::reach).max().unwrap_or(0);
        let voice = Voice::new(timbre, reach, rate);
        let most = most_at_once(&events, damped_frames(timbre, rate)).min(MOST_VOICES);
        let sides = sides(part.instrument).map(|side| side * timbre.level as f32);
        Self {
            timbre,
            rate,
            role: part.role as u64,
            notes: part.notes.clone(),
            events,
            next: 0,
            plans,
            voices: vec![voice; most],
            body: Body::new(timbre.body, rate),
            sides,
            send: (timbre.room * f64::from(sides[0].hypot(sides[1]))) as f32,
        }
    }

    /// Adds the block that begins at `start` to both sides and to what goes into the room.
    pub fn add(
        &mut self,
        start: u64,
        left: &mut [f32; QUANTUM],
        right: &mut [f32; QUANTUM],
        room: &mut [f32; QUANTUM],
    ) {
        while let Some(event) = self.events.get(self.next)
            && event.frame < start + QUANTUM as u64
        {
            self.next += 1;
            let wait = event.frame.saturating_sub(start) as usize;
            match event.action {
                Action::Strike(number) => self.strike(number, wait),
                Action::Damp(number) => {
                    self.voices.iter_mut().for_each(|voice| voice.damp(number, wait));
                }
            }
        }
        let mut block = [0.0; QUANTUM];
        for voice in &mut self.voices {
            voice.add(&mut block);
        }
        self.body.sound(&mut block);
        let [left_gain, right_gain] = self.sides;
        for (((x, left), right), room) in block.iter().zip(left).zip(right).zip(room) {
            *left += left_gain * x;
            *right += right_gain * x;
            *room += self.send * x;
        }
    }

    fn strike(&mut self, number: usize, wait: usize) {
        let Some(note) = self.notes.get(number) else { return };
        let pitch = note.pitch.get();
        let Some(Some(plan)) = self.plans.get(usize::from(pitch)) else { return };
        let seed = seed(self.role, note);
        let stroke = self.timbre.stroke(pitch, note.pitch.hertz(), note.velocity, self.rate, seed);
        // A resting voice, or else the oldest.
        let voice = self.voices.iter_mut().max_by_key(|voice| voice.age().unwrap_or(u64::MAX));
        if let Some(voice) = voice {
            voice.strike(number, plan, Pluck::new(stroke), wait);
        }
    }
}

/// The same note of the same role scrapes the same way, whoever else plays.
fn seed(role: u64, note: &Note) -> u64 {
    let mut seed = note.start.get() as u64 ^ (role << 56);
    seed ^= u64::from(note.pitch.get()) << 48 | u64::from(note.velocity) << 40;
    // The finaliser of SplitMix64 (Steele, Lea and Flood 2014): neighbours come out unlike.
    seed = (seed ^ (seed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    seed = (seed ^ (seed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    seed ^ (seed >> 31)
}

/// How many notes sound at once, `tail` frames of damping included, and up to two blocks more,
/// since a voice is given back at the end of a block.
fn most_at_once(events: &[Event], tail: u64) -> usize {
    let mut changes: Vec<(u64, i64)> = events
        .iter()
        .map(|event| match event.action {
            Action::Strike(_) => (event.frame, 1),
            Action::Damp(_) => (event.frame + tail + 2 * QUANTUM as u64, -1),
        })
        .collect();
    changes.sort_unstable();
    let (mut now, mut most) = (0_i64, 0_i64);
    for (_, change) in changes {
        now += change;
        most = most.max(now);
    }
    usize::try_from(most).unwrap_or(0)
}
