use std::io::{self, Write};
use std::path::Path;

use crate::cli::failure::Failure;
use crate::cli::terminal::shown;
use crate::sink;

/// Writes a file, whole or not at all.
pub(in crate::cli) fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    sink::write_whole(path, |file| file.write_all(bytes)).map_err(|error| {
        Failure::failed(match error.kind() {
            io::ErrorKind::NotFound => {
                format!("can't write {}: there is no such folder; make it first", path.display())
            }
            _ => format!("can't write {}: {error}", path.display()),
        })
    })
}

/// Writes words to standard output: nothing in them does anything to the terminal.
pub(in crate::cli) fn say_to_stdout(words: &str) -> Result<(), Failure> {
    to_stdout(shown(words, &io::stdout()).as_bytes())
}

/// Writes to standard output. A reader that has gone away (`| head`) is no failure.
pub(in crate::cli) fn to_stdout(bytes: &[u8]) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    match out.write_all(bytes).and_then(|()| out.flush()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            Err(Failure::failed(format!("can't write to standard output: {error}")))
        }
        _ => Ok(()),
    }
}
