use super::body::{BodyMode, BodyShape};

// Where a body's modes are known they stand at the top of each table, with their source. The others stand for the
// many that no ear tells apart: spread unevenly, each with a quality of 10 to 30. How long a mode rings is its
// quality's 2.2·Q/f. How strongly it radiates, and how far the bridge gives way, was set beside recorded notes
// (octave spectra and decay times of the bank FluidR3's banjo, steel guitar and bass), as no table of these was
// found. Neighbours that radiate move against each other: else there are holes between them. Last in a table stands
// what takes without being heard: what the lowest modes take together of a note's beginning. Were it theirs, one by
// one, a fundamental between two of them would slide by cents as it dies away.

const fn mode(hz: f64, ring: f64, gain: f64, give: f64) -> BodyMode {
    BodyMode { hz, ring, gain, give }
}

/// Upright bass. Its air at 65 Hz, its top with it at 115, among the strongest, and at 155 Hz; above 1 kHz it
/// radiates little (A. W. Brown, dissertation, mdw Vienna 2004, section 6.2, as quoted elsewhere). Its lowest four ring
/// half as long as their quality there says: else a note is 5 dB too loud a fifth of a second after it began, beside
/// recorded ones.
pub(super) const BASS: BodyShape = BodyShape {
    modes: &[
        mode(65.0, 0.22, 1.1, 0.001),
        mode(88.0, 0.165, -0.7, 0.001),
        mode(115.0, 0.154, 0.75, 0.003),
        mode(155.0, 0.121, -0.62, 0.004),
        mode(205.0, 0.18, 0.67, 0.013),
        mode(265.0, 0.15, -0.44, 0.016),
        mode(340.0, 0.12, 0.34, 0.017),
        mode(430.0, 0.1, -0.42, 0.017),
        mode(560.0, 0.08, 0.42, 0.017),
        mode(720.0, 0.07, -0.26, 0.024),
        mode(1_000.0, 0.05, 0.45, 0.03),
        mode(1_450.0, 0.04, -0.42, 0.02),
        mode(2_050.0, 0.03, 0.5, 0.008),
        mode(100.0, 0.02, 0.0, 0.014),
    ],
    give: 0.0,
    lean: 0.3,
    direct: 0.12,
    presence: (1_500.0, 0.42),
    smallest_hz: 30.0,
    stiffest_hz: 4_000.0,
};

/// Mandolin. The modes from 191 to 4,389 Hz, their strength and their ring are those measured of a plucked body (the
/// responses `mand1` to `mand12` of the Synthesis ToolKit); those above 600 Hz are lifted by 3 to 5 dB, since the
/// pick's edge is told apart from them here. The air at 194 Hz: Cohen and Rossing, Acoust. Sci. Tech. 24(1), 2003.
pub(super) const MANDOLIN: BodyShape = BodyShape {
    modes: &[
        mode(191.0, 0.15, 0.03, 0.0015),
        mode(273.0, 0.092, 0.56, 0.0015),
        mode(420.0, 0.049, 1.0, 0.0015),
        mode(643.0, 0.041, -0.55, 0.0015),
        mode(824.0, 0.041, 0.28, 0.0015),
        mode(1_083.0, 0.05, -0.27, 0.0015),
        mode(1_206.0, 0.055, 0.27, 0.0015),
        mode(1_371.0, 0.055, -0.24, 0.0015),
        mode(1_634.0, 0.043, 0.37, 0.0015),
        mode(2_003.0, 0.042, -0.27, 0.0015),
        mode(2_209.0, 0.041, 0.31, 0.0015),
        mode(2_389.0, 0.04, -0.41, 0.0015),
        mode(2_864.0, 0.038, 0.31, 0.0015),
        mode(3_311.0, 0.036, -0.31, 0.0015),
        mode(3_643.0, 0.035, 0.34, 0.0015),
        mode(4_062.0, 0.033, -0.27, 0.0015),
        mode(4_389.0, 0.031, 0.27, 0.0015),
        mode(5_600.0, 0.02, -0.2, 0.0015),
    ],
    give: 0.01,
    lean: 0.35,
    direct: 0.1,
    presence: (2_000.0, 0.5),
    smallest_hz: 120.0,
    stiffest_hz: 14_000.0,
};

