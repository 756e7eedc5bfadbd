use super::body::BodyShape;
use super::modes::Mode;

// The lowest modes of each body lie where its air and its top are known to ring (guitar: air near
// 100 Hz, top near 200 Hz; mandolin: near 200 and 400 Hz; upright bass: near 60 and 110 Hz; from
// memory of Fletcher and Rossing, "The Physics of Musical Instruments"; banjo: its head's lowest near
// 290 Hz, over it a broad hill from 500 Hz to 2 kHz; fiddle: air near 275 Hz, corpus near 450 and 540
// Hz, the hill of its bridge near 2.5 kHz; both from memory, no source). The upper ones stand for
// the many that no ear tells apart: spread unevenly, each with a quality of about 15 to 30.

const fn mode(hz: f64, ring: f64, gain: f64) -> Mode {
    Mode { hz, ring, gain }
}

/// Upright bass. The modes from 200 to 900 Hz make it heard on small loudspeakers.
pub(super) const BASS: BodyShape = BodyShape {
    modes: &[
        mode(61.0, 0.34, 0.30),
        mode(102.0, 0.28, 0.28),
        mode(121.0, 0.24, 0.22),
        mode(168.0, 0.20, -0.25),
        mode(205.0, 0.18, 0.50),
        mode(263.0, 0.15, -0.55),
        mode(331.0, 0.13, 0.65),
        mode(407.0, 0.11, -0.70),
        mode(521.0, 0.09, 0.80),
        mode(655.0, 0.07, -0.80),
        mode(812.0, 0.06, 0.80),
        mode(1_040.0, 0.05, -0.60),
        mode(1_380.0, 0.04, 0.45),
    ],
    direct: 0.50,
    presence: (300.0, 1.3),
    smallest_hz: 50.0,
    stiffest_hz: 2_800.0,
};

/// Mandolin: small, bright, with the hill of its bridge near 2.5 kHz.
pub(super) const MANDOLIN: BodyShape = BodyShape {
    modes: &[
        mode(204.0, 0.14, 0.30),
        mode(341.0, 0.10, 0.25),
        mode(427.0, 0.09, 0.30),
        mode(571.0, 0.07, -0.20),
        mode(718.0, 0.06, 0.30),
        mode(905.0, 0.055, -0.25),
        mode(1_140.0, 0.045, 0.30),
        mode(1_430.0, 0.040, -0.35),
        mode(1_780.0, 0.032, 0.45),
        mode(2_120.0, 0.028, -0.55),
        mode(2_480.0, 0.022, 0.70),
        mode(2_960.0, 0.020, -0.60),
        mode(3_610.0, 0.016, 0.50),
        mode(4_450.0, 0.013, -0.40),
        mode(5_700.0, 0.011, 0.30),
    ],
    direct: 0.55,
    presence: (1_600.0, 1.0),
    smallest_hz: 180.0,
    stiffest_hz: 14_000.0,
};

/// Steel-string guitar of the large kind.
pub(super) const GUITAR: BodyShape = BodyShape {
    modes: &[
        mode(99.0, 0.24, 0.45),
        mode(189.0, 0.17, 0.40),
        mode(226.0, 0.15, -0.25),
        mode(303.0, 0.12, 0.30),
        mode(383.0, 0.10, -0.30),
        mode(464.0, 0.09, 0.30),
        mode(577.0, 0.08, -0.30),
        mode(719.0, 0.065, 0.35),
        mode(905.0, 0.055, -0.35),
        mode(1_150.0, 0.045, 0.40),
        mode(1_470.0, 0.037, -0.45),
        mode(1_880.0, 0.030, 0.50),
        mode(2_390.0, 0.025, -0.50),
        mode(3_050.0, 0.020, 0.45),
        mode(3_900.0, 0.016, -0.40),
        mode(5_200.0, 0.013, 0.30),
    ],
    direct: 0.45,
    presence: (900.0, 1.5),
    smallest_hz: 90.0,
    stiffest_hz: 11_000.0,
};

