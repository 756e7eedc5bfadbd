use crate::theory::MidiNote;

/// The notes that are looked for: from C3, the lowest string of a banjo in drop C tuning, to E6, as high as the
/// neck goes.
const RANGE: (u8, u8) = (48, 88);

/// Above this note each semitone takes a share of [`RARE`] off a note's score: so high up the neck hardly
/// anybody plays backup, and the partials of a lower note with a weak fundamental lie there.
const HIGH: u8 = 74;
const RARE: f32 = 0.02;

/// Partials of a note that should be there.
const PARTIALS: usize = 8;

/// Hertz between which partials are looked at.
const SPAN: (f64, f64) = (110.0, 4_800.0);

/// Hertz at which a peak counts half: what is up there says little about which note it is.
const HALF: f64 = 3_000.0;

/// Peaks lower than this share of the highest are none.
const LEAST: f32 = 0.02;

/// A peak's magnitude to this power is what it counts for: partials of a note differ by tens of decibels, and
/// the weak ones tell as much about which note it is as the strong.
const EVEN: f32 = 0.4;

/// How much less the higher partials matter: the n-th by n to this power.
const FALL: f32 = 0.3;

/// How far from a whole multiple a partial may lie, as a share: 31 cents. A stiff string's tenth lies 15 cents
/// high.
const OFF: f64 = 0.018;

/// A peak of the spectrum.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Peak {
    hertz: f64,
    /// What it counts for, 1 for the highest.
    height: f32,
}

impl Peak {
    fn weight(self) -> f32 {
        self.height / (1.0 + (self.hertz / HALF).powi(2)) as f32
    }

    /// Which partial of a note of so many hertz it may be, and how well it fits: 1 if it lies just there.
    fn partial_of(self, hertz: f64) -> Option<(usize, f32)> {
        let ratio = self.hertz / hertz;
        let nearest = ratio.round();
        let off = (ratio - nearest).abs() / (OFF * nearest).min(0.2);
        (nearest >= 1.0 && off < 1.0).then_some((nearest as usize, 1.0 - 0.5 * (off * off) as f32))
    }
}

/// How much of what rang before is taken to ring on, in magnitude.
const RINGS_ON: f32 = 0.8;

/// Strokes that are needed at least for the tuning to be told.
const FEW: usize = 8;

/// How far the strings are off 440 Hz, in cents, by what was new with each stroke; `None` where those are too few. In
/// steps of 10, as far as the strings can be off before they are nearer to the next semitone.
pub(super) fn tuning(sounds: &[NewSound]) -> Option<f64> {
    if sounds.len() < FEW {
        return None;
    }
    let fits = |cents: f64| -> f32 { sounds.iter().map(|sound| sound.best(cents)).sum() };
    let steps = (-4..=5).map(|n| f64::from(n) * 10.0).map(|cents| (fits(cents), cents));
    steps.max_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, cents)| cents)
}

/// What is new in the sound after a stroke, by its peaks.
#[derive(Clone, Debug)]
pub(super) struct NewSound {
    peaks: Vec<Peak>,
    whole: f32,
}

impl NewSound {
    /// From the magnitudes before a stroke and after it, `step` hertz apart: what was not there before.
    pub fn new(before: &[f32], after: &[f32], step: f64) -> Self {
        let new = |(after, before): (&f32, &f32)| {
            // What got no louder rings on from before.
            if after < before {
                return 0.0;
            }
            let rings = RINGS_ON * before;
            (after * after - rings * rings).sqrt()
        };
        Self::of(&after.iter().zip(before).map(new).collect::<Vec<f32>>(), step)
    }

