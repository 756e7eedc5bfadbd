use super::bands::Bands;

/// Frames a second.
pub(super) const FRAMES: u32 = 200;

/// Frames between the two that are compared: 20 ms, in which what was struck has come into the window.
const LAG: usize = 4;

/// How much new energy comes in with each frame; frame `n` stands for the time `n / FRAMES` seconds.
///
/// A spectral flux on logarithmic magnitudes in bands by pitch. A band is compared with the loudest
/// of itself and its two neighbours a little before, so that a pitch that wavers from one band to the
/// next is nothing new: after Böck and Widmer, "Maximum filter vibrato suppression for onset
/// detection", Proc. 16th Int. Conf. on Digital Audio Effects (DAFx-13), Maynooth 2013 (its method from
/// memory; the numbers here are our own).
pub(super) fn flux(sound: &[f32], rate: u32, bands: &mut Bands) -> Vec<f32> {
    let frames = (sound.len() as u64 * u64::from(FRAMES)).div_ceil(u64::from(rate.max(1))) as usize;
    let half = (bands.window() / 2) as isize;
    // The last frames, in turns.
    let mut past = vec![vec![0.0_f32; bands.count()]; LAG];
    let mut now = vec![0.0_f32; bands.count()];
    (0..frames)
        .map(|frame| {
            let middle = (frame as u64 * u64::from(rate) / u64::from(FRAMES)) as isize;
            bands.logarithms(sound, middle - half, &mut now);
            let Some(before) = past.get_mut(frame % LAG) else { return 0.0 };
            let new = fresh(&now, before);
            before.copy_from_slice(&now);
            new
        })
        .collect()
}

/// What each band has more than the loudest of itself and its neighbours had before, on average.
fn fresh(now: &[f32], before: &[f32]) -> f32 {
    let mut below = 0.0_f32;
    let mut sum = 0.0_f32;
    for (at, (now, same)) in now.iter().zip(before).enumerate() {
        let above = before.get(at + 1).copied().unwrap_or(0.0);
        sum += (now - below.max(*same).max(above)).max(0.0);
        below = *same;
    }
    sum / now.len().max(1) as f32
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_wavers_or_fades_is_nothing_new() {
        assert_eq!(fresh(&[0.0, 2.0, 0.0, 0.0], &[0.0, 0.0, 2.0, 0.0]), 0.0, "a neighbour's");
        assert_eq!(fresh(&[0.0, 1.0, 0.5, 0.0], &[0.0, 1.5, 1.0, 0.0]), 0.0, "fading");
        assert_eq!(fresh(&[3.0, 0.0, 0.0, 0.0], &[0.0, 0.0, 2.0, 0.0]), 0.75);
    }

    #[test]
    fn a_steady_tone_begins_once() {
        let rate = 16_000;
        let tone = |n: usize| (n as f32 * 0.2).sin() * 0.3;
        let sound: Vec<f32> = (0..16_000).map(|n| if n < 8_000 { 0.0 } else { tone(n) }).collect();
        let flux = flux(&sound, rate, &mut Bands::new(&sound, rate, 0.2));
        assert_eq!(flux.len(), FRAMES as usize);
        let most = flux.iter().copied().enumerate().max_by(|a, b| a.1.total_cmp(&b.1)).unwrap();
        assert!((97..108).contains(&most.0), "{most:?}");
        // Its end, which a window cuts off, is another matter.
        assert!(flux[115..190].iter().all(|new| *new < most.1 / 20.0));
    }
}
