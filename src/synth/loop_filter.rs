use std::f64::consts::TAU;

/// Taps at most.
pub(super) const MAX_TAPS: usize = 36;

/// How many frames back the recursion of the finished filter looks: so many frames can be reckoned side by side.
pub(super) const RECURSION: usize = 4;

/// A filter with so many taps on either side of its middle is the longest.
const HALF: usize = 15;

/// Points between 0 Hz and half the rate at which a law of losses is read.
const POINTS: usize = 48;

/// Below so many frames of a round trip there is no room for a law: two averagers take its place.
const ROOM: f64 = 20.0;

/// Amplitudes fall by this factor's logarithm in a T60: ln 1000.
pub(super) const LN_1000: f64 = 6.907_755_278_982_137;

/// How long a string rings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Ring {
    /// Seconds in which a slow partial falls by 60 dB.
    pub low: f64,
    /// Seconds in which a partial at `bright_hz` falls by 60 dB. Not more than `low`.
    pub bright: f64,
    /// The frequency of `bright`, in hertz.
    pub bright_hz: f64,
    /// The coefficient of inharmonicity B: partial n lies at n·f·√(1 + B·n²).
    pub stiffness: f64,
}

/// The longest delay of the stiffness allpass at 0 Hz, in frames. A longer one bends the low partials
/// alone.
const STIFFEST: f64 = 6.0;

/// All that a vibration meets on one round trip of a string, the bridge excepted: a whole number of frames, one
/// FIR filter for the loss and the rest of the delay, and an allpass for the stiffness.
///
/// A string's own losses are those to the air, which are the same for all partials, and those within it, a fixed
/// share of the energy a cycle (Woodhouse, "On the synthesis of guitar plucks", Acta Acustica 90, 2004, eq. 8: T60 =
/// 13.8/(ω·η) with η = η_F + η_A/ω where the bending stiffness is small). So the decay rate is a + b·f, and what
/// lies high rings on: a law with f² takes the highs two to five times too soon. What is lost into the body, and
/// makes the lowest partials fall fast, is the bridge's.
///
/// The taps are the law's inverse Fourier transform, taken at the fractional place that the tuning asks for and
/// tapered by a Hann window. They are symmetric about that place, so the delay is the same for all partials, where
/// the classic loop's loss filter and tuning allpass detune the upper ones. In a very short round trip two
/// three-point averagers and a Lagrange interpolator stand in (Laakso, Välimäki, Karjalainen and Laine, "Splitting
/// the unit delay", IEEE Signal Processing Magazine 13(1), 1996). Last, the phase delay and the gain at the
/// fundamental are reckoned from the taps, and what is left of an error is taken back.
///
/// Stiffness lets the upper partials travel faster: a first-order allpass whose delay falls with
/// frequency as the string's does at low partials (after Jaffe and Smith's allpass for stiff strings).
/// Without it all partials stay in step and the tone buzzes.
///
/// An allpass waits for its own last frame out. The same response with the denominator 1 − a⁴·z⁻⁴ (both multiplied by
/// 1 − a·z⁻¹ + a²·z⁻² − a³·z⁻³) waits for the fourth last alone, and its numerator goes into the taps.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct LoopFilter {
    taps: [f32; MAX_TAPS],
    len: usize,
    delay: usize,
    feedback: f32,
}

