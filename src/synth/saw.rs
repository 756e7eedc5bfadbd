/// Points of a period.
const POINTS: usize = 2_048;

/// Points more that an interpolator reads: one before the period, two after it.
const GUARD: usize = 3;

/// How many partials the waves have, the fullest first. The next one down is never more than half an
/// octave away, so little is lost at the top.
const PARTIALS: [usize; 14] = [96, 68, 48, 34, 24, 17, 12, 8, 6, 4, 3, 2, 1, 0];

/// Above this, in hertz, a partial of a bowed string adds nothing that its body lets out.
const HIGHEST: f64 = 16_000.0;

/// One period each of waves that run like a saw's teeth, with so many partials and no more.
///
/// That is how a bowed string pulls at its bridge: the bend that the bow drives round the string lets
/// the force climb evenly and fall at once (Helmholtz motion; Fletcher and Rossing, "The Physics of
/// Musical Instruments", chapter on bowed strings; the chapter's number is not checked). A wave that
/// has no partial above half the rate sounds no tone that is not asked for.
#[derive(Clone, Debug)]
pub(super) struct Saw {
    points: Vec<f32>,
}

/// Which of the waves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Wave {
    from: usize,
}

impl Saw {
    /// Every wave.
    pub fn new() -> Self {
        let mut points = Vec::with_capacity(PARTIALS.len() * (POINTS + GUARD));
        for partials in PARTIALS {
            let mut period = [0.0_f64; POINTS];
            for partial in 1..=partials {
                let share = std::f64::consts::FRAC_2_PI / partial as f64;
                let (sin, cos) = (std::f64::consts::TAU * partial as f64 / POINTS as f64).sin_cos();
                let (mut re, mut im) = (1.0_f64, 0.0_f64);
                for point in &mut period {
                    *point += share * im;
                    (re, im) = (re * cos - im * sin, re * sin + im * cos);
                }
            }
            let wrapped = (0..POINTS + GUARD).map(|n| (n + POINTS - 1) % POINTS);
            points.extend(wrapped.filter_map(|n| period.get(n)).map(|&point| point as f32));
        }
        Self { points }
    }

    /// The fullest wave for a note of `hz` at `rate` frames a second.
    pub fn fitting(hz: f64, rate: f64) -> Wave {
        let highest = HIGHEST.min(0.45 * rate);
        let fits = |&partials: &usize| partials as f64 * hz <= highest;
        let number = PARTIALS.iter().position(fits).unwrap_or(PARTIALS.len() - 1);
        Wave { from: number * (POINTS + GUARD) }
    }

    /// A wave at a phase from 0 to 1: a cubic through the four points around it (Lagrange).
    #[inline]
    pub fn at(&self, wave: Wave, phase: f64) -> f32 {
        let place = phase * POINTS as f64;
        let whole = place as usize;
        let Some(&[a, b, c, d]) = self.points.get(wave.from + whole..wave.from + whole + 4) else {
            return 0.0;
        };
        let x = (place - whole as f64) as f32;
        let slope = c - a / 3.0 - b / 2.0 - d / 6.0;
        let bend = (a + c) / 2.0 - b;
        let twist = (d - a) / 6.0 + (b - c) / 2.0;
        ((twist * x + bend) * x + slope) * x + b
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn has_its_partials_and_no_others() {
        let saw = Saw::new();
        for (hz, partials) in [(196.0, 68), (660.0, 24), (3_000.0, 4), (9_000.0, 1)] {
            let wave = Saw::fitting(hz, 48_000.0);
            // Whole periods of a length without a common measure with the table's.
            let frames = 1_000;
            let strength = |partial: usize| {
                let (mut re, mut im) = (0.0, 0.0);
                for n in 0..frames {
                    let phase = n as f64 / frames as f64;
                    let x = f64::from(saw.at(wave, phase));
                    let (sin, cos) = (std::f64::consts::TAU * phase * partial as f64).sin_cos();
                    re += x * cos;
                    im += x * sin;
                }
                re.hypot(im) * 2.0 / frames as f64
            };
            for partial in 1..400 {
                let asked = std::f64::consts::FRAC_2_PI / partial as f64;
                let asked = if partial <= partials { asked } else { 0.0 };
                let found = strength(partial);
                assert!((found - asked).abs() < 1e-4, "{partial} at {hz}: {found}, {asked}");
            }
        }
    }

    #[test]
    fn what_no_rate_can_hold_is_silence() {
        let saw = Saw::new();
        let wave = Saw::fitting(12_500.0, 8_000.0);
        assert!((0..100).all(|n| saw.at(wave, f64::from(n) / 100.0) == 0.0));
        assert_eq!(saw.at(wave, 7.0), 0.0, "a phase that is none");
    }
}
