/// How a groove's beats are divided.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Feel {
    /// Swing by tempo, slowest first: quarter notes a minute, and the share of a quarter that its
    /// first eighth takes, 0.5 (even) to 0.75. Empty: even at every tempo.
    pub swing: Vec<(f64, f64)>,
}

impl Feel {
    /// The share of a quarter that takes its two eighths evenly.
    pub const EVEN: f64 = 0.5;

    /// The share of a quarter that its first eighth takes at a tempo: on a straight line between
    /// the two nearest points, level before the first and after the last, even without any.
    pub fn swing_at(&self, quarters_per_minute: f64) -> f64 {
        let next = self.swing.iter().position(|&(tempo, _)| tempo >= quarters_per_minute);
        let after = next.and_then(|at| self.swing.get(at));
        let before = match next {
            Some(at) => at.checked_sub(1).and_then(|at| self.swing.get(at)),
            None => self.swing.last(),
        };
        match (before, after) {
            (Some(&(slow, from)), Some(&(fast, to))) if fast > slow => {
                from + (to - from) * (quarters_per_minute - slow) / (fast - slow)
            }
            (Some(&(_, share)), _) | (None, Some(&(_, share))) => share,
            (None, None) => Self::EVEN,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn swing_goes_straight_between_its_points_and_level_beyond() {
        let feel = Feel { swing: vec![(100.0, 0.6), (200.0, 0.5)] };
        for (tempo, share) in
            [(40.0, 0.6), (100.0, 0.6), (150.0, 0.55), (175.0, 0.525), (200.0, 0.5), (400.0, 0.5)]
        {
            assert!((feel.swing_at(tempo) - share).abs() < 1e-12, "{tempo}");
        }
        assert!((Feel::default().swing_at(120.0) - 0.5).abs() < 1e-12);
    }

    #[test]
    fn one_point_holds_at_every_tempo() {
        let feel = Feel { swing: vec![(120.0, 0.58)] };
        for tempo in [1.0, 120.0, 300.0, f64::NAN] {
            assert!((feel.swing_at(tempo) - 0.58).abs() < 1e-12, "{tempo}");
        }
    }
}