impl LoopFilter {
    /// For a fundamental of `hz` at `rate` frames a second, on a bridge that turns the fundamental's phase by so many
    /// radians. `None` for a fundamental above a quarter of the rate, whose round trip is too short to reckon: it
    /// stays silent.
    pub fn new(rate: f64, hz: f64, ring: Ring, bridge: f64) -> Option<Self> {
        let period = rate / hz;
        if !(4.0..=1e6).contains(&period) {
            return None;
        }
        let slow = LN_1000 / ring.low;
        let inner = (LN_1000 / ring.bright - slow).max(0.0) / ring.bright_hz;
        let law = Law { slow: slow / hz, inner: inner / hz, rate };
        let aim = law.gain(hz);
        let bend = Bend::new(period, ring.stiffness);
        let omega = TAU / period;
        let period = period + bridge / omega - bend.phase_delay(omega);
        let kernel = Kernel::fitting(law, period);
        let whole = (period - kernel.centre()).floor().max(1.0);
        let mut place = period - whole;
        let mut taps = kernel.taps(place);
        for _ in 0..2 {
            let (_, phase_delay) = response(&taps, omega);
            place += period - whole - phase_delay;
            taps = kernel.taps(place);
        }
        let gain = aim / response(&taps, omega).0;
        // However it was rounded, no frequency may grow.
        let highest = (0..=32).map(|n| response(&taps, 1e-9 + TAU / 2.0 * f64::from(n) / 32.0).0);
        let highest = highest.fold(0.0, f64::max);
        let gain = if highest * gain < 0.999_8 { gain } else { 0.999_8 / highest };
        let a = bend.coefficient;
        let taps = convolve(&taps, &convolve(&[a, 1.0], &[1.0, -a, a * a, -a * a * a]));
        let mut out = Self {
            taps: [0.0; MAX_TAPS],
            len: taps.len(),
            delay: whole as usize,
            feedback: a.powi(4) as f32,
        };
        // The oldest frame meets the last tap: they stand here in the order of memory.
        for (to, from) in out.taps.iter_mut().zip(taps.iter().rev()) {
            *to = (from * gain) as f32;
        }
        // Whole groups of four: the padding lies beyond the oldest frame's end, at newer frames, so
        // it goes in front by making the reach longer.
        let padding = out.len.next_multiple_of(4) - out.len;
        out.taps.copy_within(0..out.len, padding);
        out.taps.iter_mut().take(padding).for_each(|tap| *tap = 0.0);
        out.len += padding;
        Some(out)
    }

    /// The taps from the oldest frame to the newest, a whole number of fours.
    pub fn taps(&self) -> &[f32] {
        self.taps.get(..self.len).unwrap_or(&self.taps)
    }

    /// What of its fourth last frame out the next one has, beside the taps' sum.
    pub const fn feedback(&self) -> f32 {
        self.feedback
    }

    /// How many frames ago the newest frame is that it needs.
    pub const fn delay(&self) -> usize {
        self.delay
    }

    /// How many frames ago the oldest frame is that it needs.
    pub const fn reach(&self) -> usize {
        self.delay + self.len - 1
    }
}

/// The allpass that bends the partials as stiffness does.
#[derive(Clone, Copy, Debug)]
struct Bend {
    coefficient: f64,
}

impl Bend {
    /// A first-order allpass with the delay D at 0 Hz delays by D − D·(D² − 1)/12·ω² at low ω. The
    /// string asks for −B·N³/(8·π²)·ω² at a round trip of N frames.
    fn new(period: f64, stiffness: f64) -> Self {
        let wanted = stiffness * period.powi(3) / (2.0 * TAU * TAU);
        let mut delay = 1.0;
        // Newton's method on D³ − D = 12·wanted, from above, where it is convex.
        if wanted > 0.0 {
            delay = 1.0 + (12.0 * wanted).cbrt();
            for _ in 0..20 {
                delay -=
                    (delay * (delay * delay - 1.0) - 12.0 * wanted) / (3.0 * delay * delay - 1.0);
            }
        }
        let longest = STIFFEST.min(period / 6.0).max(1.0);
        let delay = delay.clamp(1.0, longest);
        Self { coefficient: f64::from(((1.0 - delay) / (1.0 + delay)) as f32) }
    }

    fn phase_delay(self, omega: f64) -> f64 {
        let a = self.coefficient;
        let (sin, cos) = omega.sin_cos();
        // The phase of (a + e^−jω)/(1 + a·e^−jω), by its two halves.
        let above = (-sin).atan2(a + cos);
        let below = (-a * sin).atan2(1.0 + a * cos);
        (below - above) / omega
    }
}

/// What is left of a partial after a round trip, by its frequency.
#[derive(Clone, Copy, Debug)]
struct Law {
    /// Nepers a round trip at any frequency, and for each hertz more.
    slow: f64,
    inner: f64,
    rate: f64,
}

