use std::fs;
use std::io::{self, Read};
use std::path::Path;

use crate::cli::failure::{Failure, tell};
use crate::hear::{Heard, hear};
use crate::input::{TakeError, read_recorded, read_take_midi, read_take_wav};
use crate::take::{Recorded, Take};

/// The largest take that is read, in bytes: hours of sound, and short of what a machine chokes on.
const MOST_BYTES: u64 = 1 << 30;

/// More than this share of the samples cut off is heard in every stroke.
const CLIPPED: f64 = 0.001;

/// A peak of fewer decibels is so soft that a microphone's own noise is not far below.
const FAINT: f64 = -40.0;

/// What a file holds of a player.
pub(in crate::cli) struct TakeFile {
    /// The strokes.
    pub take: Take,
    /// How the recording was, if it is one.
    pub heard: Option<Heard>,
    /// Where the song was meanwhile, if it was recorded beside the band.
    pub recorded: Option<Recorded>,
}

/// What is heard of a recording, or what a MIDI file holds. What makes hearing hard is said on standard error.
pub(in crate::cli) fn read_take(path: &Path) -> Result<TakeFile, Failure> {
    let name = path.display();
    let bytes = bytes(path)?;
    let wrong = |why: TakeError| Failure::failed(format!("{name}: {why}"));
    if bytes.starts_with(b"MThd") {
        let take = read_take_midi(&bytes).map_err(wrong)?;
        return Ok(TakeFile { take, heard: None, recorded: read_recorded(&bytes) });
    }
    let sound = read_take_wav(&bytes).map_err(wrong)?;
    drop(bytes);
    if sound.clipped > CLIPPED {
        tell(format!(
            "{name} is clipped: {:.1} percent of it is cut off, and strokes there are hard to make out; \
             record it with the input turned down",
            sound.clipped * 100.0
        ));
    }
    let heard = hear(&sound.samples, sound.rate)
        .map_err(|why| Failure::failed(format!("{name}: {why}")))?;
    if heard.peak < FAINT {
        tell(format!(
            "{name} is very soft: its loudest moment is {:.0} dB below full scale; record it with the \
             input turned up",
            -heard.peak
        ));
    }
    Ok(TakeFile { take: heard.take.clone(), heard: Some(heard), recorded: None })
}

fn bytes(path: &Path) -> Result<Vec<u8>, Failure> {
    let name = path.display();
    let failed = |error: io::Error| {
        Failure::failed(match error.kind() {
            io::ErrorKind::NotFound => format!("there is no file {name}"),
            _ => format!("can't read {name}: {error}"),
        })
    };
    let file = fs::File::open(path).map_err(failed)?;
    if file.metadata().map_err(failed)?.is_dir() {
        return Err(Failure::failed(format!("{name} is a folder; name the take in it")));
    }
    let mut bytes = Vec::new();
    file.take(MOST_BYTES + 1).read_to_end(&mut bytes).map_err(failed)?;
    if bytes.len() as u64 > MOST_BYTES {
        return Err(Failure::failed(format!(
            "{name} is larger than a take of several hours; cut out the part that matters"
        )));
    }
    Ok(bytes)
}
