use std::fs;
use std::path::Path;

use super::write_whole;
use crate::sink::{SoundFont, SoundFontError, WavError, write_flac, write_stem, write_wav};
use crate::synth::Renderer;

/// The largest soundfont that is read, in bytes.
const LARGEST: u64 = 2 << 30;

/// Renders all into the file at `path`; there is never half a file of that name.
///
/// # Errors
/// [`WavError::TooLong`], or [`WavError::File`] with what the system said.
pub fn save_wav(renderer: &mut dyn Renderer, path: &Path) -> Result<(), WavError> {
    write_whole(path, |file| write_wav(renderer, file)).map_err(|error| of_file(path, error))
}

/// The same as [`write_flac`] has it.
///
/// # Errors
/// As [`save_wav`].
pub fn save_flac(renderer: &mut dyn Renderer, path: &Path) -> Result<(), WavError> {
    write_whole(path, |file| write_flac(renderer, file)).map_err(|error| of_file(path, error))
}

/// The same as [`write_stem`] has it.
///
/// # Errors
/// As [`save_wav`].
pub fn save_stem(renderer: &mut dyn Renderer, path: &Path) -> Result<(), WavError> {
    write_whole(path, |file| write_stem(renderer, file)).map_err(|error| of_file(path, error))
}

fn of_file(path: &Path, error: WavError) -> WavError {
    match error {
        WavError::Write(cause) => WavError::File { path: path.to_owned(), cause },
        other => other,
    }
}

impl SoundFont {
    /// Reads an .sf2 file.
    ///
    /// # Errors
    /// [`SoundFontError::File`] if it cannot be read, [`SoundFontError::Broken`] if it is none.
    pub fn load(path: &Path) -> Result<Self, SoundFontError> {
        let refused = |cause| SoundFontError::File { path: path.to_owned(), cause };
        let broken = |cause: String| SoundFontError::Broken { path: path.to_owned(), cause };
        let about = fs::metadata(path).map_err(refused)?;
        // A pipe would be waited for without end.
        if !about.is_file() {
            return Err(broken("it is no file".to_owned()));
        }
        if about.len() > LARGEST {
            return Err(broken("it is larger than 2 GiB".to_owned()));
        }
        let bytes = fs::read(path).map_err(refused)?;
        Self::from_bytes(&bytes).map_err(broken)
    }
}
