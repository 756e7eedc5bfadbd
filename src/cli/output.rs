use std::fs;
use std::io::{self, Write};
use std::path::Path;

use super::failure::Failure;

/// Writes a file so that it is there whole or not at all: to a temporary beside it, then renamed.
/// What is no ordinary file (a pipe, a device) is written to as it is.
pub(super) fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    let failed = |error: io::Error| {
        Failure::failed(match error.kind() {
            io::ErrorKind::NotFound => {
                format!("can't write {}: there is no such folder; make it first", path.display())
            }
            _ => format!("can't write {}: {error}", path.display()),
        })
    };
    if fs::metadata(path).is_ok_and(|meta| !meta.is_file() && !meta.is_dir()) {
        return fs::OpenOptions::new()
            .write(true)
            .open(path)
            .and_then(|mut file| file.write_all(bytes))
            .map_err(failed);
    }
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    let mut builder = tempfile::Builder::new();
    builder.prefix(".openchair-");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // What the user's umask leaves of it, as for any file; the default would be theirs alone.
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    let mut file = builder.tempfile_in(folder.unwrap_or(Path::new("."))).map_err(failed)?;
    file.write_all(bytes).map_err(failed)?;
    file.persist(path).map_err(|error| failed(error.error))?;
    Ok(())
}

/// Writes to standard output. A reader that has gone away (`| head`) is no failure.
pub(super) fn to_stdout(bytes: &[u8]) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    match out.write_all(bytes).and_then(|()| out.flush()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            Err(Failure::failed(format!("can't write to standard output: {error}")))
        }
        _ => Ok(()),
    }
}
