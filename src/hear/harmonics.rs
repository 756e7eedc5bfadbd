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

/// What a score must reach to be told at all. A wrong note is worse than none: at this, of the takes that the
/// numbers here were found on, nine strokes in ten are told, and 98 of a hundred of those are right.
const SURE: f32 = 0.2;

/// What a second note must account for of all that is new, and how complete its partials must be beside the
/// first's. Strings that ring on look like second notes; so of pinches often one note alone is told.
const SECOND: (f32, f32) = (0.25, 0.55);

/// As many notes as a hand has picks for, and one.
const MOST: usize = 4;

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

/// What is new in the sound after a stroke, by its peaks.
#[derive(Clone, Debug)]
pub(super) struct NewSound {
    peaks: Vec<Peak>,
    whole: f32,
}

/// A note that may be in it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Candidate {
    note: u8,
    hertz: f64,
    /// How much of its partials is there, 0 to 1.
    there: f32,
    /// Its share of all that is new, 0 to 1.
    share: f32,
    /// How well it accounts for the sound, 0 to 1.
    pub score: f32,
}

impl NewSound {
    /// From the magnitudes of the new sound, `step` hertz apart.
    pub fn new(lines: &[f32], step: f64) -> Self {
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

    /// The note that accounts best for the sound, if the strings are `cents` above 440 Hz.
    pub fn best(&self, cents: f64) -> Option<Candidate> {
        let notes = (RANGE.0..=RANGE.1).map(|note| self.candidate(note, cents));
        notes.max_by(|a, b| a.score.total_cmp(&b.score))
    }

    /// The notes in it, lowest first; none if it is not clear.
    pub fn notes(mut self, cents: f64) -> Vec<MidiNote> {
        let mut found: Vec<MidiNote> = Vec::new();
        let mut first: Option<Candidate> = None;
        while found.len() < MOST
            && let Some(next) = self.best(cents)
        {
            let clear = match first {
                None => next.score > SURE,
                Some(first) => next.share > SECOND.0 && next.there > SECOND.1 * first.there,
            };
            if !clear {
                break;
            }
            first.get_or_insert(next);
            found.push(MidiNote::clamped(next.note.into()));
            self.peaks.retain(|peak| peak.partial_of(next.hertz).is_none());
        }
        found.sort_unstable();
        found.dedup();
        found
    }

    /// A note too high leaves peaks unaccounted for, one too low lacks partials: the score is low for both
    /// (the idea of Maher and Beauchamp's two-way mismatch, J. Acoust. Soc. Am. 95(4), 1994; from memory).
    fn candidate(&self, note: u8, cents: f64) -> Candidate {
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
        Candidate { note, hertz, there, share, score: share.powf(0.7) * there * (1.0 - rare) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Magnitudes 5 Hz apart with a peak of the given height at each hertz.
    fn sound(peaks: &[(f64, f32)]) -> NewSound {
        let mut lines = vec![0.0_f32; 1_000];
        for &(hertz, height) in peaks {
            for (n, line) in lines.iter_mut().enumerate() {
                let off = (n as f64 * 5.0 - hertz) / 8.0;
                *line = line.max(height * (-off * off).exp() as f32);
            }
        }
        NewSound::new(&lines, 5.0)
    }

    fn note(hertz: f64, heights: &[f32]) -> Vec<(f64, f32)> {
        heights.iter().zip(1..).map(|(height, n)| (hertz * f64::from(n), *height)).collect()
    }

    fn told(sound: NewSound, cents: f64) -> Vec<u8> {
        sound.notes(cents).iter().map(|note| note.get()).collect()
    }

    const PLUCKED: [f32; 8] = [0.8, 1.0, 0.6, 0.5, 0.2, 0.2, 0.1, 0.1];

    #[test]
    fn one_note_is_told_whatever_its_colour() {
        let g3 = 195.998;
        assert_eq!(told(sound(&note(g3, &PLUCKED)), 0.0), [55]);
        // A fundamental that is 20 dB weaker than the third partial, as the low strings of a banjo have.
        assert_eq!(told(sound(&note(g3, &[0.1, 0.5, 1.0, 0.8, 0.5, 0.5, 0.2, 0.1])), 0.0), [55]);
        assert_eq!(told(sound(&note(2.0 * g3, &PLUCKED)), 0.0), [67]);
    }

    #[test]
    fn a_pinch_is_two_notes() {
        let mut both = note(246.94, &PLUCKED);
        both.extend(note(391.995, &PLUCKED));
        assert_eq!(told(sound(&both), 0.0), [59, 67]);
    }

    #[test]
    fn strings_may_be_out_of_tune_together() {
        let sharp = note(293.66 * (30.0_f64 / 1_200.0).exp2(), &PLUCKED);
        assert_eq!(told(sound(&sharp), 30.0), [62]);
        let (right, wrong) = (sound(&sharp).best(30.0), sound(&sharp).best(-20.0));
        assert!(right.unwrap().score > 1.5 * wrong.unwrap().score);
    }

    #[test]
    fn what_is_not_clear_is_not_told() {
        assert_eq!(told(sound(&[]), 0.0), [] as [u8; 0]);
        let mess: Vec<_> = (0..40).map(|n| (150.0 + 71.0 * f64::from(n), 1.0)).collect();
        assert!(told(sound(&mess), 0.0).len() <= 1);
    }
}