/// Steel-string guitar of the large kind: air at 96, top at 189 and 226 Hz (J. O. Smith, "Physical Audio Signal
/// Processing", a guitar's body modes), further ones of the top at 285, 460, 540 and 645 Hz (Jansson, "Acoustics for
/// Violin and Guitar Makers", 2002), air at 370, 760 and 980 Hz (the same). It takes little from the strings:
/// recorded ones ring 4 to 14 seconds.
pub(super) const GUITAR: BodyShape = BodyShape {
    modes: &[
        mode(96.0, 0.36, 0.7, 0.0036),
        mode(189.0, 0.25, 0.6, 0.006),
        mode(226.0, 0.2, -0.3, 0.0036),
        mode(285.0, 0.16, 0.35, 0.0018),
        mode(370.0, 0.13, -0.3, 0.003),
        mode(460.0, 0.11, 0.3, 0.002),
        mode(540.0, 0.1, -0.25, 0.002),
        mode(645.0, 0.09, 0.25, 0.002),
        mode(760.0, 0.08, -0.2, 0.0015),
        mode(980.0, 0.065, 0.27, 0.0015),
        mode(1_250.0, 0.05, -0.2, 0.001),
        mode(1_560.0, 0.042, 0.056, 0.001),
        mode(1_950.0, 0.034, -0.045, 0.001),
        mode(2_400.0, 0.028, 0.068, 0.001),
        mode(3_050.0, 0.022, -0.16, 0.001),
        mode(3_900.0, 0.017, 0.68, 0.001),
        mode(5_200.0, 0.013, -0.89, 0.001),
        mode(7_000.0, 0.01, 1.0, 0.001),
        mode(9_500.0, 0.008, -1.16, 0.001),
    ],
    give: 0.0004,
    lean: 0.4,
    direct: 0.06,
    presence: (8_000.0, 0.5),
    smallest_hz: 70.0,
    stiffest_hz: 14_000.0,
};

/// Five-string banjo: a light head under tension, which takes much and lets go of it at once. Its modes at 234 (20
/// to 30 Hz wide), 509, 803, 1,593 and 2,055 Hz, the pot's air at 212 Hz (Rae, in Rossing (ed.), "The Science of
/// String Instruments", 2010, chapter 5); the hill from 500 to 800 Hz that makes it a banjo, and the bridge's at
/// 3.5 and 5 kHz (Woodhouse, Politzer and Mansour, Acta Acustica 5, 15 and 16, 2021; arXiv 2104.02480). What its
/// lowest modes take, the two broad ones at the end, is most: recorded partials of 250 to 500 Hz fall soonest, by 145 dB
/// a second at first, those above by 40 to 65. Here they fall by 107, and those above by 45 to 72: with more of it, less
/// is left of a roll's soft strokes beneath loud ones.
pub(super) const BANJO: BodyShape = BodyShape {
    modes: &[
        mode(212.0, 0.085, 0.25, 0.0014),
        mode(234.0, 0.09, 0.2, 0.0014),
        mode(320.0, 0.07, -0.36, 0.0014),
        mode(410.0, 0.06, 0.45, 0.0014),
        mode(509.0, 0.055, -0.47, 0.0034),
        mode(580.0, 0.045, 0.47, 0.0034),
        mode(660.0, 0.042, -0.73, 0.0037),
        mode(740.0, 0.04, 0.77, 0.004),
        mode(803.0, 0.038, -0.8, 0.0037),
        mode(930.0, 0.034, 0.95, 0.018),
        mode(1_120.0, 0.03, -0.9, 0.021),
        mode(1_340.0, 0.026, 0.9, 0.026),
        mode(1_593.0, 0.022, -0.88, 0.026),
        mode(2_055.0, 0.018, 1.0, 0.014),
        mode(2_500.0, 0.015, -0.84, 0.003),
        mode(3_050.0, 0.012, 0.48, 0.003),
        mode(3_500.0, 0.01, -0.55, 0.003),
        mode(4_200.0, 0.009, 0.35, 0.003),
        mode(5_000.0, 0.008, -0.6, 0.003),
        mode(6_200.0, 0.007, 0.3, 0.003),
        mode(270.0, 0.02, 0.0, 0.045),
        mode(390.0, 0.02, 0.0, 0.045),
    ],
    give: 0.01,
    lean: 0.4,
    direct: 0.06,
    presence: (3_000.0, 0.25),
    smallest_hz: 110.0,
    stiffest_hz: 14_000.0,
};

