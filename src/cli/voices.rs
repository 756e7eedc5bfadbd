use std::io::Cursor;
use std::path::Path;

use super::failure::Failure;
use crate::perform::Performance;
use crate::sink::{SoundFont, WavError, save_wav, write_wav};
use crate::synth::{Renderer, Synth};

/// Frames a second of the sound files: what studios and video use.
const FILE_RATE: u32 = 48_000;

/// The band with its own sound, or a soundfont's.
pub(super) fn band(
    performance: &Performance,
    soundfont: Option<&Path>,
    sample_rate: u32,
) -> Result<Box<dyn Renderer>, Failure> {
    Ok(match soundfont {
        None => Box::new(Synth::new(performance, sample_rate)),
        Some(path) => {
            let font = SoundFont::load(path).map_err(Failure::failed)?;
            Box::new(font.band(performance, sample_rate).map_err(Failure::failed)?)
        }
    })
}

/// Writes the performance as a sound file.
pub(super) fn save(
    performance: &Performance,
    soundfont: Option<&Path>,
    path: &Path,
) -> Result<(), Failure> {
    let mut band = band(performance, soundfont, FILE_RATE)?;
    save_wav(band.as_mut(), path).map_err(Failure::failed)
}

/// The performance as the bytes of a sound file.
pub(super) fn bytes(
    performance: &Performance,
    soundfont: Option<&Path>,
) -> Result<Vec<u8>, Failure> {
    let mut band = band(performance, soundfont, FILE_RATE)?;
    let mut bytes = Cursor::new(Vec::new());
    write_wav(band.as_mut(), &mut bytes).map_err(|error: WavError| Failure::failed(error))?;
    Ok(bytes.into_inner())
}
