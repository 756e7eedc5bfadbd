use std::fs::File;
use std::io::{self, Cursor, Read, Seek};
use std::path::Path;

use crate::cli::failure::{Failure, tell};
use crate::cli::files;
use crate::hear::{Heard, Sound, Unheard, hear, remarks};
use crate::input::{SoundFile, TakeError, read_recorded, read_take_midi, read_take_sound};
use crate::take::{Recorded, Take};

/// The largest MIDI file, or pipe, that is read, in bytes. Other sound is not held in memory.
const MOST_BYTES: u64 = 1 << 30;

/// What a file holds of a player.
pub(in crate::cli) struct TakeFile {
    /// The strokes.
    pub take: Take,
    /// How the recording was, if it is one.
    pub heard: Option<Heard>,
    /// Where the song was meanwhile, if it was recorded beside the band.
    pub recorded: Option<Recorded>,
    /// Why nothing was heard of it, where it is a recording in which nothing is.
    pub unheard: Option<Unheard>,
}

/// What is heard of a recording, or what a MIDI file holds. What makes hearing hard is said on standard error.
pub(in crate::cli) fn read_take(path: &Path) -> Result<TakeFile, Failure> {
    let name = path.display();
    let wrong = |why: TakeError| Failure::failed(format!("{name}: {why}"));
    let SoundFile { sound, tracks } = match open(path)? {
        Opened::Midi(bytes) => {
            let take = read_take_midi(&bytes).map_err(wrong)?;
            let recorded = read_recorded(&bytes);
            return Ok(TakeFile { take, heard: None, recorded, unheard: None });
        }
        Opened::Bytes(bytes) => read_take_sound(Cursor::new(bytes)).map_err(wrong)?,
        Opened::File(file) => read_take_sound(file).map_err(wrong)?,
    };
    if tracks > 1 {
        tell(format!("{name} has {tracks} sound tracks; the first is heard"));
    }
    heard(&name.to_string(), sound)
}

/// What is heard of a sound that bears a name.
fn heard(name: &str, sound: Sound) -> Result<TakeFile, Failure> {
    let heard = hear(&sound.samples, sound.rate);
    for remark in remarks(&sound, heard.as_ref().ok()) {
        tell(format!("{name} {remark}"));
    }
    match heard {
        Ok(heard) => {
            let take = heard.take.clone();
            Ok(TakeFile { take, heard: Some(heard), recorded: None, unheard: None })
        }
        Err(why @ (Unheard::Silent { .. } | Unheard::NoStrokes)) => {
            let take = sound.unheard_take();
            Ok(TakeFile { take, heard: None, recorded: None, unheard: Some(why) })
        }
        Err(why) => Err(Failure::failed(format!("{name}: {why}"))),
    }
}

/// A file, as far as it has to be read to know what it is.
enum Opened {
    Midi(Vec<u8>),
    /// What came through a pipe, which can't be read twice.
    Bytes(Vec<u8>),
    File(File),
}

fn open(path: &Path) -> Result<Opened, Failure> {
    let name = path.display();
    let failed = |error: io::Error| {
        Failure::failed(match error.kind() {
            io::ErrorKind::NotFound => format!("there is no file {name}"),
            _ => format!("can't read {name}: {error}"),
        })
    };
    let mut file = files::open(path).map_err(failed)?;
    let about = file.metadata().map_err(failed)?;
    if about.is_dir() {
        return Err(Failure::failed(format!("{name} is a folder; name the take in it")));
    }
    let mut bytes = Vec::new();
    if about.is_file() {
        file.by_ref().take(4).read_to_end(&mut bytes).map_err(failed)?;
        file.rewind().map_err(failed)?;
        if bytes != b"MThd" {
            return Ok(Opened::File(file));
        }
        bytes.clear();
    }
    file.take(MOST_BYTES + 1).read_to_end(&mut bytes).map_err(failed)?;
    if bytes.len() as u64 > MOST_BYTES {
        return Err(Failure::failed(format!(
            "{name} is larger than a take of several hours; cut out the part that matters"
        )));
    }
    Ok(if bytes.starts_with(b"MThd") { Opened::Midi(bytes) } else { Opened::Bytes(bytes) })
}
