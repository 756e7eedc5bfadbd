//! Loudness as the standards measure it, by a library that is not the program's.
#![allow(dead_code, clippy::unwrap_used)]

use ebur128::{EbuR128, Mode};

/// What was measured of a sound.
#[derive(Clone, Copy, Debug)]
pub struct Measured {
    /// Integrated loudness in LUFS (EBU R 128, ITU-R BS.1770).
    pub lufs: f64,
    /// The highest peak between the samples too, in dB below full scale (the same).
    pub true_peak: f64,
}

/// Of both sides at 48 kHz.
pub fn measured(left: &[f32], right: &[f32]) -> Measured {
    let mut meter = EbuR128::new(2, 48_000, Mode::I | Mode::TRUE_PEAK).unwrap();
    meter.add_frames_planar_f32(&[left, right]).unwrap();
    let peak = meter.true_peak(0).unwrap().max(meter.true_peak(1).unwrap());
    Measured { lufs: meter.loudness_global().unwrap(), true_peak: 20.0 * peak.log10() }
}

/// Integrated loudness alone, which takes less time, at any rate.
pub fn lufs(left: &[f32], right: &[f32], rate: u32) -> f64 {
    let mut meter = EbuR128::new(2, rate, Mode::I).unwrap();
    meter.add_frames_planar_f32(&[left, right]).unwrap();
    meter.loudness_global().unwrap()
}

/// What a small loudspeaker lets out: nothing below 150 Hz, at 24 dB an octave (Butterworth's filter of
/// the fourth order, as two of the second by the bilinear transform).
pub fn through_small_speakers(sound: &[f32], rate: u32) -> Vec<f32> {
    let mut out: Vec<f64> = sound.iter().map(|&x| f64::from(x)).collect();
    // The two qualities of the fourth order: 1 / (2·cos(22.5°)) and 1 / (2·cos(67.5°)).
    for degrees in [22.5_f64, 67.5] {
        let quality = 1.0 / (2.0 * degrees.to_radians().cos());
        let k = (std::f64::consts::PI * 150.0 / f64::from(rate)).tan();
        let norm = 1.0 / (1.0 + k / quality + k * k);
        let (a1, a2) = (2.0 * (k * k - 1.0) * norm, (1.0 - k / quality + k * k) * norm);
        let (mut s1, mut s2) = (0.0, 0.0);
        for x in &mut out {
            let y = *x * norm + s1;
            s1 = -2.0 * norm * *x - a1 * y + s2;
            s2 = norm * *x - a2 * y;
            *x = y;
        }
    }
    out.into_iter().map(|x| x as f32).collect()
}
