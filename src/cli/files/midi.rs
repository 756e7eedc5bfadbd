use crate::cli::failure::Failure;
use crate::perform::Performance;
use crate::sink::smf;

/// The performance as the bytes of a MIDI file.
pub(in crate::cli) fn midi(performance: &Performance) -> Result<Vec<u8>, Failure> {
    smf::to_bytes(performance).map_err(Failure::failed)
}
