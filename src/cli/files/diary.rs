//! The takes that were reviewed, on disk: a line each, in the user's data folder.

use std::fs::{self, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use etcetera::BaseStrategy;
use etcetera::base_strategy::choose_native_strategy;

use crate::progress::{Entry, read_entries};
use crate::review::Review;

/// Far more than a lifetime's takes.
const MOST_BYTES: u64 = 1 << 26;

/// Where they are kept: `openchair/takes.jsonl` in `~/.local/share` or what `XDG_DATA_HOME` says, on macOS and Windows
/// where programs keep their data. `None` if the user has no folder for it.
fn path() -> Option<PathBuf> {
    let folders = choose_native_strategy().ok()?;
    Some(folders.data_dir().join("openchair").join("takes.jsonl"))
}

/// Every take that was kept, and the numbers of lines that can't be read.
pub(in crate::cli) fn takes() -> io::Result<(Vec<Entry>, Vec<usize>)> {
    let Some(path) = path() else { return Ok((Vec::new(), Vec::new())) };
    match takes_of(&path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok((Vec::new(), Vec::new())),
        read => read,
    }
}

/// Every take of a file, and the numbers of lines that can't be read.
pub(in crate::cli) fn takes_of(path: &Path) -> io::Result<(Vec<Entry>, Vec<usize>)> {
    if fs::metadata(path)?.len() > MOST_BYTES {
        return Err(io::Error::other("it is too large to be what it should be"));
    }
    Ok(read_entries(&String::from_utf8_lossy(&fs::read(path)?)))
}

/// Keeps the figures of a review, unless it is the last take reviewed again. Gives what the player should know if they
/// can't be kept; the review is good without.
pub(in crate::cli) fn keep(review: &Review) -> Option<String> {
    let at = chrono::Local::now().format("%Y-%m-%dT%H:%M").to_string();
    let entry = Entry::of(review, at)?;
    let done = (|| {
        let Some(path) = path() else { return Ok(()) };
        let (before, _) = takes()?;
        if before
            .iter()
            .rev()
            .find(|other| other.song == entry.song)
            .is_some_and(|other| other.is_again(&entry))
        {
            return Ok(());
        }
        fs::create_dir_all(path.parent().unwrap_or(&path))?;
        let mut line = serde_json::to_string(&entry)?;
        line.push('\n');
        // In one write at the end of the file, so that two programs at once lose nothing of each other's.
        OpenOptions::new().create(true).append(true).open(&path)?.write_all(line.as_bytes())
    })();
    done.err().map(|error: io::Error| {
        format!("the figures of this take are not kept for `progress`: {error}")
    })
}
