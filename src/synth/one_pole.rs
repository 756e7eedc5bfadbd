use std::f64::consts::TAU;

/// A one-pole low-pass; what it takes away is a high-pass.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct OnePole {
    share: f32,
    state: f32,
}

impl OnePole {
    /// With that corner in hertz (-3 dB, for corners far below the rate).
    pub fn new(corner_hz: f64, rate: f64) -> Self {
        let share = 1.0 - (-TAU * corner_hz.min(0.49 * rate) / rate).exp();
        Self { share: share as f32, state: 0.0 }
    }

    /// The next frame of what is below the corner.
    #[inline]
    pub fn low(&mut self, x: f32) -> f32 {
        self.state += self.share * (x - self.state);
        self.state
    }

    /// The next frame of what is above the corner.
    #[inline]
    pub fn high(&mut self, x: f32) -> f32 {
        x - self.low(x)
    }

    /// At rest.
    pub fn still(&mut self) {
        self.state = 0.0;
    }

    /// Sets what has died away to rest. Gives true if it has.
    pub fn settle(&mut self) -> bool {
        let still = self.state.abs() < 1e-20;
        if still {
            self.state = 0.0;
        }
        still
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn splits_at_its_corner() {
        let level = |hz: f64, high: bool| {
            let mut filter = OnePole::new(500.0, 48_000.0);
            let mut top = 0.0_f32;
            for n in 0..24_000 {
                let x = (TAU * hz * f64::from(n) / 48_000.0).sin() as f32;
                let y = if high { filter.high(x) } else { filter.low(x) };
                top = if n > 12_000 { top.max(y.abs()) } else { top };
            }
            top
        };
        assert!((level(500.0, false) - 0.707).abs() < 0.02);
        assert!(level(50.0, false) > 0.98 && level(5_000.0, false) < 0.12);
        assert!(level(50.0, true) < 0.12 && level(5_000.0, true) > 0.95);
    }
}
