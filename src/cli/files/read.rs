use std::fs;
use std::io::{self, Read};
use std::path::Path;

use super::open::open;
use crate::cli::failure::Failure;
use crate::text::{Source, TooLarge};

/// Reads a file, refusing one that is too large before it takes memory.
pub(in crate::cli) fn read(path: &Path) -> Result<Source, Failure> {
    text(path).map_err(Failure::Failed)
}

/// The same, or why it can't be read.
pub(super) fn text(path: &Path) -> Result<Source, String> {
    let name = path.display().to_string();
    let failed = |error: io::Error| match error.kind() {
        io::ErrorKind::NotFound => format!("there is no file {name}"),
        _ => format!("can't read {name}: {error}"),
    };
    let file = open(path).map_err(failed)?;
    if file.metadata().map_err(failed)?.is_dir() {
        return Err(format!("{name} is a folder; name a song file in it"));
    }
    let mut bytes = Vec::new();
    // One byte over the limit is enough to know, also where the size is not known beforehand.
    file.take(Source::MOST_BYTES + 1).read_to_end(&mut bytes).map_err(failed)?;
    let size = fs::metadata(path).map_or(0, |meta| meta.len()).max(bytes.len() as u64);
    if size > Source::MOST_BYTES {
        return Err(TooLarge { name, size }.to_string());
    }
    Source::of_bytes(name, bytes).map_err(|why| why.to_string())
}
