//! The line on which timing clocks lie: a Kalman filter of two states, time and period.

/// How fast the period is taken to wander: by a 2,700th of the jitter a clock. That is a memory of about
/// 128 clocks, after which the period is known to a 700th of the jitter: to 0.02 % at 200 quarters
/// a minute with 2 ms.
const WANDER: f64 = 1.0 / 2700.0;

/// A clock further off than this many standard deviations counts as if it were that far.
const FAR: f64 = 3.0;

/// How unsure of the period, as a share of it, a change of tempo makes.
const OPENED: f64 = 0.3;

/// And a gap: another tempo shows itself, the same one is not forgotten.
const OPENED_BY_GAP: f64 = 0.005;

/// Where the line stands and how sure that is.
#[derive(Clone, Copy, Debug)]
pub(super) struct Line {
    /// The clock's number.
    pub number: u64,
    /// Its time without jitter, in nanoseconds.
    pub phase: f64,
    /// From clock to clock, in nanoseconds.
    pub period: f64,
    /// Variance of the phase, covariance, variance of the period.
    pub phase_var: f64,
    pub covar: f64,
    pub period_var: f64,
}

impl Line {
    pub(super) const NONE: Self =
        Self { number: 0, phase: 0.0, period: 0.0, phase_var: 0.0, covar: 0.0, period_var: 0.0 };

    /// Through one clock, with a guess at the period.
    pub(super) fn new(number: u64, at: f64, period: f64, jitter: f64) -> Self {
        let phase_var = jitter * jitter;
        Self {
            number,
            phase: at,
            period,
            phase_var,
            covar: 0.0,
            period_var: (OPENED * period).powi(2),
        }
    }

    /// Through another first clock, with the period as it was.
    pub(super) fn restarted(self, number: u64, at: f64, jitter: f64) -> Self {
        Self { number, phase: at, phase_var: jitter * jitter, covar: 0.0, ..self }
    }

    /// Before the clock after so many steps.
    pub(super) fn ahead(self, steps: f64, jitter: f64) -> Self {
        Self {
            number: self.number.saturating_add(steps as u64),
            phase: self.phase + steps * self.period,
            period: self.period,
            phase_var: self.phase_var + 2.0 * steps * self.covar + steps * steps * self.period_var,
            covar: self.covar + steps * self.period_var,
            period_var: self.period_var + steps * (WANDER * jitter).powi(2),
        }
    }

    /// Before the first clock after a gap of so many steps, in which the tempo may have changed and the
    /// machine may have begun its beat anew.
    pub(super) fn over_gap(self, steps: f64) -> Self {
        Self {
            number: self.number.saturating_add(steps as u64),
            phase: self.phase + steps * self.period,
            period: self.period,
            phase_var: (self.period / 2.0).powi(2),
            covar: 0.0,
            period_var: self.period_var + (OPENED_BY_GAP * self.period).powi(2),
        }
    }

    /// The variance of where its clock arrives.
    pub(super) fn spread(&self, jitter: f64) -> f64 {
        self.phase_var + jitter * jitter
    }

    /// After its clock has arrived.
    pub(super) fn taking(self, at: f64, jitter: f64) -> Self {
        let spread = self.spread(jitter);
        let far = FAR * spread.sqrt();
        let off = (at - self.phase).clamp(-far, far);
        let (to_phase, to_period) = (self.phase_var / spread, self.covar / spread);
        Self {
            number: self.number,
            phase: self.phase + to_phase * off,
            period: self.period + to_period * off,
            phase_var: self.phase_var * (1.0 - to_phase),
            covar: self.covar * (1.0 - to_phase),
            period_var: self.period_var - to_period * self.covar,
        }
    }

    /// With the period held in a range.
    pub(super) fn held(self, shortest: f64, longest: f64) -> Self {
        Self { period: self.period.clamp(shortest, longest), ..self }
    }

    /// With an open mind about the period, and a little less sure of the phase.
    pub(super) fn of_open_mind(self, jitter: f64) -> Self {
        Self {
            phase_var: self.phase_var + jitter * jitter,
            covar: 0.0,
            period_var: (OPENED * self.period).powi(2),
            ..self
        }
    }

    /// Moved by `jump`, with an open mind about the phase.
    pub(super) fn moved(self, jump: f64, jitter: f64) -> Self {
        Self {
            phase: self.phase + jump,
            phase_var: self.phase_var + jitter * jitter,
            covar: 0.0,
            ..self
        }
    }
}
