//! Compressed scores: the `.mxl` container, a ZIP archive whose `META-INF/container.xml` names the score.

use std::io::{Cursor, Read};

use thiserror::Error;
use zip::ZipArchive;

use super::element::Element;

/// The largest score that is unpacked. A symphony is about 30 MB; what is larger was made to fill memory.
const MOST_BYTES: u64 = 64 << 20;

/// The most files in an archive: a score, its container, and some pictures.
const MOST_FILES: usize = 256;

/// Why an archive gives no score.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
pub enum NoScore {
    /// It is no archive.
    #[error("it is no ZIP archive, as .mxl files are: {0}")]
    NoArchive(String),
    /// It has too many files.
    #[error("it holds {0} files; a compressed score has a few")]
    TooMany(usize),
    /// What it holds is too large.
    #[error("what it holds would unpack to more than {} MB, and is left alone", MOST_BYTES >> 20)]
    TooLarge,
    /// It holds no score.
    #[error("it holds no score: META-INF/container.xml names none")]
    NoScore,
}

/// The score of a compressed file.
///
/// # Errors
/// [`NoScore`] if it is no archive, holds no score, or would unpack to more than a score has.
pub fn unpack(bytes: &[u8]) -> Result<Vec<u8>, NoScore> {
    let mut archive =
        ZipArchive::new(Cursor::new(bytes)).map_err(|why| NoScore::NoArchive(why.to_string()))?;
    if archive.len() > MOST_FILES {
        return Err(NoScore::TooMany(archive.len()));
    }
    let named = match member(&mut archive, "META-INF/container.xml")? {
        Some(container) => rootfile(&container),
        None => None,
    };
    let is_score = |name: &str| {
        let plain = !name.starts_with("META-INF") && !name.contains("__MACOSX");
        plain && (name.ends_with(".xml") || name.ends_with(".musicxml"))
    };
    let name =
        named.or_else(|| archive.file_names().find(|name| is_score(name)).map(str::to_owned));
    member(&mut archive, &name.ok_or(NoScore::NoScore)?)?.ok_or(NoScore::NoScore)
}

/// A file of the archive, if there is one of that name. It is read only as far as a score goes, whatever the archive
/// says of its size.
fn member(archive: &mut ZipArchive<Cursor<&[u8]>>, name: &str) -> Result<Option<Vec<u8>>, NoScore> {
    let Ok(file) = archive.by_name(name) else { return Ok(None) };
    let mut out = Vec::new();
    file.take(MOST_BYTES + 1)
        .read_to_end(&mut out)
        .map_err(|why| NoScore::NoArchive(why.to_string()))?;
    if out.len() as u64 > MOST_BYTES { Err(NoScore::TooLarge) } else { Ok(Some(out)) }
}

fn rootfile(container: &[u8]) -> Option<String> {
    let root = Element::read(&String::from_utf8_lossy(container)).ok()?;
    let file = root.child("rootfiles")?.child("rootfile")?;
    Some(file.attribute("full-path")?.to_owned())
}