impl Law {
    fn gain(self, hz: f64) -> f64 {
        // The interpolator needs the last tenth of the band to be let go.
        let edge = ((hz / self.rate - 0.40) / 0.10).clamp(0.0, 1.0);
        (-self.slow - self.inner * hz).exp() * (1.0 - 0.7 * edge * edge)
    }
}

/// The kinds of loss filter by the room they have.
#[derive(Clone, Copy, Debug)]
enum Kernel {
    /// A law, and how many taps on either side.
    Law(Law, usize),
    /// Two averagers of half this variance each, and a Lagrange interpolator of this order.
    Averagers { variance: f64, order: usize },
}

impl Kernel {
    fn fitting(law: Law, period: f64) -> Self {
        if period >= ROOM {
            return Self::Law(law, HALF.min((period / 2.0) as usize - 3));
        }
        // Of the law, what it takes at an eighth of the rate: exp(−variance·ω²/2).
        let variance = (2.0 * law.inner * law.rate / 8.0 / (TAU / 8.0).powi(2)).min(0.5);
        let order = if period >= 16.0 {
            7
        } else if period >= 8.0 {
            3
        } else {
            1
        };
        Self::Averagers { variance, order }
    }

    /// Where in its taps its middle should lie, at least; at most half a frame, or one, later.
    fn centre(self) -> f64 {
        match self {
            Self::Law(_, half) => half as f64,
            Self::Averagers { order, .. } => (order / 2 + 2) as f64,
        }
    }

    /// The taps that delay by `place` frames.
    fn taps(self, place: f64) -> Vec<f64> {
        match self {
            Self::Law(law, half) => {
                let mut taps = vec![0.0; 2 * half + 2];
                for point in 0..POINTS {
                    let share = (point as f64 + 0.5) / POINTS as f64;
                    let gain = law.gain(share * law.rate / 2.0) / POINTS as f64;
                    // cos(ω·(k − place)) for each k, by turning.
                    let (step_sin, step_cos) = (TAU / 2.0 * share).sin_cos();
                    let (mut sin, mut cos) = (-TAU / 2.0 * share * place).sin_cos();
                    for tap in &mut taps {
                        *tap += gain * cos;
                        (sin, cos) =
                            (sin * step_cos + cos * step_sin, cos * step_cos - sin * step_sin);
                    }
                }
                for (tap, k) in taps.iter_mut().zip(0_u32..) {
                    let along = (f64::from(k) - place) / (half as f64 + 1.6);
                    let window =
                        if along.abs() < 1.0 { (TAU / 4.0 * along).cos().powi(2) } else { 0.0 };
                    *tap *= window;
                }
                taps
            }
            Self::Averagers { variance, order } => {
                let half = variance / 2.0;
                let average = [half / 2.0, 1.0 - half, half / 2.0];
                let twice = convolve(&average, &average);
                convolve(&twice, &lagrange(order, place - 2.0))
            }
        }
    }
}

/// Lagrange's interpolator of that order for a delay in frames.
fn lagrange(order: usize, delay: f64) -> Vec<f64> {
    let factor = |k: usize, m: usize| (delay - m as f64) / (k as f64 - m as f64);
    (0..=order).map(|k| (0..=order).filter(|&m| m != k).map(|m| factor(k, m)).product()).collect()
}

fn convolve(a: &[f64], b: &[f64]) -> Vec<f64> {
    let mut out = vec![0.0; a.len() + b.len() - 1];
    for (i, x) in a.iter().enumerate() {
        for (to, y) in out.iter_mut().skip(i).zip(b) {
            *to += x * y;
        }
    }
    out
}

