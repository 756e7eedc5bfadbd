/// Follows where a player's beat lies: an offset and the rate at which it drifts, both corrected by each
/// stroke (a Kalman filter of constant velocity, as textbooks have it).
#[derive(Clone, Debug)]
pub(super) struct Follower {
    /// The time that the state is of, in seconds.
    time: f64,
    /// Where the grid lies, in seconds.
    offset: f64,
    /// By how much that grows in a second.
    rate: f64,
    /// How unsure both are: variances of offset and rate, and their covariance.
    cov: (f64, f64, f64),
    /// For how long it drifts on without strokes, in seconds.
    memory: f64,
}

impl Follower {
    /// A stroke further than this share of a gap from every place lies between two and says nothing.
    pub(super) const GATE: f64 = 0.38;

    /// How far a stroke lies from the beat that a player means, in seconds (standard deviation).
    const STROKE: f64 = 0.015;
    /// How much a player's tempo changes in a second, as a share (standard deviation).
    const RATE_WANDERS: f64 = 0.002;
    /// How much the beat itself moves in a second, in seconds (standard deviation).
    const BEAT_WANDERS: f64 = 0.003;
    /// Without strokes for longer than this, in seconds, a player who hears the band goes by that, not by an own beat.
    pub(super) const MEMORY: f64 = 4.0;
    /// The furthest from the tempo asked for that is followed.
    const WIDEST: f64 = 0.06;

    /// At a time, with an offset and a rate to begin with.
    pub(super) const fn new(time: f64, offset: f64, rate: f64) -> Self {
        Self { time, offset, rate, cov: (4e-4, 0.0, 1e-5), memory: Self::MEMORY }
    }

    /// The same of somebody who hears no band, and keeps an own beat through every rest.
    pub(super) const fn alone(self) -> Self {
        Self { memory: f64::INFINITY, ..self }
    }

    /// The offset to be expected at a time.
    pub(super) fn at(&self, time: f64) -> f64 {
        self.offset + self.drift(time - self.time)
    }

    /// How far the beat drifts in a time: at the present rate, but no further once that is forgotten.
    fn drift(&self, span: f64) -> f64 {
        self.rate * span.clamp(-self.memory, self.memory)
    }

    /// The grid lies elsewhere by so many seconds; how fast it drifts stays as it was.
    pub(super) const fn moved(&mut self, by: f64) {
        self.offset += by;
        self.cov.0 = 4e-4;
        self.cov.1 = 0.0;
    }

    /// A stroke `late` seconds after what was expected.
    pub(super) fn saw(&mut self, time: f64, late: f64) {
        let span = time - self.time;
        let length = span.abs();
        let (offset, both, rate) = self.cov;
        let wander = Self::RATE_WANDERS * Self::RATE_WANDERS * length;
        let offset = offset
            + 2.0 * both * span
            + rate * span * span
            + Self::BEAT_WANDERS * Self::BEAT_WANDERS * length
            + wander * span * span / 3.0;
        let both = both + rate * span + wander * span / 2.0;
        let rate = rate + wander;
        let noise = offset + Self::STROKE * Self::STROKE;
        let (gain, gain_rate) = (offset / noise, both / noise);
        self.offset = self.at(time) + gain * late;
        self.rate = (self.rate + gain_rate * late).clamp(-Self::WIDEST, Self::WIDEST);
        self.time = time;
        self.cov = (offset * (1.0 - gain), both * (1.0 - gain), rate - gain_rate * both);
    }
}
