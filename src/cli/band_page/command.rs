use std::path::PathBuf;
use std::process::ExitCode;

use super::book::{Entry, entry, shipped};
use super::document::document;
use crate::cli::failure::Failure;
use crate::cli::files::{is_same_file, is_stdout, to_stdout, write_whole};

#[derive(Debug, clap::Args)]
pub(in crate::cli) struct BandPage {
    /// The songs: files, or names that `openchair songs` lists; all that come with the program where none is named
    #[arg(value_name = "SONG")]
    pub songs: Vec<PathBuf>,
    /// Where to write: FILE.html, or - for standard output
    #[arg(short, long, value_name = "FILE")]
    pub output: PathBuf,
}

/// Writes the page.
pub(in crate::cli) fn run(asked: &BandPage) -> Result<ExitCode, Failure> {
    let output = &asked.output;
    if !is_stdout(output) {
        let ending = output.extension().unwrap_or_default().to_ascii_lowercase();
        if ending != "html" && ending != "htm" {
            let shown = output.display();
            return Err(Failure::Usage(format!("-o {shown}: the name must end in .html")));
        }
        if let Some(song) = asked.songs.iter().find(|song| is_same_file(song, output)) {
            let shown = song.display();
            return Err(Failure::Usage(format!(
                "-o {shown}: this is the song itself; give the page another name"
            )));
        }
    }
    let page = page_of(&asked.songs)?;
    if is_stdout(output) {
        to_stdout(page.as_bytes())?;
    } else {
        write_whole(output, page.as_bytes())?;
    }
    Ok(ExitCode::SUCCESS)
}

/// The page of those songs, or of all that come with the program where there are none.
pub(in crate::cli) fn page_of(songs: &[PathBuf]) -> Result<String, Failure> {
    let songs: Vec<Entry> = match songs {
        [] => shipped()?,
        songs => songs.iter().map(|song| entry(song)).collect::<Result<_, _>>()?,
    };
    document(&songs, None)
}