    fn of(lines: &[f32], step: f64) -> Self {
        let most = lines.iter().copied().fold(1e-12, f32::max);
        let peak = |(n, three): (usize, &[f32])| {
            let &[below, middle, above] = three else { return None };
            if middle <= below || middle < above || middle < LEAST * most {
                return None;
            }
            // The top of the parabola through the three logarithms.
            let [below, top, above] = [below, middle, above].map(|x| (x / most).max(1e-4).ln());
            let shift = 0.5 * (below - above) / (below - 2.0 * top + above);
            let hertz = (n as f64 + 1.0 + f64::from(shift.clamp(-0.5, 0.5))) * step;
            let height = (middle / most).powf(EVEN);
            (SPAN.0..=SPAN.1).contains(&hertz).then_some(Peak { hertz, height })
        };
        let peaks: Vec<Peak> = lines.windows(3).enumerate().filter_map(peak).collect();
        let whole = peaks.iter().map(|peak| peak.weight()).sum::<f32>().max(1e-6);
        Self { peaks, whole }
    }

    /// How well the note accounts for the sound that does so best, 0 to 1, if the strings are `cents` above 440 Hz.
    fn best(&self, cents: f64) -> f32 {
        let notes = (RANGE.0..=RANGE.1).map(|note| self.score(note, cents));
        notes.fold(0.0, f32::max)
    }

    /// A note too high leaves peaks unaccounted for, one too low lacks partials: the score is low for both
    /// (the idea of Maher and Beauchamp's two-way mismatch, J. Acoust. Soc. Am. 95(4), 1994; from memory).
    fn score(&self, note: u8, cents: f64) -> f32 {
        let hertz = MidiNote::clamped(note.into()).hertz() * (cents / 1_200.0).exp2();
        let mut partials = [0.0_f32; PARTIALS + 1];
        let mut told = 0.0;
        for peak in &self.peaks {
            let Some((n, fit)) = peak.partial_of(hertz) else { continue };
            told += fit * peak.weight();
            if let Some(partial) = partials.get_mut(n) {
                *partial = partial.max(fit * peak.height);
            }
        }
        let (mut sum, mut most) = (0.0, 0.0);
        for (n, partial) in partials.iter().enumerate().skip(1) {
            if n as f64 * hertz > SPAN.1 {
                break;
            }
            let weight = (n as f32).powf(-FALL);
            sum += weight * partial;
            most += weight;
        }
        let there = sum / f32::max(most, 1e-6);
        let share = told / self.whole;
        let rare = f32::from(note.saturating_sub(HIGH)) * RARE;
        share.powf(0.7) * there * (1.0 - rare)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLUCKED: [f32; 8] = [0.8, 1.0, 0.6, 0.5, 0.2, 0.2, 0.1, 0.1];

    /// A note's magnitudes 5 Hz apart.
    fn lines(hertz: f64) -> Vec<f32> {
        let mut lines = vec![0.0_f32; 1_000];
        for (partial, height) in (1..).zip(PLUCKED) {
            for (n, line) in lines.iter_mut().enumerate() {
                let off = (n as f64 * 5.0 - hertz * f64::from(partial)) / 8.0;
                *line = line.max(height * (-off * off).exp() as f32);
            }
        }
        lines
    }

    #[test]
    fn strings_may_be_out_of_tune_together() {
        for cents in [-40.0, -10.0, 0.0, 30.0] {
            let hertz =
                [196.0, 246.94, 293.66, 391.995].map(|hertz| hertz * (cents / 1_200.0_f64).exp2());
            let sounds: Vec<NewSound> = hertz
                .iter()
                .cycle()
                .take(12)
                .map(|hertz| NewSound::of(&lines(*hertz), 5.0))
                .collect();
            assert_eq!(tuning(&sounds), Some(cents));
            assert_eq!(tuning(&sounds[..5]), None, "too few");
        }
    }

    #[test]
    fn what_rings_on_is_not_new() {
        let (old, new) = (lines(196.0), lines(293.66));
        let after: Vec<f32> = old.iter().zip(&new).map(|(old, new)| new.max(0.7 * old)).collect();
        let sound = NewSound::new(&old, &after, 5.0);
        assert!(sound.score(62, 0.0) > 2.0 * sound.score(55, 0.0));
    }
}
