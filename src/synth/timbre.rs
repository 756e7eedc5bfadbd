use super::body::BodyShape;
use super::body_modes::{BANJO, BASS, GUITAR, MANDOLIN, RESONATOR};
use super::loop_filter::Ring;
use super::pluck::Excitation;

/// A value at the low and at the high end of an instrument's range; in between it changes evenly
/// from semitone to semitone.
type Ends = (f64, f64);

/// What makes an instrument sound like itself.
///
/// The numbers were set by looking: spectrograms, decay times and levels of rendered notes beside
/// what is known of the instruments. None is from one published measurement.
#[derive(Clone, Copy, Debug)]
pub(super) struct Timbre {
    /// The notes between which [`Ends`] are counted.
    pub range: (u8, u8),
    /// Seconds in which a slow partial falls by 60 dB.
    pub ring: Ends,
    /// Seconds in which a partial at `bright_hz` falls by 60 dB.
    pub bright_ring: Ends,
    /// Hertz.
    pub bright_hz: f64,
    /// The coefficient of inharmonicity of its strings.
    pub stiffness: f64,
    /// Plucking point from the bridge, as a share of the sounding length.
    pub position: Ends,
    /// Milliseconds of letting go, at the softest and the hardest stroke.
    pub release_ms: Ends,
    /// The plectrum's or finger's scrape: its force, milliseconds and highest hertz.
    pub scrape: (f64, f64, f64),
    /// How the stroke knocks on the body.
    pub knock: f64,
    /// Cents by which the first and the second string of the pair lie off the note. What is heard
    /// is their mean by loudness: the note.
    pub detune: (f64, f64),
    /// Milliseconds after which the second string of a pair is struck.
    pub lag_ms: f64,
    /// The second string's share in the sound.
    pub second: f64,
    /// How much faster the second string falls.
    pub second_fall: f64,
    /// Milliseconds in which a damped note falls by 60 dB.
    pub damp_ms: f64,
    /// Seconds in which a partial at `bright_hz` falls by 60 dB under the damping hand, by the
    /// flesh on the string alone.
    pub damp_bright: f64,
    /// Gain of the whole instrument, which balances the band.
    pub level: f64,
    /// What goes into the room, beside what goes straight to the ear.
    pub room: f64,
    /// The body.
    pub body: &'static BodyShape,
}

impl Timbre {
    /// Upright bass, plucked with the side of the finger over the end of the fingerboard.
    pub const BASS: Self = Self {
        range: (28, 55),
        ring: (3.2, 1.6),
        bright_ring: (0.8, 0.7),
        bright_hz: 700.0,
        stiffness: 5e-5,
        position: (0.22, 0.30),
        release_ms: (2.0, 0.8),
        scrape: (0.05, 6.0, 900.0),
        knock: 0.10,
        detune: (0.05, -0.6),
        lag_ms: 0.0,
        second: 0.35,
        second_fall: 2.2,
        damp_ms: 170.0,
        damp_bright: 0.06,
        level: 1.25,
        room: 0.05,
        body: &BASS,
    };

    /// Mandolin: pairs of strings, a stiff plectrum.
    pub const MANDOLIN: Self = Self {
        range: (55, 88),
        ring: (2.4, 1.3),
        bright_ring: (0.9, 0.6),
        bright_hz: 3_000.0,
        stiffness: 5e-5,
        position: (0.16, 0.26),
        release_ms: (0.40, 0.12),
        scrape: (0.20, 2.5, 9_000.0),
        knock: 0.30,
        // The later string is the higher one and catches up: no beat falls into the first second.
        detune: (-0.7, 0.7),
        lag_ms: 0.1,
        second: 0.85,
        second_fall: 1.0,
        damp_ms: 90.0,
        damp_bright: 0.03,
        level: 0.62,
        room: 0.10,
        body: &MANDOLIN,
    };

