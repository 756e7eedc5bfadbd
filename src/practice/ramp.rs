/// Practice speeds that climb (or fall) by a step each round.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ramp {
    /// The first round's speed in percent, above 0.
    pub from: f64,
    /// The last speed; every round after it keeps it.
    pub to: f64,
    /// How much is added a round, above 0; taken away if `to` lies below `from`.
    pub step: f64,
}

impl Ramp {
    /// The speed of a round in percent, rounds counted from 0.
    pub fn speed(self, round: u32) -> f64 {
        let gone = self.step.abs() * f64::from(round);
        if self.to < self.from {
            (self.from - gone).max(self.to)
        } else {
            (self.from + gone).min(self.to)
        }
    }

    /// The first round at the last speed.
    pub fn rounds_to_top(self) -> u32 {
        let steps = ((self.to - self.from) / self.step).abs();
        // A billionth of a step is rounding, not a step.
        if steps.is_finite() { (steps - 1e-9).ceil().clamp(0.0, 1e6) as u32 } else { 0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_climbs_to_the_top_and_stays() {
        let ramp = Ramp { from: 60.0, to: 100.0, step: 4.0 };
        assert_eq!((ramp.speed(0), ramp.speed(1), ramp.speed(9)), (60.0, 64.0, 96.0));
        assert_eq!((ramp.speed(10), ramp.speed(400)), (100.0, 100.0));
        assert_eq!(ramp.rounds_to_top(), 10);
        let uneven = Ramp { from: 60.0, to: 100.0, step: 15.0 };
        assert_eq!((uneven.speed(2), uneven.speed(3), uneven.rounds_to_top()), (90.0, 100.0, 3));
        let down = Ramp { from: 100.0, to: 50.0, step: 25.0 };
        assert_eq!((down.speed(1), down.speed(5), down.rounds_to_top()), (75.0, 50.0, 2));
    }
}
