/// How much a note of an instrument weighs to the ear, as the loudness standard counts it: the mean square
/// behind the K filter of ITU-R BS.1770, summed over its seconds, both sides together.
///
/// The numbers are what was measured of the instruments as they are rendered here, at volume 127, gain and
/// room included. Tests hold them to that: who changes an instrument's tone measures it anew.
#[derive(Clone, Copy, Debug)]
pub(super) struct Weight {
    /// Pitches from low to high; in between, and beyond, it changes evenly.
    points: [Point; 3],
    /// Decibels for each doubling of the velocity.
    doubling: f64,
    /// Seconds of its last loudness that a note still sounds for once it is let go.
    after: f64,
}

/// A pitch: the energy in decibels of a note struck at velocity 100 that rings out, and the seconds in
/// which the first 63 % of it are spent.
#[derive(Clone, Copy, Debug)]
struct Point {
    pitch: u8,
    decibels: f64,
    seconds: f64,
}

/// What a note weighs.
#[derive(Clone, Copy, Debug)]
pub(super) struct OfNote {
    energy: f64,
    seconds: f64,
    after: f64,
}

const fn point((pitch, decibels, seconds): (u8, f64, f64)) -> Point {
    Point { pitch, decibels, seconds }
}

impl Weight {
    /// Of an instrument: for three pitches from low to high the energy in decibels of a note struck at velocity
    /// 100 that rings out and the seconds in which the first 63 % of it are spent, the decibels for each doubling
    /// of the velocity, and the seconds of its last loudness that a note still sounds for once it is let go.
    pub const fn new(points: [(u8, f64, f64); 3], doubling: f64, after: f64) -> Self {
        let [low, middle, high] = points;
        Self { points: [point(low), point(middle), point(high)], doubling, after }
    }

    /// Of a note.
    pub fn note(self, pitch: u8, velocity: u8) -> OfNote {
        let [low, middle, high] = self.points;
        let (from, to) = if pitch < middle.pitch { (low, middle) } else { (middle, high) };
        let along = (f64::from(pitch) - f64::from(from.pitch))
            / (f64::from(to.pitch) - f64::from(from.pitch));
        let along = along.clamp(0.0, 1.0);
        let decibels = from.decibels + (to.decibels - from.decibels) * along;
        let doublings = (f64::from(velocity.max(1)) / 100.0).log2();
        OfNote {
            energy: 10.0_f64.powf((decibels + self.doubling * doublings) / 10.0),
            seconds: from.seconds + (to.seconds - from.seconds) * along,
            after: self.after,
        }
    }
}

impl OfNote {
    /// From one time after the stroke to another, in seconds.
    pub fn between(self, from: f64, to: f64) -> f64 {
        self.energy * ((-from / self.seconds).exp() - (-to / self.seconds).exp())
    }

    /// Of what still sounds once it is let go at a time after the stroke.
    pub fn after(self, at: f64) -> f64 {
        self.energy / self.seconds * (-at / self.seconds).exp() * self.after
    }

    /// True if less than a thousandth of it is left.
    pub fn is_gone(self, at: f64) -> bool {
        at > 7.0 * self.seconds
    }
}

#[cfg(test)]
mod tests {
    use super::super::sound::{Make, Sound};
    use super::super::{LiveRenderer, Renderer, Synth};
    use super::*;
    use crate::chart::Role;
    use crate::perform::{Instrument, Message};
    use crate::theory::MidiNote;
    use ebur128::{EbuR128, Mode};

