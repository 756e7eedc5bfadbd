use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::ValueEnum;

use super::args::Options;
use super::failure::Failure;
use super::output::{to_stdout, write_whole};
use super::rehearse::{remark, song_and_style};
use crate::arrange::arrange;
use crate::backup::{Level, backup};
use crate::chart::{Role, RoleSet};
use crate::coverage::coverage;
use crate::perform::{Instrument, perform};
use crate::practice::Stretch;
use crate::tablature::{Tablature, json, musicxml, neck_svg, neck_text, tablature, text};

#[derive(Debug, clap::Args)]
pub(super) struct Tab {
    /// The song file
    pub song: PathBuf,
    /// Where to write: FILE.txt or FILE.musicxml, with --neck FILE.svg; standard output without it, or -
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// The kind of file, where its name does not say
    #[arg(long, value_enum, conflicts_with = "json")]
    pub format: Option<TabFormat>,
    /// How much of the craft the part shows; each adds one thing to the one before
    #[arg(long, value_enum, value_name = "LEVEL", default_value_t = TabLevel::Full)]
    pub level: TabLevel,
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
    /// A drawing, of the neck
    Svg,
}

/// The words of [`Level`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum TabLevel {
    /// Rolls over the chord's own tones
    Plain,
    /// The added sixth among them
    Sixths,
    /// A lick into each change
    LeadIns,
    /// All that the open chair asks for
    Full,
}

impl From<TabLevel> for Level {
    fn from(level: TabLevel) -> Self {
        match level {
            TabLevel::Plain => Self::Plain,
            TabLevel::Sixths => Self::Sixths,
            TabLevel::LeadIns => Self::LeadIns,
            TabLevel::Full => Self::Full,
        }
    }
}

/// What is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    Text,
    Json,
    MusicXml,
    Svg,
}

/// Writes the banjo's part out.
pub(super) fn run(tab: &Tab) -> Result<ExitCode, Failure> {
    let kind = kind(tab)?;
    let output = tab.output.as_deref().filter(|path| !is_stdout(path));
    if let Some(output) = output
        && let (Ok(song), Ok(output)) = (tab.song.canonicalize(), output.canonicalize())
        && song == output
    {
        return Err(Failure::Usage(format!(
            "-o {}: this is the song itself; give the tab another name",
            output.display()
        )));
    }
    let (sheet, instrument) = sheet(tab)?;
    let width = tab.width.unwrap_or_else(|| if output.is_none() { terminal_width() } else { PAGE });
    let written = match kind {
        Kind::Json => json(&sheet).map_err(Failure::failed)? + "\n",
        Kind::Text if tab.neck => neck_text(&sheet, width),
        Kind::Text => text(&sheet, width),
        Kind::MusicXml => musicxml(&sheet, instrument).map_err(Failure::failed)?,
        Kind::Svg => neck_svg(&sheet).map_err(Failure::failed)?,
    };
    match output {
        Some(path) => write_whole(path, written.as_bytes())?,
        None => to_stdout(written.as_bytes())?,
    }
    Ok(ExitCode::SUCCESS)
}

/// The part, and the instrument that it is for.
fn sheet(tab: &Tab) -> Result<(Tablature, Instrument), Failure> {
    let options = &tab.options;
    let (song, style) = song_and_style(&tab.song, options)?;
    let (mut plan, chairs) = options.plan(0).map_err(Failure::usage)?;
    plan.tag = style.tag;
    let mut played = arrange(&song, &plan).map_err(Failure::usage)?;
    chairs.lay_out(&mut played);
    remark(&song, &style, &played, options);
    let performance = perform(&played, &style, options.seed).map_err(Failure::failed)?;
    // The chair is the player's, whether the band has a banjo or not.
    let open = coverage(&played, &performance, RoleSet::EMPTY.with(Role::Banjo));
    let level = tab.level.into();
    let part = backup(&played, &style, &open, level, options.seed);
    let mut sheet = tablature(&played, performance.swing, &open, &part, level);
    sheet.composer.clone_from(&song.composer);
    if let Some(stretch) = &tab.only {
        let numbers =
            stretch.bars(&played).map_err(|why| Failure::Usage(format!("--only: {why}")))?;
        let only = sheet.only(numbers);
        sheet = only.ok_or_else(|| Failure::Usage(format!("--only {stretch}: no such bars")))?;
    }
    let instrument = style.part(Role::Banjo).map_or(BANJO, |part| part.instrument);
    Ok((sheet, instrument))
}

/// General MIDI's banjo (program 106, counted from 1), where the style says nothing of one.
const BANJO: Instrument = Instrument { program: 105, volume: 80, pan: 64 };

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

fn is_stdout(path: &Path) -> bool {
    path.as_os_str() == "-"
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
                "-o: the name must end in .txt, .musicxml or, with --neck, .svg; or say which with \
                 --format",
            ));
        }
        (None, None) => Kind::Text,
    };
    match kind {
        Kind::Svg if !tab.neck => Err(Failure::usage(
            "a drawing is made of the neck alone: add --neck, or write FILE.musicxml for a notation \
             program to print the tab",
        )),
        Kind::MusicXml if tab.neck => Err(Failure::usage(
            "--neck: the neck is written as text or drawn as FILE.svg; leave --neck out for the tab as \
             MusicXML",
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
