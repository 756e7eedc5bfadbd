use std::path::PathBuf;
use std::process::ExitCode;

use clap::ValueEnum;

use super::failure::Failure;
use super::files::{is_same_file, is_stdout, midi, to_stdout, write_whole};
use super::options::{OpenChair, Options, count_in, taken};
use super::rehearse::{rehearsal, rendition};
use super::voices::{save, wav};
use crate::chart::RoleSet;
use crate::rehearsal::Wishes;

#[derive(Debug, clap::Args)]
pub(super) struct Export {
    /// The song: a file, or a name that `openchair songs` lists
    pub song: PathBuf,
    /// Where to write: FILE.mid or FILE.wav, or - for standard output
    #[arg(short, long, value_name = "FILE")]
    pub output: PathBuf,
    /// The kind of file, where its name does not say
    #[arg(long, value_enum)]
    pub format: Option<Format>,
    /// Render .wav with the sounds of a soundfont in place of the built-in ones
    #[arg(long, value_name = "FILE.sf2")]
    pub soundfont: Option<PathBuf>,
    #[command(flatten)]
    pub options: Options,
    #[command(flatten)]
    pub chair: OpenChair,
    /// Bars of clicks before the song
    #[arg(long, value_name = "BARS", default_value_t = 0, allow_negative_numbers = true, value_parser = count_in)]
    pub count_in: u32,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Format {
    /// A Standard MIDI File
    Mid,
    /// Sound, 48 kHz stereo
    Wav,
}

/// Writes the performance to a file or to standard output.
pub(super) fn run(export: &Export) -> Result<ExitCode, Failure> {
    let format = format(export)?;
    if format == Format::Mid && export.soundfont.is_some() {
        return Err(Failure::Usage("--soundfont: a MIDI file holds no sound; export .wav".into()));
    }
    if !is_stdout(&export.output) && is_same_file(&export.song, &export.output) {
        return Err(Failure::Usage(format!(
            "-o {}: this is the song itself; give the export another name",
            export.output.display()
        )));
    }
    let wishes = Wishes {
        count_in: export.count_in,
        banjo: export.chair.banjo(),
        ..export.options.wishes()?
    };
    let rehearsal = rehearsal(&export.song, wishes)?;
    let mut band = rendition(&rehearsal)?;
    rehearsal.fill_chair(&mut band, RoleSet::EMPTY).map_err(taken)?;
    let (performance, soundfont) = (&band.performance, export.soundfont.as_deref());
    match (format, is_stdout(&export.output)) {
        (Format::Mid, true) => to_stdout(&midi(performance)?),
        (Format::Mid, false) => write_whole(&export.output, &midi(performance)?),
        (Format::Wav, true) => to_stdout(&wav(&rehearsal.voices(), performance, soundfont)?),
        (Format::Wav, false) => save(&rehearsal.voices(), performance, soundfont, &export.output),
    }?;
    Ok(ExitCode::SUCCESS)
}

/// What the name's ending says, or what was asked for where it says nothing.
fn format(export: &Export) -> Result<Format, Failure> {
    let output = export.output.display();
    let ending = export.output.extension().unwrap_or_default().to_string_lossy().to_lowercase();
    let named = match ending.as_str() {
        "mid" | "midi" => Some(Format::Mid),
        "wav" => Some(Format::Wav),
        _ => None,
    };
    match (named, export.format) {
        (Some(named), Some(asked)) if named != asked => Err(Failure::Usage(format!(
            "-o {output}: the name says .{ending} and --format says otherwise; leave one of them out"
        ))),
        (Some(format), _) | (None, Some(format)) => Ok(format),
        (None, None) if is_stdout(&export.output) => Err(Failure::Usage(
            "-o -: say which kind of file with --format mid or --format wav".into(),
        )),
        (None, None) => Err(Failure::Usage(format!(
            "-o {output}: the name must end in .mid or .wav, or say which with --format"
        ))),
    }
}