    /// Steel-string guitar, flat-picked.
    pub const GUITAR: Self = Self {
        range: (40, 80),
        ring: (5.5, 2.2),
        bright_ring: (2.0, 1.2),
        bright_hz: 2_500.0,
        stiffness: 5e-5,
        position: (0.17, 0.26),
        release_ms: (0.50, 0.12),
        scrape: (0.22, 3.0, 8_000.0),
        knock: 0.12,
        detune: (0.06, -0.6),
        lag_ms: 0.0,
        second: 0.45,
        second_fall: 2.0,
        damp_ms: 140.0,
        damp_bright: 0.05,
        level: 0.52,
        room: 0.10,
        body: &GUITAR,
    };

    /// Five-string banjo, metal picks near the bridge. A head takes the strings' motion away faster than
    /// wood does: loud at once, gone within a second or so. The short fifth string is no other string
    /// to the ear than the first.
    pub const BANJO: Self = Self {
        range: (48, 86),
        ring: (1.7, 0.8),
        bright_ring: (0.75, 0.42),
        bright_hz: 3_000.0,
        stiffness: 4e-5,
        position: (0.09, 0.15),
        release_ms: (0.22, 0.07),
        scrape: (0.22, 1.6, 11_000.0),
        knock: 0.18,
        detune: (0.06, -0.6),
        lag_ms: 0.0,
        second: 0.50,
        second_fall: 2.0,
        damp_ms: 80.0,
        damp_bright: 0.03,
        level: 1.00,
        room: 0.10,
        body: &BANJO,
    };

    /// Resonator guitar: a metal cone under a guitar's strings, louder in the middle, and a steel bar in
    /// place of fingers, under which notes ring long.
    pub const RESONATOR: Self = Self {
        range: (43, 80),
        ring: (6.5, 3.2),
        bright_ring: (2.6, 1.7),
        bright_hz: 2_500.0,
        stiffness: 5e-5,
        position: (0.12, 0.20),
        release_ms: (0.35, 0.09),
        scrape: (0.18, 2.5, 9_000.0),
        knock: 0.10,
        detune: (0.06, -0.6),
        lag_ms: 0.0,
        second: 0.50,
        second_fall: 1.7,
        damp_ms: 140.0,
        damp_bright: 0.05,
        level: 0.50,
        room: 0.12,
        body: &RESONATOR,
    };

    /// A value at a note.
    fn at(self, ends: Ends, note: u8) -> f64 {
        let (low, high) = (f64::from(self.range.0), f64::from(self.range.1));
        let along = ((f64::from(note) - low) / (high - low)).clamp(0.0, 1.0);
        ends.0 + (ends.1 - ends.0) * along
    }

    /// How the first or the second string of a pair rings when left alone.
    pub fn ring(self, note: u8, string: usize) -> Ring {
        let fall = if string == 0 { 1.0 } else { self.second_fall };
        Ring {
            low: self.at(self.ring, note) / fall,
            bright: self.at(self.bright_ring, note) / fall,
            bright_hz: self.bright_hz,
            stiffness: self.stiffness,
        }
    }

    /// How it rings under the damping hand, which first takes the highs.
    pub fn damped_ring(self, note: u8, string: usize) -> Ring {
        let open = self.ring(note, string);
        Ring { bright: self.damp_bright.min(open.bright), ..open }
    }

    /// The stroke of a note of `hz`, `velocity` 1 to 127, at `rate` frames a second.
    pub fn stroke(self, note: u8, hz: f64, velocity: u8, rate: f64, seed: u64) -> Excitation {
        let hardness = f64::from(velocity) / 127.0;
        let millis = rate / 1_000.0;
        let release = self.release_ms.0 + (self.release_ms.1 - self.release_ms.0) * hardness;
        let (scrape, scrape_ms, scrape_hz) = self.scrape;
        Excitation {
            period: rate / hz,
            position: self.at(self.position, note),
            release: release * millis,
            // From softest to hardest about 30 dB in all, 6 dB from 64 to 100.
            strength: hardness.powf(1.5),
            lag: self.lag_ms * millis,
            scrape: scrape * (0.4 + 0.6 * hardness),
            scrape_frames: scrape_ms * millis,
            scrape_colour: scrape_hz / rate,
            knock: self.knock,
            seed,
        }
    }
}