/// Resonator guitar: a cone of aluminium, loud and nasal from 300 Hz to 2.5 kHz, which takes from the strings
/// nearly as a banjo's head does (no source found for its modes; from memory).
pub(super) const RESONATOR: BodyShape = BodyShape {
    modes: &[
        mode(112.0, 0.16, 0.25, 0.003),
        mode(184.0, 0.14, 0.3, 0.003),
        mode(262.0, 0.13, -0.3, 0.003),
        mode(371.0, 0.12, 0.5, 0.002),
        mode(478.0, 0.11, -0.6, 0.003),
        mode(596.0, 0.095, 0.7, 0.003),
        mode(742.0, 0.085, -0.65, 0.003),
        mode(913.0, 0.07, 0.65, 0.003),
        mode(1_140.0, 0.06, -0.7, 0.003),
        mode(1_430.0, 0.05, 0.7, 0.003),
        mode(1_790.0, 0.042, -0.65, 0.003),
        mode(2_260.0, 0.034, 0.6, 0.003),
        mode(2_840.0, 0.028, -0.5, 0.002),
        mode(3_600.0, 0.02, 0.4, 0.003),
        mode(4_700.0, 0.015, -0.3, 0.003),
        mode(6_100.0, 0.012, 0.25, 0.003),
    ],
    give: 0.006,
    lean: 0.35,
    direct: 0.15,
    presence: (1_100.0, 0.4),
    smallest_hz: 90.0,
    stiffest_hz: 12_000.0,
};

/// Fiddle. Its strings pull as a saw's teeth run; what the corpus makes of that is the tone. Air at 272, corpus at
/// 407, 462 and 551 Hz, and the hill of the bridge near 2.3 kHz (Woodhouse's violin, "Euphonics", section 5.3).
pub(super) const FIDDLE: BodyShape = BodyShape {
    modes: &[
        mode(272.0, 0.13, 0.80, 0.01),
        mode(407.0, 0.10, -0.30, 0.01),
        mode(462.0, 0.10, 0.60, 0.01),
        mode(551.0, 0.09, 0.60, 0.01),
        mode(690.0, 0.070, -0.60, 0.01),
        mode(835.0, 0.060, 0.40, 0.01),
        mode(988.0, 0.055, -0.45, 0.01),
        mode(1_170.0, 0.048, 0.45, 0.01),
        mode(1_390.0, 0.040, -0.45, 0.01),
        mode(1_650.0, 0.034, 0.45, 0.01),
        mode(1_960.0, 0.028, -0.55, 0.01),
        mode(2_310.0, 0.022, 0.75, 0.01),
        mode(2_680.0, 0.020, -0.75, 0.01),
        mode(3_130.0, 0.017, 0.60, 0.01),
        mode(3_800.0, 0.014, -0.40, 0.01),
        mode(4_700.0, 0.012, 0.25, 0.01),
    ],
    give: 0.0,
    lean: 0.0,
    direct: 0.35,
    presence: (1_500.0, 0.6),
    smallest_hz: 190.0,
    stiffest_hz: 5_000.0,
};

/// A voice that hums with its mouth closed: one hill of the throat, a second of the nose, little else.
pub(super) const HUM: BodyShape = BodyShape {
    modes: &[
        mode(262.0, 0.045, 0.90, 0.01),
        mode(430.0, 0.035, 0.70, 0.01),
        mode(660.0, 0.028, 0.60, 0.01),
        mode(1_020.0, 0.022, -0.25, 0.01),
        mode(2_250.0, 0.014, 0.20, 0.01),
    ],
    give: 0.0,
    lean: 0.0,
    direct: 0.40,
    presence: (900.0, 0.0),
    smallest_hz: 80.0,
    stiffest_hz: 2_200.0,
};