/// Five-string banjo: a light head under tension, which takes much and lets go of it at once, so its
/// resonances are broad; its hum low down, and a hill over the middle where the head and the bridge
/// give most.
pub(super) const BANJO: BodyShape = BodyShape {
    modes: &[
        mode(196.0, 0.080, 0.20),
        mode(288.0, 0.085, 0.45),
        mode(402.0, 0.060, -0.35),
        mode(536.0, 0.050, 0.50),
        mode(668.0, 0.042, -0.55),
        mode(823.0, 0.036, 0.65),
        mode(1_010.0, 0.030, -0.70),
        mode(1_260.0, 0.025, 0.75),
        mode(1_540.0, 0.021, -0.70),
        mode(1_890.0, 0.018, 0.65),
        mode(2_330.0, 0.015, -0.55),
        mode(2_870.0, 0.012, 0.60),
        mode(3_480.0, 0.010, -0.55),
        mode(4_300.0, 0.009, 0.40),
        mode(5_600.0, 0.008, -0.30),
    ],
    direct: 0.45,
    presence: (1_400.0, 1.1),
    smallest_hz: 210.0,
    stiffest_hz: 12_000.0,
};

/// Resonator guitar: a cone of aluminium, loud and nasal from 400 Hz to 3 kHz.
pub(super) const RESONATOR: BodyShape = BodyShape {
    modes: &[
        mode(112.0, 0.16, 0.25),
        mode(184.0, 0.14, 0.30),
        mode(262.0, 0.13, -0.30),
        mode(371.0, 0.12, 0.50),
        mode(478.0, 0.11, -0.60),
        mode(596.0, 0.095, 0.70),
        mode(742.0, 0.085, -0.65),
        mode(913.0, 0.070, 0.65),
        mode(1_140.0, 0.060, -0.70),
        mode(1_430.0, 0.050, 0.70),
        mode(1_790.0, 0.042, -0.65),
        mode(2_260.0, 0.034, 0.70),
        mode(2_840.0, 0.028, -0.65),
        mode(3_600.0, 0.020, 0.50),
        mode(4_700.0, 0.015, -0.40),
        mode(6_100.0, 0.012, 0.30),
    ],
    direct: 0.45,
    presence: (1_100.0, 1.5),
    smallest_hz: 110.0,
    stiffest_hz: 12_000.0,
};

/// Fiddle. Its strings pull as a saw's teeth run; what the corpus makes of that is the tone.
pub(super) const FIDDLE: BodyShape = BodyShape {
    modes: &[
        mode(275.0, 0.13, 0.80),
        mode(405.0, 0.10, -0.30),
        mode(448.0, 0.10, 0.60),
        mode(541.0, 0.09, 0.60),
        mode(690.0, 0.070, -0.60),
        mode(835.0, 0.060, 0.40),
        mode(988.0, 0.055, -0.45),
        mode(1_170.0, 0.048, 0.45),
        mode(1_390.0, 0.040, -0.45),
        mode(1_650.0, 0.034, 0.45),
        mode(1_960.0, 0.028, -0.55),
        mode(2_310.0, 0.022, 0.75),
        mode(2_680.0, 0.020, -0.75),
        mode(3_130.0, 0.017, 0.60),
        mode(3_800.0, 0.014, -0.40),
        mode(4_700.0, 0.012, 0.25),
    ],
    direct: 0.35,
    presence: (1_500.0, 0.6),
    smallest_hz: 190.0,
    stiffest_hz: 5_000.0,
};

/// A voice that hums with its mouth closed: one hill of the throat, a second of the nose, little else.
pub(super) const HUM: BodyShape = BodyShape {
    modes: &[
        mode(262.0, 0.045, 0.90),
        mode(430.0, 0.035, 0.70),
        mode(660.0, 0.028, 0.60),
        mode(1_020.0, 0.022, -0.25),
        mode(2_250.0, 0.014, 0.20),
    ],
    direct: 0.40,
    presence: (900.0, 0.0),
    smallest_hz: 80.0,
    stiffest_hz: 2_200.0,
};
