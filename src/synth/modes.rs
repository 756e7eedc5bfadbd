use std::f64::consts::TAU;

use super::loop_filter::LN_1000;

/// Modes in a bank: a whole number of vector registers.
pub(super) const LANES: usize = 16;

/// Below this a state is taken for stillness: -400 dB. Numbers far smaller slow a processor down.
const STILL: f32 = 1e-20;

/// One resonance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Mode {
    /// Its frequency in hertz.
    pub hz: f64,
    /// Seconds in which it falls by 60 dB.
    pub ring: f64,
    /// Its gain at its frequency. A negative one moves the other way.
    pub gain: f64,
}

/// Up to [`LANES`] resonances side by side: each is a complex number turned and shrunk every frame,
/// which stays exact at low frequencies where a direct-form filter in single precision does not.
/// The output is the real part: the velocity of a struck mode, which starts at once.
#[derive(Clone, Debug)]
pub(super) struct ModeBank {
    re: [f32; LANES],
    im: [f32; LANES],
    turn_re: [f32; LANES],
    turn_im: [f32; LANES],
    gain: [f32; LANES],
}

impl ModeBank {
    /// Modes above 0.45 of the rate are left out.
    pub fn new(modes: &[Mode], rate: f64) -> Self {
        let still = [0.0; LANES];
        let mut bank = Self { re: still, im: still, turn_re: still, turn_im: still, gain: still };
        let audible = modes.iter().filter(|mode| mode.hz < 0.45 * rate);
        let lanes = bank.turn_re.iter_mut().zip(&mut bank.turn_im).zip(&mut bank.gain);
        for (((turn_re, turn_im), gain), mode) in lanes.zip(audible) {
            let shrink = (-LN_1000 / (mode.ring * rate)).exp();
            let (sin, cos) = (TAU * mode.hz / rate).sin_cos();
            *turn_re = (shrink * cos) as f32;
            *turn_im = (shrink * sin) as f32;
            // A steady tone at the mode's frequency comes out at about 1 / (2·(1 − shrink)).
            *gain = (2.0 * (1.0 - shrink) * mode.gain) as f32;
        }
        bank
    }

    /// The answer to one more frame.
    #[inline]
    pub fn next(&mut self, x: f32) -> f32 {
        let mut sums = [0.0_f32; 4];
        for lane in 0..LANES {
            let (re, im) = (self.re[lane], self.im[lane]);
            let (cos, sin) = (self.turn_re[lane], self.turn_im[lane]);
            self.re[lane] = cos * re - sin * im + x * self.gain[lane];
            self.im[lane] = sin * re + cos * im;
        }
        for lane in 0..LANES {
            sums[lane % 4] += self.re[lane];
        }
        (sums[0] + sums[1]) + (sums[2] + sums[3])
    }

    /// At rest.
    pub fn still(&mut self) {
        self.re = [0.0; LANES];
        self.im = [0.0; LANES];
    }

    /// Sets what has died away to rest. Gives true if all has.
    pub fn settle(&mut self) -> bool {
        let mut still = true;
        for state in self.re.iter_mut().chain(&mut self.im) {
            if state.abs() < STILL {
                *state = 0.0;
            } else {
                still = false;
            }
        }
        still
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn peak_at(hz: f64, bank: &mut ModeBank) -> f32 {
        let tone = |n: u32| (TAU * hz * f64::from(n) / 48_000.0).sin() as f32;
        (0..48_000)
            .map(|n| (n, bank.next(tone(n)).abs()))
            .fold(0.0, |top, (n, y)| if n > 24_000 { y.max(top) } else { top })
    }

    #[test]
    fn answers_at_its_frequency_and_falls_in_its_time() {
        for hz in [60.0, 200.0, 2_500.0] {
            let mut bank = ModeBank::new(&[Mode { hz, ring: 0.2, gain: 0.5 }], 48_000.0);
            assert!((peak_at(hz, &mut bank) - 0.5).abs() < 0.02, "{hz} Hz");
            assert!(peak_at(hz * 2.0, &mut bank) < 0.2, "{hz} Hz, an octave above");
            (0..9_600).for_each(|_| _ = bank.next(0.0));
            let rest = (0..480).map(|_| bank.next(0.0).abs()).fold(0.0, f32::max);
            assert!(rest < 0.002, "{hz} Hz rings on at {rest}");
        }
    }

    #[test]
    fn comes_to_rest() {
        let mut bank = ModeBank::new(&[Mode { hz: 100.0, ring: 0.1, gain: 1.0 }], 48_000.0);
        bank.next(1.0);
        assert!(!bank.settle());
        (0..48_000).for_each(|_| _ = bank.next(0.0));
        assert!(bank.settle());
        assert_eq!(bank.next(0.0), 0.0);
    }
}
