use std::f64::consts::TAU;

/// Taps at most: a Gaussian of variance [`WIDEST`] to 3.6 deviations on both sides.
pub(super) const MAX_TAPS: usize = 32;

/// The largest variance of a loss filter, in frames squared. More damping than it gives at high
/// frequencies is not heard in the lowest notes.
const WIDEST: f64 = 16.0;

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

/// All that a vibration meets on one round trip of a string: a whole number of frames, one FIR filter
/// for the loss and the rest of the delay, and an allpass for the stiffness.
///
/// Partials decay at the rate b1 + b3·ω², the law of a string with air and inner losses (Bensa,
/// Bilbao, Kronland-Martinet and Smith, "The simulation of piano string vibration", J. Acoust. Soc.
/// Am. 114(2), 2003). Per trip that is a gain of exp(−(b1 + b3·ω²)/f), a Gaussian in frequency, so
/// its impulse response is a Gaussian in time as well. It is symmetric: the delay is the same for
/// all partials and known exactly, where the classic loop's loss filter and tuning allpass detune
/// the upper ones. A wide Gaussian is sampled at its fractional place. A narrow one is made of two
/// three-point averagers, and a Lagrange interpolator sets the fraction (Laakso, Välimäki,
/// Karjalainen and Laine, "Splitting the unit delay", IEEE Signal Processing Magazine 13(1), 1996);
/// of odd order and centred, it never amplifies. Last, the phase delay and the gain at the fundamental
/// are reckoned from the taps, and what is left of an error is taken back.
///
/// Stiffness lets the upper partials travel faster: a first-order allpass whose delay falls with
/// frequency as the string's does at low partials (after Jaffe and Smith's allpass for stiff strings).
/// Without it all partials stay in step and the tone buzzes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct LoopFilter {
    taps: [f32; MAX_TAPS],
    len: usize,
    delay: usize,
    allpass: f32,
}

