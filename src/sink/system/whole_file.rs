use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

/// Writes a file so that it is there whole or not at all: to a temporary beside it, then renamed.
/// What is no ordinary file (a pipe, a device) is written to as it is; `write` must not seek then. A link stays one:
/// what it leads to is written.
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
    let real = behind_links(path)?;
    let path = real.as_path();
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    let mut builder = tempfile::Builder::new();
    builder.prefix(".openchair-");
    // As any program would create it: the user's mask takes away what it should.
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    let temporary = builder.tempfile_in(folder.unwrap_or(Path::new(".")));
    // Nobody knows the temporary's name.
    let mut temporary = temporary.map_err(|error| io::Error::from(error.kind()))?;
    flushed(temporary.as_file_mut(), write)?;
    temporary.persist(path).map_err(|error| error.error)?;
    Ok(())
}

/// What a path leads to through links, whether it is there yet or not.
fn behind_links(path: &Path) -> io::Result<PathBuf> {
    /// As many as Linux follows.
    const MOST: usize = 40;
    let mut path = path.to_owned();
    for _ in 0..MOST {
        if !path.is_symlink() {
            return Ok(path);
        }
        let to = fs::read_link(&path)?;
        path = path.parent().map_or_else(|| to.clone(), |folder| folder.join(&to));
    }
    Err(io::Error::other("its links lead in a circle"))
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

    #[cfg(unix)]
    #[test]
    fn a_link_stays_a_link() {
        let folder = tempfile::tempdir().unwrap();
        let (real, link) = (folder.path().join("real.mid"), folder.path().join("link.mid"));
        std::os::unix::fs::symlink("real.mid", &link).unwrap();
        for text in [&b"first"[..], b"second"] {
            // At first what it leads to is not there.
            write_whole(&link, |out| out.write_all(text)).unwrap();
            assert!(link.is_symlink());
            assert_eq!(fs::read(&real).unwrap(), text);
        }
        let (one, other) = (folder.path().join("one"), folder.path().join("other"));
        std::os::unix::fs::symlink("other", &one).unwrap();
        std::os::unix::fs::symlink("one", &other).unwrap();
        let circle = write_whole(&one, |out| out.write_all(b"x"));
        assert!(circle.unwrap_err().to_string().contains("circle"));
    }

    #[cfg(unix)]
    #[test]
    fn what_cannot_be_written_is_told_without_a_strange_name() {
        let nowhere = Path::new("/proc/no-such-folder/take.mid");
        let told = write_whole(nowhere, |out| out.write_all(b"x")).unwrap_err().to_string();
        assert!(!told.contains(".openchair-"), "{told}");
    }

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
