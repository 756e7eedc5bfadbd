use std::path::Path;
use std::process::ExitCode;

use super::args::{Export, Format};
use super::failure::Failure;
use super::output::{to_stdout, write_whole};
use super::rehearse::rehearse;
use crate::perform::Performance;
use crate::sink::smf;

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
    let mut rehearsed = rehearse(&export.song, &export.options, export.count_in)?;
    let (song, style) = (&rehearsed.arrangement, &rehearsed.style);
    export.chair.fill(song, style, &mut rehearsed.performance, export.options.seed)?;
    let soundfont = export.soundfont.as_deref();
    let performance = &rehearsed.performance;
    match (format, is_stdout(&export.output)) {
        (Format::Mid, true) => to_stdout(&midi(performance)?),
        (Format::Mid, false) => write_whole(&export.output, &midi(performance)?),
        (Format::Wav, true) => to_stdout(&rehearsed.voices().bytes(performance, soundfont)?),
        (Format::Wav, false) => rehearsed.voices().save(performance, soundfont, &export.output),
    }?;
    Ok(ExitCode::SUCCESS)
}

/// The performance as the bytes of a MIDI file.
pub(super) fn midi(performance: &Performance) -> Result<Vec<u8>, Failure> {
    smf::to_bytes(performance).map_err(Failure::failed)
}

fn is_stdout(path: &Path) -> bool {
    path.as_os_str() == "-"
}

/// True if both names lead to one file that is there.
pub(super) fn is_same_file(a: &Path, b: &Path) -> bool {
    matches!((a.canonicalize(), b.canonicalize()), (Ok(a), Ok(b)) if a == b)
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
