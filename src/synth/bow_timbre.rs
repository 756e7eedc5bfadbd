use super::body::BodyShape;
use super::body_modes::{FIDDLE, HUM};

/// A value for the softest and for the hardest stroke; in between it changes evenly with velocity.
pub(super) type Strengths = (f64, f64);

/// What makes a bowed instrument sound like itself, or a voice that sustains as a bow does.
///
/// As with the plucked ones, the numbers were set by looking and by what is known of the
/// instruments; none is from one published measurement.
#[derive(Clone, Copy, Debug)]
pub(super) struct BowTimbre {
    /// Milliseconds in which the tone grows to its full strength.
    pub attack_ms: Strengths,
    /// The bow's scratch before the string has settled into its motion: its force beside the tone's, and
    /// the milliseconds in which it falls to a third.
    pub scratch: (f64, f64),
    /// How unsteady the tone is while it grows, 0 to 1.
    pub unsteady: f64,
    /// The hiss of the hairs, which comes in bursts, as the string slips: its force beside the tone's.
    pub hiss: f64,
    /// Above this, in hertz, the tone is rounded off, at 12 dB an octave.
    pub round_hz: Strengths,
    /// The noise's highest hertz.
    pub noise_hz: f64,
    /// How far the finger rocks up and down in cents, how often a second, and after how many seconds it
    /// begins.
    pub vibrato: (f64, f64, f64),
    /// Milliseconds in which the string falls by 60 dB once the bow has left it.
    pub release_ms: f64,
    /// The same for a note that ends within [`CHOP_MS`](super::bow_voice::CHOP_MS): the bow stays and
    /// chokes it.
    pub choke_ms: f64,
    /// Gain of the whole instrument, which balances the band.
    pub level: f64,
    /// What goes into the room, beside what goes straight to the ear.
    pub room: f64,
    /// The body.
    pub body: &'static BodyShape,
}

impl BowTimbre {
    /// Fiddle.
    pub const FIDDLE: Self = Self {
        attack_ms: (72.0, 52.0),
        scratch: (1.6, 22.0),
        unsteady: 0.70,
        hiss: 0.10,
        round_hz: (2_600.0, 6_500.0),
        noise_hz: 5_000.0,
        vibrato: (11.0, 5.6, 0.42),
        release_ms: 230.0,
        choke_ms: 75.0,
        level: 0.45,
        room: 0.14,
        body: &FIDDLE,
    };

    /// A hummed tone: it grows softly, with a breath in place of the bow's scratch.
    pub const HUM: Self = Self {
        attack_ms: (80.0, 55.0),
        scratch: (0.05, 25.0),
        unsteady: 0.10,
        hiss: 0.03,
        round_hz: (650.0, 1_300.0),
        noise_hz: 2_500.0,
        vibrato: (16.0, 5.0, 0.50),
        release_ms: 180.0,
        choke_ms: 120.0,
        level: 0.33,
        room: 0.14,
        body: &HUM,
    };

    /// A value at a hardness of 0 to 1.
    pub fn at(strengths: Strengths, hardness: f64) -> f64 {
        strengths.0 + (strengths.1 - strengths.0) * hardness
    }
}
