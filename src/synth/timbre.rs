use super::body::BodyShape;
use super::body_modes::{BANJO, BASS, GUITAR, MANDOLIN, RESONATOR};
use super::loop_filter::Ring;
use super::pluck::Excitation;
use crate::hash::mix;

/// A value at the low and at the high end of an instrument's range; in between it changes evenly
/// from semitone to semitone.
type Ends = (f64, f64);

/// What makes an instrument sound like itself.
///
/// The numbers were set by measuring: rise, octave spectra, decay times and levels of rendered notes beside those of
/// recorded ones (the bank FluidR3's banjo, steel guitar and bass). Bodies are in `body_modes.rs`, with their
/// sources.
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
    /// What of the scrape knocks on the body.
    pub knock: f64,
    /// The push of the stroke on the body: its force, and milliseconds.
    pub thump: (f64, f64),
    /// The share of the pull that is along the top, as the sine of its angle.
    pub along: f64,
    /// Cents by which the plane at right angles to the top and the one along it lie off the note.
    pub planes: (f64, f64),
    /// Of a course of two strings, the cents by which the first and the second lie off the note, and the milliseconds
    /// after which the second is struck.
    pub course: Option<(f64, f64, f64)>,
    /// Milliseconds in which a damped note falls by 60 dB.
    pub damp_ms: f64,
    /// Seconds in which a partial at `bright_hz` falls by 60 dB under the damping hand, by the
    /// flesh on the string alone.
    pub damp_bright: f64,
    /// The push of the damping hand on the body: its force beside the stroke's, and milliseconds.
    pub landing: (f64, f64),
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
        ring: (10.0, 7.0),
        bright_ring: (2.4, 2.1),
        bright_hz: 1_000.0,
        stiffness: 9e-5,
        position: (0.23, 0.31),
        release_ms: (8.0, 0.8),
        scrape: (0.1, 3.0, 2_200.0),
        knock: 0.9,
        thump: (0.32, 16.0),
        along: 0.6,
        planes: (0.2, -0.6),
        course: None,
        damp_ms: 150.0,
        damp_bright: 0.05,
        landing: (0.04, 20.0),
        level: 3.1,
        room: 0.05,
        body: &BASS,
    };

    /// Mandolin: pairs of strings, a stiff plectrum.
    pub const MANDOLIN: Self = Self {
        range: (55, 88),
        ring: (5.0, 3.0),
        bright_ring: (2.2, 1.4),
        bright_hz: 3_000.0,
        stiffness: 8e-5,
        position: (0.16, 0.26),
        release_ms: (0.42, 0.14),
        scrape: (0.25, 4.0, 9_000.0),
        knock: 0.35,
        thump: (0.10, 1.5),
        along: 0.6,
        planes: (0.3, -0.4),
        course: Some((-0.5, 0.6, 0.35)),
        damp_ms: 75.0,
        damp_bright: 0.025,
        landing: (0.03, 3.0),
        level: 1.75,
        room: 0.10,
        body: &MANDOLIN,
    };

    /// Steel-string guitar, flat-picked.
    pub const GUITAR: Self = Self {
        range: (40, 80),
        ring: (22.0, 5.0),
        bright_ring: (1.4, 2.0),
        bright_hz: 4_000.0,
        stiffness: 6e-5,
        position: (0.13, 0.22),
        release_ms: (0.25, 0.125),
        scrape: (0.22, 3.0, 9_000.0),
        knock: 0.12,
        thump: (0.05, 3.0),
        along: 0.55,
        planes: (0.2, -0.5),
        course: None,
        damp_ms: 140.0,
        damp_bright: 0.05,
        landing: (0.01, 10.0),
        level: 2.9,
        room: 0.10,
        body: &GUITAR,
    };

    /// Five-string banjo, metal picks near the bridge. Its head takes from the plane at right angles to it within
    /// tenths of a second, and hardly anything from the other: loud at once, and an after-sound of seconds. The short
    /// fifth string is no other string to the ear than the first.
    pub const BANJO: Self = Self {
        range: (48, 86),
        ring: (5.7, 4.4),
        bright_ring: (2.9, 2.5),
        bright_hz: 3_000.0,
        stiffness: 4e-5,
        position: (0.10, 0.16),
        release_ms: (1.0, 0.05),
        scrape: (0.29, 1.4, 11_000.0),
        knock: 0.38,
        thump: (0.15, 1.2),
        along: 0.58,
        planes: (0.0, 0.0),
        course: None,
        damp_ms: 80.0,
        damp_bright: 0.03,
        landing: (0.012, 4.0),
        level: 3.43,
        room: 0.10,
        body: &BANJO,
    };

    /// Resonator guitar: a metal cone under a guitar's strings, louder in the middle, and a steel bar in
    /// place of fingers, under which notes ring long.
    pub const RESONATOR: Self = Self {
        range: (43, 80),
        ring: (9.0, 5.0),
        bright_ring: (3.0, 2.4),
        bright_hz: 3_000.0,
        stiffness: 5e-5,
        position: (0.10, 0.18),
        release_ms: (0.60, 0.083),
        scrape: (0.18, 2.5, 9_000.0),
        knock: 0.10,
        thump: (0.05, 2.0),
        along: 0.60,
        planes: (0.2, -0.5),
        course: None,
        damp_ms: 140.0,
        damp_bright: 0.05,
        landing: (0.01, 5.0),
        level: 2.5,
        room: 0.12,
        body: &RESONATOR,
    };

    /// A value at a note.
    fn at(self, ends: Ends, note: u8) -> f64 {
        let (low, high) = (f64::from(self.range.0), f64::from(self.range.1));
        let along = ((f64::from(note) - low) / (high - low)).clamp(0.0, 1.0);
        ends.0 + (ends.1 - ends.0) * along
    }

    /// How a string of it rings when left alone on a bridge that does not give way.
    pub fn ring(self, note: u8) -> Ring {
        Ring {
            low: self.at(self.ring, note),
            bright: self.at(self.bright_ring, note),
            bright_hz: self.bright_hz,
            stiffness: self.stiffness,
        }
    }

    /// How it rings under the damping hand, which first takes the highs.
    pub fn damped_ring(self, note: u8) -> Ring {
        let open = self.ring(note);
        Ring { bright: self.damp_bright.min(open.bright), ..open }
    }

    /// By how many cents a plane lies off the note: of each string first the one at right angles to the top.
    pub fn cents_off(self, plane: usize) -> f64 {
        let (first, second, _) = self.course.unwrap_or_default();
        let string = if plane < 2 { first } else { second };
        string + if plane.is_multiple_of(2) { self.planes.0 } else { self.planes.1 }
    }

    /// The stroke of a note of `hz`, `velocity` 1 to 127, at `rate` frames a second. Its place, its angle and its
    /// edge are drawn anew by `seed`: no hand strikes the same twice.
    pub fn stroke(
        self,
        note: u8,
        hz: f64,
        velocity: u8,
        way: Way,
        rate: f64,
        seed: u64,
    ) -> Excitation {
        let hardness = f64::from(velocity) / 127.0;
        let millis = rate / 1_000.0;
        let mut drawn = (1_u64..).map(|n| {
            let bits = mix(seed ^ n.wrapping_mul(0x9E37_79B9_7F4A_7C15)) >> 11;
            bits as f64 / (1_u64 << 53) as f64 * 2.0 - 1.0
        });
        let mut by = |spread: f64| (spread * drawn.next().unwrap_or(0.0)).exp2();
        let up = way == Way::Up;
        let release = self.release_ms.0 * (self.release_ms.1 / self.release_ms.0).powf(hardness);
        let (scrape, scrape_ms, scrape_hz) = self.scrape;
        let position = self.at(self.position, note) * by(PLACE) * if up { UP_PLACE } else { 1.0 };
        let along = (self.along * by(ANGLE) * if up { UP_ANGLE } else { 1.0 }).min(0.97);
        let scraped = by(SCRAPE) * (0.35 + 0.65 * hardness) * if up { UP_SCRAPE } else { 1.0 };
        Excitation {
            period: rate / hz,
            position: position.clamp(0.02, 0.5),
            release: (release * by(EDGE) * millis * if up { UP_EDGE } else { 1.0 })
                .min(LONGEST_EDGE * rate / hz),
            // From softest to hardest about 30 dB in all, 6 dB from 64 to 100.
            strength: hardness.powf(1.5),
            lag: self.course.map_or(0.0, |(_, _, lag)| lag) * by(EDGE) * millis,
            scrape: scrape * scraped,
            scrape_frames: scrape_ms * by(SCRAPE) * millis,
            scrape_colour: scrape_hz / rate,
            knock: self.knock * (0.45 + 0.7 * hardness),
            planes: [(1.0 - along * along).sqrt(), along],
            thump: (
                self.thump.0 * by(SCRAPE) * if up { UP_THUMP } else { 1.0 },
                self.thump.1 * millis,
            ),
            seed,
        }
    }

    /// What the left hand gives to a string that goes on as a note of `hz`, after one of `from` hertz, where a pick
    /// would have given `stroke`.
    pub fn touch(stroke: Excitation, hz: f64, from: f64, slid: bool, rate: f64) -> Excitation {
        let millis = rate / 1_000.0;
        let quiet = Excitation { scrape: 0.0, thump: (0.0, 1.0), lag: 0.0, ..stroke };
        if slid {
            // The flesh rubs from fret to fret.
            let scrape = stroke.scrape * 0.5;
            Excitation {
                strength: stroke.strength * SLID,
                scrape,
                scrape_frames: 12.0 * millis,
                ..quiet
            }
        } else if hz > from {
            // The finger comes down on the fret: a push there, and a knock on the neck.
            let knock = (HAMMER_KNOCK, 2.0 * millis);
            let (position, release) = (0.06, 0.8 * millis);
            Excitation {
                position,
                release,
                strength: stroke.strength * HAMMERED,
                thump: knock,
                ..quiet
            }
        } else {
            // The finger plucks in leaving, where it was.
            let (position, release) = ((1.0 - hz / from).clamp(0.03, 0.5), 0.8 * millis);
            Excitation { position, release, strength: stroke.strength * PULLED, ..quiet }
        }
    }
}

