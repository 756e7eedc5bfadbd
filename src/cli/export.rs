use std::path::PathBuf;
use std::process::ExitCode;

use clap::ValueEnum;

use super::failure::Failure;
use super::files::{is_same_file, is_stdout, midi, to_stdout, write_whole};
use super::lead_sheet::{Sheet, lead_sheet};
use super::options::{InRoom, OpenChair, Options, count_in, taken};
use super::rehearse::{rehearsal, rendition};
use super::voices::{Kind, save, save_stems, sound};
use crate::chart::RoleSet;
use crate::rehearsal::Wishes;
use crate::synth::Room;

#[derive(Debug, clap::Args)]
pub(super) struct Export {
    /// The song: a file, or a name that `openchair songs` lists
    pub song: PathBuf,
    /// Where to write: FILE.mid, FILE.wav, FILE.flac, FILE.abc or FILE.musicxml, or - for standard output
    #[arg(short, long, value_name = "FILE")]
    pub output: PathBuf,
    /// The kind of file, where its name does not say
    #[arg(long, value_enum)]
    pub format: Option<Format>,
    /// Render .wav or .flac with the sounds of a soundfont in place of the built-in ones
    #[arg(long, value_name = "FILE.sf2")]
    pub soundfont: Option<PathBuf>,
    /// Write a sound file for each player in place of one for all: FILE-bass.wav, FILE-chop.wav ..., of one length, to
    /// be mixed elsewhere
    #[arg(long, conflicts_with = "soundfont")]
    pub stems: bool,
    #[command(flatten)]
    pub place: InRoom,
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
    /// The same sound in less room, without loss
    Flac,
    /// A lead sheet in ABC
    Abc,
    /// A lead sheet in MusicXML
    Musicxml,
}

/// Writes the performance to a file or to standard output.
pub(super) fn run(export: &Export) -> Result<ExitCode, Failure> {
    let format = format(export)?;
    let asked = match (&export.soundfont, export.place.room) {
        (Some(_), _) => Some("--soundfont"),
        (None, Some(_)) => Some("--room"),
        (None, None) => None,
    };
    if !matches!(format, Format::Wav | Format::Flac)
        && let Some(option) = asked
    {
        let what = if format == Format::Mid { "MIDI file" } else { "lead sheet" };
        return Err(Failure::Usage(format!(
            "{option}: a {what} holds no sound; export .wav or .flac"
        )));
    }
    if export.stems && (format != Format::Wav || is_stdout(&export.output)) {
        return Err(Failure::Usage(
            "--stems: several sound files are written; name them with -o FILE.wav".into(),
        ));
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
    let sheet = match format {
        Format::Abc => Some(Sheet::Abc),
        Format::Musicxml => Some(Sheet::MusicXml),
        Format::Mid | Format::Wav | Format::Flac => None,
    };
    if let Some(sheet) = sheet {
        let text = lead_sheet(&export.song, sheet, &wishes)?;
        if is_stdout(&export.output) {
            to_stdout(text.as_bytes())?;
        } else {
            write_whole(&export.output, text.as_bytes())?;
        }
        return Ok(ExitCode::SUCCESS);
    }
    let rehearsal = rehearsal(&export.song, wishes)?;
    let mut band = rendition(&rehearsal)?;
    rehearsal.fill_chair(&mut band, RoleSet::EMPTY).map_err(taken)?;
    let (performance, soundfont) = (&band.performance, export.soundfont.as_deref());
    // Whoever mixes stems puts them into a room of their own.
    let usual = if export.stems { Room::Dry } else { Room::Parlor };
    let voices = || rehearsal.voices().in_room(export.place.or(usual));
    if export.stems {
        save_stems(&voices(), performance, &export.output)?;
        return Ok(ExitCode::SUCCESS);
    }
    match (format, is_stdout(&export.output)) {
        (Format::Wav, true) => to_stdout(&sound(&voices(), performance, soundfont, Kind::Wav)?),
        (Format::Flac, true) => to_stdout(&sound(&voices(), performance, soundfont, Kind::Flac)?),
        (Format::Wav, false) => save(&voices(), performance, soundfont, Kind::Wav, &export.output),
        (Format::Flac, false) => {
            save(&voices(), performance, soundfont, Kind::Flac, &export.output)
        }
        (_, true) => to_stdout(&midi(performance)?),
        (_, false) => write_whole(&export.output, &midi(performance)?),
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
        "flac" => Some(Format::Flac),
        "abc" => Some(Format::Abc),
        "musicxml" | "xml" => Some(Format::Musicxml),
        _ => None,
    };
    match (named, export.format) {
        (Some(named), Some(asked)) if named != asked => Err(Failure::Usage(format!(
            "-o {output}: the name says .{ending} and --format says otherwise; leave one of them out"
        ))),
        (Some(format), _) | (None, Some(format)) => Ok(format),
        (None, None) if is_stdout(&export.output) => Err(Failure::Usage(
            "-o -: say which kind of file with --format mid, wav, flac, abc or musicxml".into(),
        )),
        (None, None) => Err(Failure::Usage(format!(
            "-o {output}: the name must end in .mid, .wav, .flac, .abc or .musicxml, or say which with --format"
        ))),
    }
}
