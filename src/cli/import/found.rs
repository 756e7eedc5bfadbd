use std::io::{self, Read as _};
use std::path::{Path, PathBuf};

use crate::cli::failure::Failure;
use crate::cli::files::{files_below, is_hidden, open};
use crate::interchange::{Format, MOST_FILE_BYTES};

/// A file that was read.
pub(super) struct Read {
    pub name: String,
    pub bytes: Vec<u8>,
    pub format: Format,
}

/// All files that are named, and those in folders that a reader knows by their endings, by name.
pub(super) fn collect(named: &[PathBuf]) -> Result<Vec<PathBuf>, Failure> {
    let mut files = Vec::new();
    for path in named {
        if path.is_dir() {
            let before = files.len();
            files_below(path, &|path| !is_hidden(path) && by_name(path).is_some(), &mut files)?;
            if files.len() == before {
                return Err(Failure::failed(format!(
                    "there are no tunes in {}: they end in {}",
                    path.display(),
                    Format::endings().join(", ")
                )));
            }
        } else {
            files.push(path.clone());
        }
    }
    Ok(files)
}

fn by_name(path: &Path) -> Option<Format> {
    Format::of_ending(&path.extension()?.to_string_lossy())
}

/// Reads a file, of the kind that is asked for or that its name or its first bytes say.
pub(super) fn read(path: &Path, asked: Option<Format>) -> Result<Read, String> {
    let name = path.display().to_string();
    let failed = |error: io::Error| match error.kind() {
        io::ErrorKind::NotFound => format!("there is no file {name}"),
        _ => format!("can't read {name}: {error}"),
    };
    let file = open(path).map_err(failed)?;
    let mut bytes = Vec::new();
    file.take(MOST_FILE_BYTES + 1).read_to_end(&mut bytes).map_err(failed)?;
    if bytes.len() as u64 > MOST_FILE_BYTES {
        return Err(format!(
            "{name} is larger than {MOST_FILE_BYTES} bytes, the most that is read"
        ));
    }
    let format = asked.or_else(|| by_name(path)).or_else(|| Format::of_bytes(&bytes));
    let Some(format) = format else {
        let endings = Format::endings().join(", ");
        return Err(format!(
            "{name}: its name says no kind of tune; those known end in {endings}, or say --format"
        ));
    };
    Ok(Read { name, bytes, format })
}
