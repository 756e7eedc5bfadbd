/// Why a file is no take.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum TakeError {
    /// Neither a MIDI file nor a WAV file.
    #[error("this is {looks}; save or export the take as .wav or .mid")]
    Neither {
        /// What it is instead, as far as its first bytes tell.
        looks: &'static str,
    },
    /// A WAV file whose chunks do not add up.
    #[error("the WAV file is damaged: {why}; export it again from the program that recorded it")]
    DamagedWav {
        /// What is wrong.
        why: &'static str,
    },
    /// Compressed, or in samples of an unusual kind.
    #[error(
        "the WAV file holds {what}; save it as plain PCM of 16 or 24 bits (most programs call it \
         \"WAV, 16-bit\")"
    )]
    Coding {
        /// What it holds.
        what: String,
    },
    /// Slower or faster than any sound card.
    #[error(
        "the WAV file has {rate} frames a second; save it with 44100 or 48000 (from {} to {} will do)",
        super::rates::SLOWEST_TAKE,
        super::rates::FASTEST_TAKE
    )]
    Rate {
        /// Frames a second.
        rate: u32,
    },
    /// A file with a header and nothing after it.
    #[error("the WAV file holds no sound: record the take again, or export it once more")]
    Empty,
    /// No Standard MIDI File, or a broken one.
    #[error("the MIDI file is damaged: {why}; export it again from the program that recorded it")]
    DamagedMidi {
        /// What the reader stumbled over.
        why: String,
    },
    /// Format 2: patterns without a common beginning.
    #[error("the MIDI file holds separate patterns (format 2); export the take as format 0 or 1")]
    Patterns,
    /// No notes, or on the percussion channel alone.
    #[error(
        "the MIDI file holds no notes (the percussion channel, 10, does not count); was the track \
         armed when the take was recorded?"
    )]
    NoNotes,
}
