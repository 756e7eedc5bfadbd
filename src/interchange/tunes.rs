//! All that a file holds.

use super::Tune;

/// The tunes of a file, and what of it is none.
#[derive(Clone, Debug, Default)]
pub struct Tunes {
    /// The tunes, in the order of the file.
    pub tunes: Vec<Tune>,
    /// What was meant for a tune and can't be one, or belongs to none.
    pub strays: Vec<Stray>,
}

/// A piece of a file that became no tune.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stray {
    /// Where it begins, in bytes.
    pub at: usize,
    /// Why.
    pub words: String,
}

impl Tunes {
    /// The most strays that are kept.
    const MOST: usize = 1000;

    pub(super) fn add(&mut self, tune: Option<Result<Tune, (usize, String)>>) {
        match tune {
            Some(Ok(tune)) => self.tunes.push(tune),
            Some(Err((at, words))) => self.stray(at, words),
            None => {}
        }
    }

    pub(super) fn stray(&mut self, at: usize, words: impl Into<String>) {
        if self.strays.len() < Self::MOST {
            self.strays.push(Stray { at, words: words.into() });
        }
    }
}