    /// What a note weighs, measured by a library that is not the program's: its decibels.
    fn measured(sound: Sound, pitch: u8, velocity: u8, seconds: f64) -> f64 {
        const RATE: u32 = 48_000;
        let program = (0..128).find(|&program| Sound::of_program(program) == sound).unwrap();
        let instrument = Instrument { program, volume: 127, pan: 64 };
        // Softly enough that the limiter sleeps.
        const GAIN: f32 = 0.25;
        let mut synth = Synth::live(&[(Role::Lead, instrument)], RATE).at_gain(GAIN);
        let (channel, pitch) = (Role::Lead.channel(), MidiNote::new(pitch).unwrap());
        assert!(synth.take(0, Message::NoteOn { channel, pitch, velocity }));
        let end = (seconds * f64::from(RATE)) as u64;
        assert!(synth.take(end, Message::NoteOff { channel, pitch }));
        let (mut left, mut right) = (vec![0.0; 3 * 48_000], vec![0.0; 3 * 48_000]);
        synth.render(&mut left, &mut right);
        let mut meter = EbuR128::new(2, RATE, Mode::S).unwrap();
        meter.add_frames_planar_f32(&[&left, &right]).unwrap();
        let mean = meter.loudness_shortterm().unwrap() + 0.691;
        mean + 10.0 * 3.0_f64.log10() - 20.0 * f64::from(GAIN).log10()
    }

    fn reckoned(sound: Sound, pitch: u8, velocity: u8, seconds: f64) -> f64 {
        let note = sound.weight().note(pitch, velocity);
        10.0 * (note.between(0.0, seconds) + note.after(seconds)).log10()
    }

    /// What to write for an instrument, from what is measured: each point by a note that rings out and one
    /// as long as it mostly is played; of a bow, whose note never rings out, by what a second adds.
    fn fitted(sound: Sound) -> String {
        let Weight { points, after, .. } = sound.weight();
        let bowed = matches!(sound.make(), Make::Bowed(_));
        let usual = match sound {
            Sound::Bass => 0.5,
            Sound::Mandolin => 0.09,
            _ => 0.3,
        };
        let point = |pitch: u8| {
            let energy = |length: f64| 10.0_f64.powf(measured(sound, pitch, 100, length) / 10.0);
            if bowed {
                let second = (energy(1.4) - energy(0.4)) * 20.0;
                return format!("({pitch}, {:.1}, 20.0)", 10.0 * second.log10());
            }
            let (whole, part) = (energy(2.9), energy(usual));
            let of = |seconds: f64| OfNote { energy: whole, seconds, after };
            let sum = |seconds: f64| of(seconds).between(0.0, usual) + of(seconds).after(usual);
            let hundredths = (1..300).find(|&n| sum(f64::from(n) / 100.0) < part).unwrap_or(300);
            format!("({pitch}, {:.1}, 0.{hundredths:02})", 10.0 * whole.log10())
        };
        let doubling = [50, 100].map(|velocity| measured(sound, points[1].pitch, velocity, usual));
        let points = points.map(|it| point(it.pitch));
        format!("[{}], {:.1}", points.join(", "), doubling[1] - doubling[0])
    }

    #[test]
    fn notes_weigh_what_is_measured() {
        let mut wrong = String::new();
        for sound in Sound::ALL {
            let points = sound.weight().points;
            // A bow's notes are longer, and its body lifts some of them above their neighbours.
            let bowed = matches!(sound.make(), Make::Bowed(_));
            // No two strokes on strings are alike, and a body's modes lift one note above the next.
            let (lengths, most) = if bowed { ([0.2, 0.6], 5.0) } else { ([0.09, 0.4], 5.0) };
            let mut off = Vec::new();
            for pitch in (points[0].pitch..=points[2].pitch).step_by(5) {
                for velocity in [60, 100] {
                    for seconds in lengths {
                        let found = measured(sound, pitch, velocity, seconds);
                        off.push(reckoned(sound, pitch, velocity, seconds) - found);
                    }
                }
            }
            let mean = off.iter().sum::<f64>() / off.len() as f64;
            let worst = off.iter().fold(0.0_f64, |worst, off| worst.max(off.abs()));
            println!("measured: {sound:?}: off by {mean:+.2} dB in the mean, {worst:.2} at most");
            // So little in the mean that a song of any of them is well within the loudness unit that it may
            // be off.
            if mean.abs() > 0.7 || worst > most {
                wrong += &format!("{sound:?}: {off:.1?}; measured: {}\n", fitted(sound));
            }
        }
        assert!(wrong.is_empty(), "{wrong}");
    }
}