/// Gain and phase delay in frames at `omega` radians a frame.
fn response(taps: &[f64], omega: f64) -> (f64, f64) {
    let centre = taps.len() as f64 / 2.0;
    let (step_sin, step_cos) = omega.sin_cos();
    let (mut sin, mut cos) = (-omega * centre).sin_cos();
    let (mut re, mut im) = (0.0, 0.0);
    for tap in taps {
        re += tap * cos;
        im -= tap * sin;
        (sin, cos) = (sin * step_cos + cos * step_sin, cos * step_cos - sin * step_sin);
    }
    (re.hypot(im), centre - im.atan2(re) / omega)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Gain and phase delay of the finished filter, all delay included.
    fn whole(filter: &LoopFilter, omega: f64) -> (f64, f64) {
        let taps: Vec<f64> = filter.taps().iter().rev().map(|&tap| f64::from(tap)).collect();
        let (gain, delay) = response(&taps, omega);
        // 1 / (1 − feedback·e^−4jω)
        let (sin, cos) = (4.0 * omega).sin_cos();
        let feedback = f64::from(filter.feedback());
        let (re, im) = (1.0 - feedback * cos, feedback * sin);
        (gain / re.hypot(im), delay + filter.delay() as f64 + im.atan2(re) / omega)
    }

    #[test]
    fn delay_and_loss_are_as_asked_at_the_fundamental() {
        let ring = Ring { low: 2.5, bright: 0.4, bright_hz: 2_000.0, stiffness: 5e-5 };
        for rate in [44_100.0, 48_000.0, 96_000.0] {
            for note in 21..=96 {
                let hz = 440.0 * (f64::from(note - 69) / 12.0).exp2();
                let filter = LoopFilter::new(rate, hz, ring, 0.0).unwrap();
                let (gain, delay) = whole(&filter, TAU * hz / rate);
                let cents = 1200.0 * (rate / hz / delay).log2();
                assert!(cents.abs() < 0.01, "note {note} at {rate}: {cents} cents");
                assert!(gain < 1.0 && gain > 0.8, "note {note} at {rate}: {gain}");
                assert!(filter.delay() >= 1 && filter.taps().len().is_multiple_of(4));
            }
        }
    }

    #[test]
    fn nothing_grows_at_any_frequency() {
        for (low, bright) in [(6.0, 6.0), (6.0, 0.5), (1.0, 0.02), (60.0, 30.0)] {
            for hundredths in 400..3_000 {
                let period = f64::from(hundredths) / 100.0 * 7.3 / 5.0;
                let ring = Ring { low, bright, bright_hz: 2_000.0, stiffness: 5e-5 };
                let Some(filter) = LoopFilter::new(48_000.0, 48_000.0 / period, ring, 0.0) else {
                    continue;
                };
                for step in 0..=64 {
                    let (gain, _) = whole(&filter, 1e-9 + TAU / 2.0 * f64::from(step) / 64.0);
                    assert!(gain < 1.0, "period {period}, step {step}: {gain}");
                }
            }
        }
    }

    #[test]
    fn partials_fall_by_the_law() {
        // At 6 kHz a 110 Hz string is asked to fall by 60 dB in 0.8 s. Below 1.5 kHz the few taps know one loss alone,
        // so what lies above falls a little less than it should.
        let ring = Ring { low: 4.0, bright: 0.8, bright_hz: 5_940.0, stiffness: 5e-5 };
        let filter = LoopFilter::new(48_000.0, 110.0, ring, 0.0).unwrap();
        let (gain, _) = whole(&filter, TAU * 5_940.0 / 48_000.0);
        let seconds = LN_1000 / (-gain.ln() * 110.0);
        assert!((0.75..0.95).contains(&seconds), "{seconds}");
    }

    #[test]
    fn stiffness_raises_the_upper_partials() {
        // At 196 Hz a B of 5e-5 raises partial 5 by 866·B·(25 − 1) = 1.04 cents above the first.
        let ring = Ring { low: 4.0, bright: 0.8, bright_hz: 2_000.0, stiffness: 5e-5 };
        let filter = LoopFilter::new(48_000.0, 196.0, ring, 0.0).unwrap();
        let omega = TAU * 196.0 / 48_000.0;
        let (first, fifth) = (whole(&filter, omega).1, whole(&filter, 5.0 * omega).1);
        let cents = 1_200.0 * (first / fifth).log2();
        assert!((cents - 1.04).abs() < 0.15, "{cents}");
    }

    #[test]
    fn too_high_a_note_is_none() {
        let ring = Ring { low: 1.0, bright: 0.5, bright_hz: 2_000.0, stiffness: 5e-5 };
        assert!(LoopFilter::new(8_000.0, 2_500.0, ring, 0.0).is_none());
    }
}
