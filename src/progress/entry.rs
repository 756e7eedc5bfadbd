use serde::{Deserialize, Serialize};

use crate::review::{Part, Review, TimingReference};

/// The figures of one take that was reviewed. No sound and no notes are in it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Entry {
    /// When it was reviewed, by the player's own clock: `2026-03-01T18:30`.
    pub at: String,
    /// The song's title.
    pub song: String,
    /// The key it sounded in.
    pub key: String,
    /// The practice speed in percent.
    pub speed: f64,
    /// The roles whose chairs were open, by their words.
    pub without: Vec<String>,
    /// The first and last bar that was played.
    pub bars: (usize, usize),
    /// How many strokes there were.
    pub strokes: usize,
    /// How many the band left to the player.
    pub open: usize,
    /// How many of those were played.
    pub covered: usize,
    /// How far strokes strayed from the player's own beat, in milliseconds (standard deviation).
    pub even: f64,
    /// By how many milliseconds all of it was late, early below nothing; none where nothing says when the band began.
    pub late: Option<f64>,
    /// How much faster than the band's the player's beat went, in percent; slower below nothing.
    pub pace: f64,
    /// Of how many strokes the notes were made out, and how many of them were off the chord.
    pub notes: (usize, usize),
    /// What was to be worked on next.
    pub work_on: Part,
}

impl Entry {
    /// Of a review, at a time of the player's clock. `None` where nobody was heard: there is nothing to be kept.
    pub fn of(review: &Review, at: String) -> Option<Self> {
        let (first, last) = (review.bars.first()?, review.bars.last()?);
        let whole = &review.whole;
        let known = whole.hits.saturating_sub(whole.tones.unknown);
        Some(Self {
            at,
            song: review.title.clone(),
            key: review.key.clone(),
            speed: tenths(review.speed),
            without: review.open.clone(),
            bars: (first.number, last.number),
            strokes: whole.hits,
            open: whole.open,
            covered: whole.covered,
            even: tenths(whole.timing.spread),
            late: (review.against == TimingReference::Band).then(|| tenths(whole.timing.mean)),
            pace: tenths(whole.timing.rushing),
            notes: (known, whole.tones.outside),
            work_on: review.advice.about,
        })
    }

    /// The day of it: `2026-03-01`.
    pub fn day(&self) -> &str {
        self.at.split('T').next().unwrap_or_default()
    }

    /// True if it is the same take, reviewed again.
    pub fn is_again(&self, other: &Self) -> bool {
        let at = String::new;
        Self { at: at(), ..self.clone() } == Self { at: at(), ..other.clone() }
    }

    /// The share of what the band left to the player that was played, 0 to 1; none where it left nothing.
    pub fn share(&self) -> Option<f64> {
        (self.open > 0).then(|| self.covered as f64 / self.open as f64)
    }
}

/// As fine as it is told.
fn tenths(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

/// The entries of a text, one a line, and the numbers of lines that are none, counted from 1.
pub fn read_entries(text: &str) -> (Vec<Entry>, Vec<usize>) {
    let (mut entries, mut wrong) = (Vec::new(), Vec::new());
    for (line, number) in text.lines().zip(1..) {
        match serde_json::from_str(line) {
            Ok(entry) => entries.push(entry),
            Err(_) if line.trim().is_empty() => {}
            Err(_) => wrong.push(number),
        }
    }
    (entries, wrong)
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    pub fn entry(at: &str, speed: f64, even: f64, covered: usize) -> Entry {
        Entry {
            at: at.to_owned(),
            song: "Gander at the Gate".to_owned(),
            key: "G".to_owned(),
            speed,
            without: vec!["chop".to_owned()],
            bars: (1, 16),
            strokes: 120,
            open: 32,
            covered,
            even,
            late: None,
            pace: 0.2,
            notes: (110, 4),
            work_on: Part::Uneven,
        }
    }

    #[test]
    fn lines_that_are_no_entries_are_told_and_the_rest_is_read() {
        let good = serde_json::to_string(&entry("2026-03-01T18:30", 80.0, 15.0, 20)).unwrap();
        let (entries, wrong) = read_entries(&format!("{good}\nnonsense\n\n{good}\n{{}}\n"));
        assert_eq!((entries.len(), wrong), (2, vec![2, 5]));
        assert_eq!(entries[0].day(), "2026-03-01");
        assert!(entries[0].is_again(&entries[1]));
        assert!(!entries[0].is_again(&entry("2026-03-01T18:30", 85.0, 15.0, 20)));
    }
}
