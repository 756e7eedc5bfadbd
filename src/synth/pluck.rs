use rand_core::{Rng, SeedableRng};
use rand_pcg::Pcg32;

use super::one_pole::OnePole;

/// How a string is set in motion.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Excitation {
    /// Frames of a round trip of the string.
    pub period: f64,
    /// Where it is plucked, from the bridge, as a share of its length.
    pub position: f64,
    /// Frames that the plectrum or the fingertip takes to let go.
    pub release: f64,
    /// The force.
    pub strength: f64,
    /// Frames after which a second string of a course is reached.
    pub lag: f64,
    /// The scrape of plectrum or finger, beside the force.
    pub scrape: f64,
    /// Frames in which the scrape falls to a third.
    pub scrape_frames: f64,
    /// The scrape's highest frequency as a share of the rate.
    pub scrape_colour: f64,
    /// The share of the pull that is at right angles to the top, and the share along it.
    pub planes: [f64; 2],
    /// What of the scrape knocks on the body itself, beside the force.
    pub knock: f64,
    /// The push of the hand on the body: its force, and the frames that it lasts.
    pub thump: (f64, f64),
    /// Picks the noise.
    pub seed: u64,
}

/// A stroke on its way into a pair of strings.
///
/// A string drawn aside at a point and let go pulls at the bridge with a rectangular wave, up for
/// the share of the round trip that the point lies from the bridge (Fletcher and Rossing, "The
/// Physics of Musical Instruments", chapter on plucked strings; the chapter's number is not
/// checked). One period of it, less its mean, is what sets the loops going: it gives the comb of
/// partials that the plucking point makes, as the delayed copy in Jaffe and Smith's figure does.
/// Slower release rounds its edges, so softer strokes are darker.
#[derive(Clone, Debug)]
pub(super) struct Pluck {
    stroke: Excitation,
    frame: u32,
    frames: u32,
    noise: f64,
    noise_fall: f64,
    colour: OnePole,
    random: Pcg32,
}

impl Pluck {
    /// The beginning of a stroke.
    pub fn new(stroke: Excitation) -> Self {
        let release = stroke.release.max(1.0);
        let stroke = Excitation { release, ..stroke };
        let scrape_end = stroke.scrape_frames * 9.0; // ln of 80 dB
        let end = (stroke.period + release + stroke.lag).max(scrape_end).max(stroke.thump.1);
        Self {
            stroke,
            frame: 0,
            frames: end.ceil().clamp(0.0, 1e6) as u32 + 1,
            noise: 1.0,
            noise_fall: (-1.0 / stroke.scrape_frames.max(1.0)).exp(),
            colour: OnePole::new(stroke.scrape_colour, 1.0),
            random: Pcg32::seed_from_u64(stroke.seed),
        }
    }

    /// True once the strings are left to themselves.
    pub const fn is_over(&self) -> bool {
        self.frame >= self.frames
    }

    /// Its force.
    pub fn strength(&self) -> f32 {
        self.stroke.strength as f32
    }

    /// How its pull lies between the plane at right angles to the top and the one along it.
    pub fn planes(&self) -> [f32; 2] {
        self.stroke.planes.map(|share| share as f32)
    }

    /// The next frame: the force on the first string, on the second, and on the body.
    pub fn next(&mut self) -> [f32; 3] {
        if self.is_over() {
            return [0.0; 3];
        }
        let at = f64::from(self.frame);
        self.frame += 1;
        let white = f64::from(self.random.next_u32()) / f64::from(u32::MAX) - 0.5;
        let noise = f64::from(self.colour.low((white * 2.0) as f32)) * self.noise;
        self.noise *= self.noise_fall;
        let strength = self.stroke.strength;
        let scrape = self.stroke.scrape * noise;
        let string = |at| strength * (self.force(at) + scrape);
        let (thump, thump_frames) = self.stroke.thump;
        let along = if at < thump_frames { at / thump_frames } else { 0.0 };
        let pushed = thump * (std::f64::consts::PI * along).sin().powi(2);
        let knock = strength * (self.stroke.knock * noise + pushed);
        [string(at) as f32, string(at - self.stroke.lag) as f32, knock as f32]
    }

    /// The rectangular wave's one period with rounded edges, less its mean.
    fn force(&self, at: f64) -> f64 {
        let Excitation { period, position, release, .. } = self.stroke;
        let edge = |from: f64| {
            let x = ((at - from) / release).clamp(0.0, 1.0);
            x * x * (3.0 - 2.0 * x)
        };
        (edge(0.0) - edge(position * period)) - position * (edge(0.0) - edge(period))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const STROKE: Excitation = Excitation {
        period: 200.0,
        position: 0.2,
        release: 12.0,
        strength: 1.0,
        lag: 20.0,
        planes: [1.0, 0.0],
        thump: (0.0, 1.0),
        scrape: 0.0,
        scrape_frames: 50.0,
        scrape_colour: 0.2,
        knock: 0.5,
        seed: 7,
    };

    #[test]
    fn leaves_no_standing_pull() {
        let mut pluck = Pluck::new(STROKE);
        let frames: Vec<[f32; 3]> = std::iter::repeat_with(|| pluck.next()).take(600).collect();
        assert!(pluck.is_over());
        for string in [0, 1] {
            let sum: f32 = frames.iter().map(|frame| frame[string]).sum();
            assert!(sum.abs() < 1e-3, "{sum}");
            assert!(frames.iter().any(|frame| frame[string] > 0.7));
        }
        assert_eq!(frames[599], [0.0; 3]);
    }

    #[test]
    fn noise_is_the_seeds() {
        let run = |seed| {
            let mut pluck = Pluck::new(Excitation { scrape: 0.5, seed, ..STROKE });
            std::iter::repeat_with(|| pluck.next()).take(100).collect::<Vec<_>>()
        };
        assert_eq!(run(1), run(1));
        assert_ne!(run(1), run(2));
    }
}
