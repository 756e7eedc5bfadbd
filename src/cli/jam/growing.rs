//! The sound of a take, written as it comes: a machine that stops at once, or a program that is killed, leaves it.

use std::fs::{self, File};
use std::io::BufWriter;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use crate::sink::{GrowingWav, WavError};

/// How much of a take may be lost.
const APART: Duration = Duration::from_secs(1);

/// A take's file. Where its place refuses, as a full disk does, the take goes on in another, for it can't be played again.
pub(super) struct GrowingTake {
    file: Option<GrowingWav<BufWriter<File>>>,
    path: PathBuf,
    rate: u32,
    flushed: Instant,
    /// Why it is no longer where it was to be.
    moved: Option<String>,
}

impl GrowingTake {
    /// For so many samples a second. No file is made before the first ones.
    pub(super) fn new(path: &Path, rate: u32) -> Self {
        Self { file: None, path: path.to_owned(), rate, flushed: Instant::now(), moved: None }
    }

    /// Adds samples from -1 to 1.
    pub(super) fn push(&mut self, samples: &[f32]) {
        if samples.is_empty() {
            return;
        }
        if let Err(why) = self.add(samples) {
            if self.moved.is_some() {
                return;
            }
            self.moved = Some(format!("cannot write {}: {why}", self.path.display()));
            self.file = None;
            self.path = aside("wav");
            let _ = self.add(samples);
        }
    }

    fn add(&mut self, samples: &[f32]) -> Result<(), WavError> {
        let file = match &mut self.file {
            Some(file) => file,
            none => {
                let file = BufWriter::new(File::create(&self.path)?);
                none.insert(GrowingWav::new(self.rate, file)?)
            }
        };
        file.push(samples)?;
        if self.flushed.elapsed() >= APART {
            self.flushed = Instant::now();
            file.flush()?;
        }
        Ok(())
    }

    /// Nothing more comes. Gives where it is, or why it is elsewhere, or that it is nowhere; `None` where nothing came.
    pub(super) fn finish(mut self) -> Option<Result<PathBuf, String>> {
        if let Some(Err(why)) = self.file.as_mut().map(GrowingWav::flush) {
            self.moved = Some(format!("cannot write {}: {why}", self.path.display()));
        }
        let is_there = self.file.is_some() && fs::metadata(&self.path).is_ok();
        match self.moved {
            None => is_there.then_some(Ok(self.path)),
            Some(why) if is_there => Some(Err(format!(
                "{why}; your take, or the rest of it, is in {} instead",
                self.path.display()
            ))),
            Some(why) => Some(Err(why)),
        }
    }
}

/// Where a take goes that can't go where it was to.
pub(super) fn aside(ending: &str) -> PathBuf {
    std::env::temp_dir().join(format!("openchair-take-{}.{ending}", std::process::id()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_take_is_in_its_file_or_elsewhere_or_there_was_none() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("take.wav");
        assert_eq!(GrowingTake::new(&path, 48_000).finish(), None);
        assert!(!path.exists());

        let mut take = GrowingTake::new(&path, 48_000);
        take.push(&[]);
        take.push(&[0.1; 4_800]);
        assert_eq!(take.finish(), Some(Ok(path.clone())));
        assert_eq!(fs::metadata(&path).unwrap().len(), 44 + 2 * 4_800);

        let mut take = GrowingTake::new(&folder.path().join("none").join("take.wav"), 48_000);
        take.push(&[0.1; 4_800]);
        let why = take.finish().unwrap().unwrap_err();
        let other = aside("wav");
        assert!(why.contains(&other.display().to_string()), "{why}");
        assert_eq!(fs::metadata(&other).unwrap().len(), 44 + 2 * 4_800);
        fs::remove_file(other).unwrap();
    }
}
