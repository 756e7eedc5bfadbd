use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use super::native::native;
use crate::cli::failure::Failure;

/// All files in a folder and those below it that are `wanted`, by name. Hidden folders are left alone, and so are links to
/// folders, which may lead round in a circle.
pub(in crate::cli) fn files_below(
    folder: &Path,
    wanted: &impl Fn(&Path) -> bool,
    files: &mut Vec<PathBuf>,
) -> Result<(), Failure> {
    let failed = |error: io::Error| {
        Failure::failed(format!("can't read the folder {}: {error}", folder.display()))
    };
    let mut paths: Vec<PathBuf> = fs::read_dir(native(folder.to_owned()))
        .map_err(failed)?
        .map(|entry| Ok(entry.map_err(failed)?.path()))
        .collect::<Result<_, Failure>>()?;
    paths.sort();
    for path in paths {
        if path.is_dir() && !path.is_symlink() && !is_hidden(&path) {
            files_below(&path, wanted, files)?;
        } else if wanted(&path) {
            files.push(path);
        }
    }
    Ok(())
}

/// True if its name begins with a dot.
pub(in crate::cli) fn is_hidden(path: &Path) -> bool {
    path.file_name().is_some_and(|name| name.to_string_lossy().starts_with('.'))
}
