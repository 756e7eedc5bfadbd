use std::fs::{self, File};
use std::io;
use std::path::Path;

/// Opens a file for reading. A named pipe, which would be waited for without end, and a device, which may have no end,
/// are refused; what a shell passes (`<(…)`, standard input) is read.
pub(in crate::cli) fn open(path: &Path) -> io::Result<File> {
    if let Some(what) = no_file(path)? {
        return Err(io::Error::other(format!("it is {what}, no file")));
    }
    File::open(path)
}

#[cfg(unix)]
fn no_file(path: &Path) -> io::Result<Option<&'static str>> {
    use std::os::unix::fs::FileTypeExt;

    let kind = fs::metadata(path)?.file_type();
    if kind.is_char_device() || kind.is_block_device() {
        return Ok(Some("a device"));
    }
    // What a process holds open has somebody at its other end.
    let held = || fs::canonicalize(path).is_err() || path.starts_with("/dev/fd");
    Ok((kind.is_fifo() && !held()).then_some("a pipe"))
}

#[cfg(not(unix))]
fn no_file(path: &Path) -> io::Result<Option<&'static str>> {
    fs::metadata(path).map(|_| None)
}
