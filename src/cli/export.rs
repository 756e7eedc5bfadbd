use std::path::Path;
use std::process::ExitCode;

use super::args::{Export, Format};
use super::failure::Failure;
use super::output::{to_stdout, write_whole};
use super::rehearse::rehearse;
use crate::sink::smf;

/// Writes the performance to a file or to standard output.
pub(super) fn run(export: &Export) -> Result<ExitCode, Failure> {
    let format = format(export)?;
    let (_, performance) = rehearse(&export.song, &export.options, export.count_in)?;
    let bytes = match format {
        Format::Mid => smf::to_bytes(&performance).map_err(Failure::failed)?,
        Format::Wav => return Err(Failure::failed("no sound yet")),
    };
    if is_stdout(&export.output) {
        to_stdout(&bytes)?;
    } else {
        write_whole(&export.output, &bytes)?;
    }
    Ok(ExitCode::SUCCESS)
}

fn is_stdout(path: &Path) -> bool {
    path.as_os_str() == "-"
}

/// What was asked for, or else what the name's ending says.
fn format(export: &Export) -> Result<Format, Failure> {
    if let Some(format) = export.format {
        return Ok(format);
    }
    let ending = export.output.extension().unwrap_or_default().to_string_lossy().to_lowercase();
    match ending.as_str() {
        "mid" | "midi" => Ok(Format::Mid),
        "wav" => Ok(Format::Wav),
        _ if is_stdout(&export.output) => Err(Failure::Usage(
            "-o -: say which kind of file with --format mid or --format wav".into(),
        )),
        _ => Err(Failure::Usage(format!(
            "-o {}: the name must end in .mid or .wav, or say which with --format",
            export.output.display()
        ))),
    }
}
