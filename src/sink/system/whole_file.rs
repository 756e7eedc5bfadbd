use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::Path;

/// Writes a file so that it is there whole or not at all: to a temporary beside it, then renamed.
/// What is no ordinary file (a pipe, a device) is written to as it is; `write` must not seek then.
///
/// # Errors
/// What the system, or `write`, said. Nothing is left behind.
pub fn write_whole<E: From<io::Error>>(
    path: &Path,
    write: impl FnOnce(&mut BufWriter<&mut File>) -> Result<(), E>,
) -> Result<(), E> {
    if fs::metadata(path).is_ok_and(|meta| !meta.is_file() && !meta.is_dir()) {
        let mut device = fs::OpenOptions::new().write(true).open(path)?;
        return flushed(&mut device, write);
    }
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    let mut builder = tempfile::Builder::new();
    builder.prefix(".openchair-");
    // As any program would create it: the user's mask takes away what it should.
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    let mut temporary = builder.tempfile_in(folder.unwrap_or(Path::new(".")))?;
    flushed(temporary.as_file_mut(), write)?;
    temporary.persist(path).map_err(|error| error.error)?;
    Ok(())
}

fn flushed<E: From<io::Error>>(
    file: &mut File,
    write: impl FnOnce(&mut BufWriter<&mut File>) -> Result<(), E>,
) -> Result<(), E> {
    let mut buffered = BufWriter::with_capacity(1 << 18, file);
    write(&mut buffered)?;
    Ok(buffered.flush()?)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_failed_write_leaves_the_old_file() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("take.mid");
        write_whole(&path, |out| out.write_all(b"old")).unwrap();
        let failed = write_whole(&path, |out| {
            out.write_all(b"half of")?;
            Err(io::Error::other("the disk is full"))
        });
        assert!(failed.is_err());
        assert_eq!(fs::read(&path).unwrap(), b"old");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }
}
