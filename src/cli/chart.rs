use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::ValueEnum;

use super::failure::{Failure, tell};
use super::files::{is_same_file, is_stdout, to_stdout, write_whole};
use super::options::SongOptions;
use super::rehearse::{rehearsal, rendition};
use crate::chart::RoleSet;
use crate::printed::{
    ChartSheet, ChordsAs, How, chart_sheet, html, lay_out, pdf, svg, unknown_letters,
};
use crate::rehearsal::Wishes;
use crate::theory::Capo;

#[derive(Debug, clap::Args)]
pub(super) struct Chart {
    /// The song: a file, or a name that `openchair songs` lists
    pub song: PathBuf,
    /// Where to write: FILE.html, FILE.svg or FILE.pdf, or - for standard output
    #[arg(short, long, value_name = "FILE")]
    pub output: PathBuf,
    /// The kind of file, where its name does not say
    #[arg(long, value_enum)]
    pub format: Option<ChartFormat>,
    #[command(flatten)]
    pub look: ChartLook,
    #[command(flatten)]
    pub options: SongOptions,
}

/// How a chart looks.
#[derive(Clone, Debug, clap::Args)]
pub(super) struct ChartLook {
    /// Chords as numbers of the key, or with --numbers=both under their names
    #[arg(long, value_name = "alone|both", value_enum, num_args = 0..=1, require_equals = true, default_missing_value = "alone")]
    pub numbers: Option<Numbers>,
    /// Large print, to be read at two metres
    #[arg(long)]
    pub big: bool,
    /// Write the shapes that are played behind a capo at this fret, for whoever has one
    #[arg(long, value_name = "FRET", allow_negative_numbers = true, value_parser = fret)]
    pub capo: Option<u8>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum ChartFormat {
    /// A page for a browser
    Html,
    /// A drawing
    Svg,
    /// PDF
    Pdf,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Numbers {
    /// In place of names
    Alone,
    /// Under the names
    Both,
}

/// Writes a chart to print.
pub(super) fn run(chart: &Chart) -> Result<ExitCode, Failure> {
    let format = format(chart)?;
    if !is_stdout(&chart.output) && is_same_file(&chart.song, &chart.output) {
        return Err(Failure::Usage(format!(
            "-o {}: this is the song itself; give the chart another name",
            chart.output.display()
        )));
    }
    let sheet = sheet(&chart.song, chart.options.wishes(), &chart.look)?;
    let pages = lay_out(&sheet, chart.look.big);
    let bytes = match format {
        ChartFormat::Html => {
            let title = sheet.title.clone();
            html(&title, &[(sheet, pages)], chart.look.big).into_bytes()
        }
        ChartFormat::Svg => svg(&sheet.title, &pages.pages).into_bytes(),
        ChartFormat::Pdf => {
            tell_unknown(&sheet);
            pdf(&sheet.title, &pages.pages).map_err(Failure::failed)?
        }
    };
    if is_stdout(&chart.output) {
        to_stdout(&bytes)?;
    } else {
        write_whole(&chart.output, &bytes)?;
    }
    Ok(ExitCode::SUCCESS)
}

/// The chart of a song.
pub(super) fn sheet(song: &Path, wishes: Wishes, look: &ChartLook) -> Result<ChartSheet, Failure> {
    let rehearsal = rehearsal(song, wishes)?;
    let band = rendition(&rehearsal)?;
    let played = &band.arrangement;
    let passes = band.coverage(RoleSet::EMPTY).passes(played);
    let chords = match look.numbers {
        None => ChordsAs::Names,
        Some(Numbers::Alone) => ChordsAs::Numbers,
        Some(Numbers::Both) => ChordsAs::Both,
    };
    let how = How { chords, capo: look.capo.unwrap_or(0) };
    Ok(chart_sheet(rehearsal.song(), played, &passes, &rehearsal.style().name, how))
}

/// Says which letters the PDF has boxes for.
fn tell_unknown(sheet: &ChartSheet) {
    let names = sheet.parts.iter().map(|part| part.name.as_str());
    let composer = sheet.composer.as_deref().unwrap_or_default();
    let texts = [sheet.title.as_str(), composer].into_iter().chain(names);
    let unknown = unknown_letters(&texts.collect::<String>());
    if !unknown.is_empty() {
        const MOST: usize = 12;
        let shown: Vec<String> = unknown.iter().take(MOST).map(char::to_string).collect();
        tell(format!(
            "the PDF's type has Latin, Greek and Cyrillic letters; it shows boxes for {}. Write .html or .svg, \
             which use the letters of your system",
            shown.join(" ")
        ));
    }
}

fn fret(text: &str) -> Result<u8, String> {
    let fret = text.trim().parse().ok().and_then(Capo::new);
    fret.map(Capo::fret).ok_or_else(|| format!("write a fret from 0 to {}", Capo::MAX))
}

/// What the name's ending says, or what was asked for where it says nothing.
fn format(chart: &Chart) -> Result<ChartFormat, Failure> {
    let output = chart.output.display();
    let ending = chart.output.extension().unwrap_or_default().to_string_lossy().to_lowercase();
    let named = match ending.as_str() {
        "html" | "htm" => Some(ChartFormat::Html),
        "svg" => Some(ChartFormat::Svg),
        "pdf" => Some(ChartFormat::Pdf),
        _ => None,
    };
    match (named, chart.format) {
        (Some(named), Some(asked)) if named != asked => Err(Failure::Usage(format!(
            "-o {output}: the name says .{ending} and --format says otherwise; leave one of them out"
        ))),
        (Some(format), _) | (None, Some(format)) => Ok(format),
        (None, None) if is_stdout(&chart.output) => Err(Failure::Usage(
            "-o -: say which kind of file with --format html, svg or pdf".into(),
        )),
        (None, None) => Err(Failure::Usage(format!(
            "-o {output}: the name must end in .html, .svg or .pdf, or say which with --format"
        ))),
    }
}
