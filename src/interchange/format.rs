//! Which formats there are, and the one door to their readers.

use thiserror::Error;

use super::abc::read_abc;
use super::midi::read_midi;
use super::musicxml::{read_musicxml, unpack};
use super::sheet::read_sheet;
use super::{Tune, Tunes};
use crate::interchange::tunes::Stray;
use crate::text::Source;

/// The largest file that is read: a book of ten thousand tunes is about 4 MB.
pub const MOST_FILE_BYTES: u64 = 32 << 20;

/// A format of tunes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// ABC.
    Abc,
    /// MusicXML.
    MusicXml,
    /// MusicXML, compressed.
    Mxl,
    /// A chord sheet in plain text.
    Sheet,
    /// A Standard MIDI File with chords as texts.
    Midi,
}

/// The endings that file names have.
const ENDINGS: [(&str, Format); 7] = [
    ("txt", Format::Sheet),
    ("abc", Format::Abc),
    ("musicxml", Format::MusicXml),
    ("xml", Format::MusicXml),
    ("mxl", Format::Mxl),
    ("mid", Format::Midi),
    ("midi", Format::Midi),
];

impl Format {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::Abc, Self::MusicXml, Self::Mxl, Self::Sheet, Self::Midi];

    /// By the ending of a file's name, in letters of either case.
    pub fn of_ending(ending: &str) -> Option<Self> {
        let (_, format) = ENDINGS.iter().find(|(known, _)| known.eq_ignore_ascii_case(ending))?;
        Some(*format)
    }

    /// By what a file holds.
    pub fn of_bytes(bytes: &[u8]) -> Option<Self> {
        let head = String::from_utf8_lossy(bytes.get(..bytes.len().min(4096)).unwrap_or_default());
        if bytes.starts_with(b"PK\x03\x04") {
            return Some(Self::Mxl);
        }
        if bytes.starts_with(b"MThd") {
            return Some(Self::Midi);
        }
        if head.contains("<score-partwise") || head.contains("<score-timewise") {
            return Some(Self::MusicXml);
        }
        let is_abc = head.starts_with("%abc") || head.lines().any(|line| line.starts_with("X:"));
        is_abc.then_some(Self::Abc)
    }

    /// Every ending, with its dot.
    pub fn endings() -> Vec<String> {
        ENDINGS.iter().map(|(ending, _)| format!(".{ending}")).collect()
    }
}

/// What is said to a reader besides the file.
#[derive(Clone, Copy, Debug, Default)]
pub struct Given<'a> {
    /// The voice or part that is wanted.
    pub voice: Option<&'a str>,
    /// How many bars each chord of a chord sheet without bar lines lasts.
    pub bars_per_chord: Option<u32>,
}

/// A file's tunes, and the text that places in them are of.
#[derive(Clone, Debug)]
pub struct FileTunes {
    /// The text.
    pub source: Source,
    /// The tunes.
    pub tunes: Vec<Tune>,
    /// What became no tune.
    pub strays: Vec<Stray>,
}

/// Why a file can't be read at all.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
#[error("{name}: {why}")]
pub struct NoTunes {
    /// The file.
    pub name: String,
    /// Why, in words.
    pub why: String,
}

/// Reads the tunes of a file.
///
/// # Errors
/// [`NoTunes`] if it is no file of that format.
pub fn read_tunes(
    name: &str,
    bytes: &[u8],
    format: Format,
    given: Given<'_>,
) -> Result<FileTunes, NoTunes> {
    match format {
        Format::Abc => {
            let source = Source { name: name.to_owned(), text: decoded(bytes) };
            let Tunes { tunes, strays } = read_abc(&source, given.voice);
            Ok(FileTunes { source, tunes, strays })
        }
        Format::Sheet => {
            let source = Source { name: name.to_owned(), text: decoded(bytes) };
            let Tunes { tunes, strays } = read_sheet(&source, given.bars_per_chord);
            Ok(FileTunes { source, tunes, strays })
        }
        Format::MusicXml => Ok(score(name, bytes, given)),
        Format::Midi => {
            let Tunes { tunes, strays } = read_midi(bytes, given.voice);
            // There is no text in it to point into.
            let source = Source { name: name.to_owned(), text: String::new() };
            Ok(FileTunes { source, tunes, strays })
        }
        Format::Mxl => {
            let unpacked = unpack(bytes);
            let unpacked =
                unpacked.map_err(|why| NoTunes { name: name.to_owned(), why: why.to_string() })?;
            Ok(score(name, &unpacked, given))
        }
    }
}

fn score(name: &str, bytes: &[u8], given: Given<'_>) -> FileTunes {
    let source = Source { name: name.to_owned(), text: decoded(bytes) };
    let Tunes { tunes, strays } = read_musicxml(&source, given.voice);
    FileTunes { source, tunes, strays }
}

/// Text in UTF-8 or UTF-16, or in Latin-1 where it is neither (ABC 2.1, 2.2.2: the encoding of older files).
fn decoded(bytes: &[u8]) -> String {
    let wide = |bytes: &[u8], unit: fn([u8; 2]) -> u16| -> String {
        let units = bytes.chunks_exact(2).filter_map(|pair| Some(unit(pair.try_into().ok()?)));
        char::decode_utf16(units).map(|c| c.unwrap_or(char::REPLACEMENT_CHARACTER)).collect()
    };
    if let Some(rest) = bytes.strip_prefix(b"\xff\xfe") {
        return wide(rest, u16::from_le_bytes);
    }
    if let Some(rest) = bytes.strip_prefix(b"\xfe\xff") {
        return wide(rest, u16::from_be_bytes);
    }
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    match std::str::from_utf8(bytes) {
        Ok(text) => text.to_owned(),
        Err(_) => bytes.iter().map(|&byte| char::from(byte)).collect(),
    }
}