impl LoopFilter {
    /// For a fundamental of `hz` at `rate` frames a second. `None` for a fundamental above a
    /// quarter of the rate, whose round trip is too short to reckon: it stays silent.
    pub fn new(rate: f64, hz: f64, ring: Ring) -> Option<Self> {
        let period = rate / hz;
        if !(4.0..=1e6).contains(&period) {
            return None;
        }
        let slow = LN_1000 / ring.low;
        let viscous = (LN_1000 / ring.bright - slow).max(0.0) / (TAU * ring.bright_hz).powi(2);
        let variance = (2.0 * viscous * rate * rate / hz).min(WIDEST).min((period / 12.0).powi(2));
        let aim = (-(slow + viscous * (TAU * hz).powi(2)) / hz).exp();
        let bend = Bend::new(period, ring.stiffness);
        let round_trip = period;
        let period = period - bend.phase_delay(TAU / period);
        let kernel = Kernel::fitting(variance, period);
        let whole = (period - kernel.centre()).floor().max(1.0);
        let omega = TAU / round_trip;
        let mut place = period - whole;
        let mut taps = kernel.taps(place);
        for _ in 0..3 {
            let (_, phase_delay) = response(&taps, omega);
            place += period - whole - phase_delay;
            taps = kernel.taps(place);
        }
        let gain = aim / response(&taps, omega).0;
        // However it was rounded, no frequency may grow: the taps' sum is the gain at 0 Hz.
        let sum: f64 = taps.iter().sum();
        let gain = if sum * gain < 0.999_999 { gain } else { 0.999_999 / sum };
        let mut out = Self {
            taps: [0.0; MAX_TAPS],
            len: taps.len(),
            delay: whole as usize,
            allpass: bend.coefficient as f32,
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

    /// The allpass's coefficient a in H(z) = (a + z⁻¹)/(1 + a·z⁻¹).
    pub const fn allpass(&self) -> f32 {
        self.allpass
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

/// The kinds of loss filter by their width.
#[derive(Clone, Copy, Debug)]
enum Kernel {
    /// A Gaussian of this variance and half length.
    Gaussian { variance: f64, half: usize },
    /// Two averagers of half this variance each, and a Lagrange interpolator of this order.
    Averagers { variance: f64, order: usize },
}

impl Kernel {
    fn fitting(variance: f64, period: f64) -> Self {
        // Sampled at a variance of 1, a Gaussian's alias at the fundamental is below 1e-8.
        if variance >= 1.0 {
            Self::Gaussian { variance, half: (3.6 * variance.sqrt()).ceil() as usize }
        } else if period >= 16.0 {
            Self::Averagers { variance, order: 7 }
        } else if period >= 8.0 {
            Self::Averagers { variance, order: 3 }
        } else {
            Self::Averagers { variance, order: 1 }
        }
    }

    /// Where in its taps its middle should lie, at least; at most half a frame, or one, later.
    fn centre(self) -> f64 {
        match self {
            Self::Gaussian { half, .. } => half as f64,
            Self::Averagers { order, .. } => (order / 2 + 2) as f64,
        }
    }

    /// The taps that delay by `place` frames.
    fn taps(self, place: f64) -> Vec<f64> {
        match self {
            Self::Gaussian { variance, half } => {
                let weight = |k| (-(k as f64 - place).powi(2) / (2.0 * variance)).exp();
                let taps: Vec<f64> = (0..2 * half + 2).map(weight).collect();
                let sum: f64 = taps.iter().sum();
                taps.into_iter().map(|tap| tap / sum).collect()
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
    let (mut re, mut im) = (0.0, 0.0);
    for (k, tap) in taps.iter().enumerate() {
        let (sin, cos) = (omega * (k as f64 - centre)).sin_cos();
        re += tap * cos;
        im -= tap * sin;
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
        let bend = Bend { coefficient: f64::from(filter.allpass()) };
        (gain, delay + filter.delay() as f64 + bend.phase_delay(omega))
    }

    #[test]
    fn delay_and_loss_are_as_asked_at_the_fundamental() {
        let ring = Ring { low: 2.5, bright: 0.4, bright_hz: 2_000.0, stiffness: 5e-5 };
        for rate in [44_100.0, 48_000.0, 96_000.0] {
            for note in 21..=96 {
                let hz = 440.0 * (f64::from(note - 69) / 12.0).exp2();
                let filter = LoopFilter::new(rate, hz, ring).unwrap();
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
                let Some(filter) = LoopFilter::new(48_000.0, 48_000.0 / period, ring) else {
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
        // At 2 kHz a 110 Hz string is asked to fall by 60 dB in 0.8 s.
        let ring = Ring { low: 4.0, bright: 0.8, bright_hz: 1_980.0, stiffness: 5e-5 };
        let filter = LoopFilter::new(48_000.0, 110.0, ring).unwrap();
        let (gain, _) = whole(&filter, TAU * 1_980.0 / 48_000.0);
        let seconds = LN_1000 / (-gain.ln() * 110.0);
        assert!((seconds - 0.8).abs() < 0.04, "{seconds}");
    }

    #[test]
    fn stiffness_raises_the_upper_partials() {
        // At 196 Hz a B of 5e-5 raises partial 5 by 866·B·(25 − 1) = 1.04 cents above the first.
        let ring = Ring { low: 4.0, bright: 0.8, bright_hz: 2_000.0, stiffness: 5e-5 };
        let filter = LoopFilter::new(48_000.0, 196.0, ring).unwrap();
        let omega = TAU * 196.0 / 48_000.0;
        let (first, fifth) = (whole(&filter, omega).1, whole(&filter, 5.0 * omega).1);
        let cents = 1_200.0 * (first / fifth).log2();
        assert!((cents - 1.04).abs() < 0.15, "{cents}");
    }

    #[test]
    fn too_high_a_note_is_none() {
        let ring = Ring { low: 1.0, bright: 0.5, bright_hz: 2_000.0, stiffness: 5e-5 };
        assert!(LoopFilter::new(8_000.0, 2_500.0, ring).is_none());
    }
}
