//! What a format holds and a song does not, told bar by bar.

use std::collections::HashMap;

/// What of a tune could not be kept, or had to be chosen: the words, and the bars that they hold for.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Remarks {
    kept: Vec<Remark>,
    by_words: HashMap<String, usize>,
}

/// Something that could not be kept, or had to be chosen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Remark {
    /// What.
    pub words: String,
    /// The first place in the file, in bytes.
    pub at: usize,
    /// The bars as written, from 1, in order; none if it holds for all of the tune.
    pub bars: Vec<u32>,
}

impl Remarks {
    /// How many different ones are kept; what is past them would be read by nobody.
    const MOST: usize = 100;

    /// Adds one for a bar, or for all of the tune.
    pub(super) fn add(&mut self, words: impl Into<String>, at: usize, bar: Option<u32>) {
        let words = words.into();
        let index = match self.by_words.get(&words) {
            Some(index) => *index,
            None if self.kept.len() >= Self::MOST => return,
            None => {
                self.by_words.insert(words.clone(), self.kept.len());
                self.kept.push(Remark { words, at, bars: Vec::new() });
                self.kept.len() - 1
            }
        };
        if let (Some(remark), Some(bar)) = (self.kept.get_mut(index), bar)
            && remark.bars.last() != Some(&bar)
        {
            remark.bars.push(bar);
        }
    }

    /// All, in the order found.
    pub fn all(&self) -> &[Remark] {
        &self.kept
    }
}

impl Remark {
    /// `bars 3-5, 9: grace notes are left out`.
    pub fn sentence(&self) -> String {
        let mut bars = self.bars.clone();
        bars.sort_unstable();
        bars.dedup();
        let mut ranges: Vec<String> = Vec::new();
        for run in bars.chunk_by(|one, next| one + 1 == *next) {
            match run {
                [] => {}
                [one] => ranges.push(one.to_string()),
                [first, .., last] => ranges.push(format!("{first}-{last}")),
            }
        }
        match bars.len() {
            0 => self.words.clone(),
            1 => format!("bar {}: {}", ranges.join(", "), self.words),
            _ => format!("bars {}: {}", ranges.join(", "), self.words),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bars_are_told_together() {
        let mut remarks = Remarks::default();
        for bar in [3, 4, 5, 9, 9] {
            remarks.add("grace notes are left out", 7, Some(bar));
        }
        remarks.add("no tempo is given", 0, None);
        let said: Vec<String> = remarks.all().iter().map(Remark::sentence).collect();
        assert_eq!(said, ["bars 3-5, 9: grace notes are left out", "no tempo is given"]);
    }
}
