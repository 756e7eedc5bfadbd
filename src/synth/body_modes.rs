use super::body::BodyShape;
use super::modes::Mode;

// The lowest modes of each body lie where its air and its top are known to ring (guitar: air near
// 100 Hz, top near 200 Hz; mandolin: near 200 and 400 Hz; upright bass: near 60 and 110 Hz; from
// memory of Fletcher and Rossing, "The Physics of Musical Instruments"). The upper ones stand for
// the many that no ear tells apart: spread unevenly, each with a quality of about 15 to 30.

const fn mode(hz: f64, ring: f64, gain: f64) -> Mode {
    Mode { hz, ring, gain }
}

/// Upright bass. The modes from 200 to 900 Hz make it heard on small loudspeakers.
pub(super) const BASS: BodyShape = BodyShape {
    modes: &[
        mode(61.0, 0.34, 0.55),
        mode(98.0, 0.30, 0.60),
        mode(118.0, 0.24, 0.50),
        mode(168.0, 0.20, -0.55),
        mode(205.0, 0.18, 0.65),
        mode(263.0, 0.15, -0.70),
        mode(331.0, 0.13, 0.70),
        mode(407.0, 0.11, -0.75),
        mode(521.0, 0.09, 0.80),
        mode(655.0, 0.07, -0.70),
        mode(812.0, 0.06, 0.60),
        mode(1_040.0, 0.05, -0.45),
        mode(1_380.0, 0.04, 0.30),
    ],
    direct: 0.55,
    smallest_hz: 45.0,
    stiffest_hz: 2_400.0,
};

/// Mandolin: small, bright, with the hill of its bridge near 2.5 kHz.
pub(super) const MANDOLIN: BodyShape = BodyShape {
    modes: &[
        mode(198.0, 0.14, 0.80),
        mode(287.0, 0.10, -0.40),
        mode(402.0, 0.09, 0.95),
        mode(523.0, 0.07, -0.60),
        mode(668.0, 0.06, 0.70),
        mode(842.0, 0.055, -0.60),
        mode(1_065.0, 0.045, 0.65),
        mode(1_330.0, 0.040, -0.60),
        mode(1_690.0, 0.032, 0.70),
        mode(2_120.0, 0.028, -0.85),
        mode(2_480.0, 0.022, 0.95),
        mode(2_960.0, 0.020, -0.80),
        mode(3_610.0, 0.016, 0.60),
        mode(4_450.0, 0.013, -0.45),
        mode(5_700.0, 0.011, 0.30),
    ],
    direct: 0.45,
    smallest_hz: 170.0,
    stiffest_hz: 9_000.0,
};

/// Steel-string guitar of the large kind.
pub(super) const GUITAR: BodyShape = BodyShape {
    modes: &[
        mode(99.0, 0.24, 0.75),
        mode(183.0, 0.17, 0.85),
        mode(221.0, 0.15, -0.55),
        mode(295.0, 0.12, 0.55),
        mode(383.0, 0.10, -0.60),
        mode(464.0, 0.09, 0.55),
        mode(577.0, 0.08, -0.50),
        mode(719.0, 0.065, 0.55),
        mode(905.0, 0.055, -0.50),
        mode(1_150.0, 0.045, 0.50),
        mode(1_470.0, 0.037, -0.50),
        mode(1_880.0, 0.030, 0.50),
        mode(2_390.0, 0.025, -0.45),
        mode(3_050.0, 0.020, 0.40),
        mode(3_900.0, 0.016, -0.30),
        mode(5_200.0, 0.013, 0.22),
    ],
    direct: 0.50,
    smallest_hz: 85.0,
    stiffest_hz: 7_500.0,
};
