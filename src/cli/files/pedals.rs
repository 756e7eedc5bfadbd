//! The user's own settings: a folder of small files to be written by hand as well as by openchair.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use etcetera::BaseStrategy;
use etcetera::base_strategy::choose_native_strategy;

use super::read::read;
use crate::cli::failure::Failure;
use crate::live::PedalMap;
use crate::sink::write_whole;
use crate::text::Problems;

/// What pedals were taught, and the file it stands in.
#[derive(Debug)]
pub(in crate::cli) struct PedalFile {
    pub path: PathBuf,
    /// As it stands in the file; empty if there is none.
    pub text: String,
    pub map: PedalMap,
}

impl PedalFile {
    /// Reads it. A file that is not there teaches nothing.
    ///
    /// # Errors
    /// The user has no folder for settings; the file can't be read, or has mistakes.
    pub(in crate::cli) fn read() -> Result<Self, Failure> {
        Self::read_from(folder()?.join("pedals.toml"))
    }

    fn read_from(path: PathBuf) -> Result<Self, Failure> {
        // A link that leads nowhere is there.
        if !path.exists() && !path.is_symlink() {
            return Ok(Self { path, text: String::new(), map: PedalMap::new() });
        }
        let source = read(&path)?;
        let mut problems = Problems::new();
        let map = PedalMap::read(&source, &mut problems);
        if problems.is_empty() {
            Ok(Self { path, text: source.text, map })
        } else {
            Err(Failure::Wrong(Box::new(source), problems))
        }
    }

    /// Writes it whole or not at all.
    ///
    /// # Errors
    /// What the system says.
    pub(in crate::cli) fn write(&self, text: &str) -> Result<(), Failure> {
        // Where the file is a link to one that is kept elsewhere, that one is meant.
        let path = fs::canonicalize(&self.path).unwrap_or_else(|_| self.path.clone());
        let folder = path.parent().unwrap_or(Path::new(""));
        fs::create_dir_all(folder)
            .and_then(|()| write_whole(&path, |out| out.write_all(text.as_bytes())))
            .map_err(|error| Failure::failed(format!("can't write {}: {error}", path.display())))
    }
}

/// Where settings are kept: `~/.config/openchair` or what `XDG_CONFIG_HOME` says, on macOS `~/Library/Application
/// Support/openchair`, on Windows the roaming application data.
fn folder() -> Result<PathBuf, Failure> {
    let native = choose_native_strategy()
        .map_err(|error| Failure::failed(format!("there is no folder for settings: {error}")))?;
    // On macOS the folder for preferences is for property lists alone.
    let folder = if cfg!(target_os = "macos") { native.data_dir() } else { native.config_dir() };
    Ok(folder.join("openchair"))
}
