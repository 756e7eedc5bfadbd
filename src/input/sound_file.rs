//! Takes as sound files, as phones, recorders and programs write them.

use std::io::{Read, SeekFrom};

use super::TakeError;
use super::decoded;
use super::signs::{SoundKind, looks_like};
use super::source::{SoundSource, fits};
use super::wav::{Wave, unreadable};
use crate::hear::{Cancelled, Mixer, Sound};

/// What a sound file holds.
#[derive(Clone, Debug, PartialEq)]
pub struct SoundFile {
    /// Its first sound track.
    pub sound: Sound,
    /// How many sound tracks it has.
    pub tracks: usize,
}

/// The sound of a file: all channels of its first sound track as one, at the rate at which everything is heard.
///
/// WAV, FLAC, MP3, OGG (Vorbis, FLAC), M4A and MP4 (AAC-LC, ALAC), plain AAC, and AIFF. Its kind is told from its
/// bytes, whatever its name. It is read in blocks, and what is kept is the sound alone; twice if its channels cancel
/// each other out. Of a file that was cut off, what is there. What an encoder puts before and after the sound is
/// taken off where the file says how much that is, so that all stays at its time.
///
/// # Errors
/// [`TakeError`] says what it is instead, and what to save.
pub fn read_take_sound(mut source: impl SoundSource) -> Result<SoundFile, TakeError> {
    let length = source.seek(SeekFrom::End(0)).map_err(unreadable)?;
    let mut head = Vec::new();
    source.rewind().map_err(unreadable)?;
    source.by_ref().take(64).read_to_end(&mut head).map_err(unreadable)?;
    let Some(kind) = SoundKind::of(&head) else {
        return Err(TakeError::Neither { looks: looks_like(&head) });
    };
    let (mixer, tracks) = mixed(&mut source, kind, length, None)?;
    let sound = match mixer.finish() {
        Ok(sound) => sound,
        Err(Cancelled { loudest, sound }) => {
            drop(sound);
            let (mixer, _) = mixed(&mut source, kind, length, Some(loudest))?;
            mixer.finish().unwrap_or_else(|cancelled| cancelled.sound)
        }
    };
    if sound.samples.is_empty() {
        return Err(TakeError::Empty);
    }
    Ok(SoundFile { sound, tracks })
}

/// All of a file's sound, or one channel of it `alone`, and how many sound tracks it has.
fn mixed(
    source: &mut impl SoundSource,
    kind: SoundKind,
    length: u64,
    alone: Option<usize>,
) -> Result<(Mixer, usize), TakeError> {
    if kind != SoundKind::Wave {
        return decoded::decode(source, kind, length, alone);
    }
    let wave = Wave::find(source, length)?;
    fits(wave.rate(), wave.frames())?;
    let mut mixer = Mixer::new(wave.channels(), wave.rate(), alone);
    wave.read(source, |frames| mixer.push(frames))?;
    Ok((mixer, 1))
}
