//! The band's own sound or a soundfont's, as a file.

use std::io::Cursor;
use std::path::Path;

use super::failure::{Failure, tell};
use super::files::native;
use crate::perform::Performance;
use crate::rehearsal::Voices;
use crate::sink::{SoundFont, save_flac, save_stem, save_wav, write_flac, write_wav};
use crate::synth::Renderer;

/// Frames a second of the sound files: what studios and video use.
const FILE_RATE: u32 = 48_000;

/// The whole of a performance.
fn band(
    voices: &Voices,
    performance: &Performance,
    soundfont: Option<&Path>,
) -> Result<Box<dyn Renderer>, Failure> {
    Ok(match soundfont {
        None => Box::new(voices.synth(performance, FILE_RATE)),
        Some(path) => {
            let font = SoundFont::load(path).map_err(Failure::failed)?;
            Box::new(font.band(performance, FILE_RATE).map_err(Failure::failed)?)
        }
    })
}

/// How sound is written: the same samples either way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Wav,
    Flac,
}

/// Writes the performance as a sound file.
pub(super) fn save(
    voices: &Voices,
    performance: &Performance,
    soundfont: Option<&Path>,
    kind: Kind,
    path: &Path,
) -> Result<(), Failure> {
    let mut band = band(voices, performance, soundfont)?;
    let saved = match kind {
        Kind::Wav => save_wav(band.as_mut(), path),
        Kind::Flac => save_flac(band.as_mut(), path),
    };
    saved.map_err(Failure::failed)
}

/// Writes each player's part as a sound file of its own, named after `path` and the player.
pub(super) fn save_stems(
    voices: &Voices,
    performance: &Performance,
    path: &Path,
) -> Result<(), Failure> {
    for (name, mut alone) in voices.stems(performance, FILE_RATE) {
        let stem = path.file_stem().unwrap_or_default().to_string_lossy();
        let path = native(path.with_file_name(format!("{stem}-{name}.wav")));
        tell(format!("writing {}", path.display()));
        save_stem(&mut alone, &path).map_err(Failure::failed)?;
    }
    Ok(())
}

/// The performance as the bytes of a sound file.
pub(super) fn sound(
    voices: &Voices,
    performance: &Performance,
    soundfont: Option<&Path>,
    kind: Kind,
) -> Result<Vec<u8>, Failure> {
    let mut band = band(voices, performance, soundfont)?;
    let mut bytes = Cursor::new(Vec::new());
    let written = match kind {
        Kind::Wav => write_wav(band.as_mut(), &mut bytes),
        Kind::Flac => write_flac(band.as_mut(), &mut bytes),
    };
    written.map_err(Failure::failed)?;
    Ok(bytes.into_inner())
}