/// Which way a plectrum goes over the strings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Way {
    Down,
    Up,
}

/// By how many octaves the place of a stroke, its angle, its edge and its scrape lie off at most. Players vary edge
/// and place from stroke to stroke, and no two are equal (J. O. Smith, "Physical Audio Signal Processing", on
/// plucks); how far is a judgement.
const PLACE: f64 = 0.28;
const ANGLE: f64 = 0.22;
const EDGE: f64 = 0.35;
const SCRAPE: f64 = 0.3;

/// A finger or plectrum has left the string within this share of a round trip: a longer edge would let no
/// fundamental through (a judgement).
const LONGEST_EDGE: f64 = 0.6;

/// An up-stroke against a down-stroke: nearer the bridge, flatter along the top, with a sharper edge and more of
/// the pick's side, and no weight of the hand behind it (common practice, no source).
const UP_PLACE: f64 = 0.82;
const UP_ANGLE: f64 = 1.2;
const UP_EDGE: f64 = 0.75;
const UP_SCRAPE: f64 = 1.3;
const UP_THUMP: f64 = 0.4;

/// The left hand's force beside a stroke's: a hammer-on 6 to 10 dB softer, a pull-off 3 to 6 (from memory); a slide
/// over a fret is hardly more than its rubbing.
const HAMMERED: f64 = 0.80;
const PULLED: f64 = 0.55;
const SLID: f64 = 0.15;
const HAMMER_KNOCK: f64 = 0.10;
