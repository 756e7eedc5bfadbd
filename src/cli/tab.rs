use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::ValueEnum;

use super::failure::Failure;
use super::files::{is_same_file, is_stdout, midi, to_stdout, write_whole};
use super::options::{Options, level};
use super::rehearse::{rehearsal, rendition};
use crate::backup::Level;
use crate::practice::Stretch;
use crate::rehearsal::BackupPart;
use crate::tablature::{json, musicxml, neck_svg, neck_text, text};
use crate::text::inert;

#[derive(Debug, clap::Args)]
pub(super) struct Tab {
    /// The song: a file, or a name that `openchair songs` lists
    pub song: PathBuf,
    /// Where to write: FILE.txt, FILE.musicxml or FILE.mid, with --neck FILE.svg; standard output without it,
    /// or -
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// The kind of file, where its name does not say
    #[arg(long, value_enum, conflicts_with = "json")]
    pub format: Option<TabFormat>,
    /// How much the banjo plays: plain rolls, then sixths, then lead-ins, or full
    #[arg(long, value_name = "LEVEL", default_value_t = Level::Full, value_parser = level)]
    pub level: Level,
    /// Only a section (verse, verse:2, verse:guitar), or bars by their numbers (5-8, 5)
    #[arg(long, value_name = "SECTION|BARS", value_parser = Stretch::parse)]
    pub only: Option<Stretch>,
    /// Draw the chords' closed positions and inversions up the neck instead
    #[arg(long)]
    pub neck: bool,
    /// How many characters a line of text has at most, 40 to 400; the terminal's, or 80
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = width)]
    pub width: Option<usize>,
    /// Give the picks and what is said of the chords as JSON
    #[arg(long)]
    pub json: bool,
    #[command(flatten)]
    pub options: Options,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum TabFormat {
    /// Plain text
    Text,
    /// MusicXML 4.0, for a notation program
    Musicxml,
    /// A Standard MIDI File
    Mid,
    /// A drawing, of the neck
    Svg,
}

/// What is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    Text,
    Json,
    MusicXml,
    Midi,
    Svg,
}

/// Writes the banjo's part out.
pub(super) fn run(tab: &Tab) -> Result<ExitCode, Failure> {
    let kind = kind(tab)?;
    let output = tab.output.as_deref().filter(|path| !is_stdout(path));
    if let Some(output) = output.filter(|output| is_same_file(&tab.song, output)) {
        return Err(Failure::Usage(format!(
            "-o {}: this is the song itself; give the tab another name",
            output.display()
        )));
    }
    let BackupPart { tab: sheet, alone, instrument } = part(tab)?;
    let width = tab.width.unwrap_or_else(|| if output.is_none() { terminal_width() } else { PAGE });
    let bytes = match kind {
        Kind::Json => (json(&sheet).map_err(Failure::failed)? + "\n").into_bytes(),
        Kind::Text if tab.neck => inert(&neck_text(&sheet, width)).as_bytes().to_vec(),
        Kind::Text => inert(&text(&sheet, width)).as_bytes().to_vec(),
        Kind::MusicXml => musicxml(&sheet, instrument).map_err(Failure::failed)?.into_bytes(),
        Kind::Midi => midi(&alone)?,
        Kind::Svg => neck_svg(&sheet).map_err(Failure::failed)?.into_bytes(),
    };
    match output {
        Some(path) => write_whole(path, &bytes)?,
        None => to_stdout(&bytes)?,
    }
    Ok(ExitCode::SUCCESS)
}

fn part(tab: &Tab) -> Result<BackupPart, Failure> {
    let rehearsal = rehearsal(&tab.song, tab.options.wishes()?)?;
    let band = rendition(&rehearsal)?;
    let mut part = rehearsal.backup_part(&band, tab.level);
    part.tab.composer.clone_from(&rehearsal.song().composer);
    let Some(stretch) = &tab.only else { return Ok(part) };
    let usage = |why: &dyn std::fmt::Display| Failure::Usage(format!("--only: {why}"));
    let numbers = stretch.bars(&band.arrangement).map_err(|why| usage(&why))?;
    part.only(&band, numbers).ok_or_else(|| usage(&"the song has no such bars"))
}

/// A page of text where there is no terminal.
const PAGE: usize = 80;

fn terminal_width() -> usize {
    let size = std::io::stdout().is_terminal().then(ratatui::crossterm::terminal::size);
    match size {
        Some(Ok((columns, _))) if columns > 0 => usize::from(columns),
        _ => PAGE,
    }
}

fn width(text: &str) -> Result<usize, String> {
    let number = text.trim().parse().ok().filter(|number| (40..=400).contains(number));
    number.ok_or_else(|| "write a number of characters from 40 to 400".to_owned())
}

/// What is asked for: by a word, else by the name's ending, else text.
fn kind(tab: &Tab) -> Result<Kind, Failure> {
    let named = match &tab.output {
        Some(path) if !is_stdout(path) => Some(by_ending(path)?),
        _ => None,
    };
    let asked = match tab.format {
        _ if tab.json => Some(Kind::Json),
        Some(TabFormat::Text) => Some(Kind::Text),
        Some(TabFormat::Musicxml) => Some(Kind::MusicXml),
        Some(TabFormat::Mid) => Some(Kind::Midi),
        Some(TabFormat::Svg) => Some(Kind::Svg),
        None => None,
    };
    let kind = match (named.flatten(), asked) {
        (Some(named), Some(asked)) if named != asked => {
            return Err(Failure::usage(
                "-o: the name's ending says one kind of file and the options say another; \
                 leave one of them out",
            ));
        }
        (Some(kind), _) | (None, Some(kind)) => kind,
        (None, None) if named.is_some() => {
            return Err(Failure::usage(
                "-o: the name must end in .txt, .musicxml, .mid or, with --neck, .svg; or say which \
                 with --format",
            ));
        }
        (None, None) => Kind::Text,
    };
    match kind {
        Kind::Svg if !tab.neck => Err(Failure::usage(
            "a drawing is made of the neck alone: add --neck, or write FILE.musicxml for a notation \
             program to print the tab",
        )),
        Kind::MusicXml | Kind::Midi if tab.neck => Err(Failure::usage(
            "--neck: the neck is written as text or drawn as FILE.svg; leave --neck out for the tab as \
             MusicXML or MIDI",
        )),
        kind => Ok(kind),
    }
}

/// `None` for an ending that says nothing.
fn by_ending(path: &Path) -> Result<Option<Kind>, Failure> {
    let ending = path.extension().unwrap_or_default().to_string_lossy().to_lowercase();
    Ok(match ending.as_str() {
        "txt" => Some(Kind::Text),
        "json" => Some(Kind::Json),
        "musicxml" | "xml" => Some(Kind::MusicXml),
        "mid" | "midi" => Some(Kind::Midi),
        "svg" => Some(Kind::Svg),
        "mxl" => {
            return Err(Failure::Usage(format!(
                "-o {}: MusicXML is written uncompressed; name it .musicxml",
                path.display()
            )));
        }
        _ => None,
    })
}
