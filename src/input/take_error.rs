/// Why a file is no take.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum TakeError {
    /// Neither a MIDI file nor a sound file that is read.
    #[error("this is {looks}; save or export the take as .wav, .flac, .mp3, .ogg, .m4a or .mid")]
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
    /// A sound file of another kind that its decoder can make nothing of.
    #[error(
        "the {kind} file is damaged: {why}; export it again from the program that recorded it, or save the \
         take as .wav"
    )]
    Damaged {
        /// The kind's name.
        kind: &'static str,
        /// What is wrong.
        why: &'static str,
    },
    /// A file that a recorder never finished, of a kind that can't be read without its end.
    #[error(
        "the {kind} file was never finished: where its sound lies stands at its end, and that is missing; \
         copy it once more from where it was recorded, or record the take again"
    )]
    Unfinished {
        /// The kind's name.
        kind: &'static str,
    },
    /// A WAV file that is compressed, or in samples of an unusual kind.
    #[error(
        "the WAV file holds {what}; save it as plain PCM of 16 or 24 bits (most programs call it \
         \"WAV, 16-bit\")"
    )]
    Coding {
        /// What it holds.
        what: String,
    },
    /// Sound coded in a way that is not read, in a file of a kind that is.
    #[error(
        "the {kind} file holds {what}, which is not read; save or convert it as .wav, .flac, .mp3 or .m4a (AAC)"
    )]
    Coded {
        /// The kind's name.
        kind: &'static str,
        /// What it holds.
        what: &'static str,
    },
    /// Only the shop that sold it can play it.
    #[error(
        "the {kind} file is protected against copying, so its sound can't be heard; record the take yourself"
    )]
    Protected {
        /// The kind's name.
        kind: &'static str,
    },
    /// A video without sound, or a file of words alone.
    #[error("the {kind} file has no sound track; was the microphone on when it was recorded?")]
    NoSoundTrack {
        /// The kind's name.
        kind: &'static str,
    },
    /// Slower or faster than any sound card.
    #[error(
        "the file has {rate} frames a second; save it with 44100 or 48000 (from {} to {} will do)",
        super::rates::SLOWEST_TAKE,
        super::rates::FASTEST_TAKE
    )]
    Rate {
        /// Frames a second.
        rate: u32,
    },
    /// A file with a header and nothing after it.
    #[error("the file holds no sound: record the take again, or export it once more")]
    Empty,
    /// Longer than anybody plays one song.
    #[error(
        "the take is longer than {} hours; cut out the part that matters",
        super::rates::MOST_HOURS
    )]
    TooLong,
    /// The disk or the network gave up.
    #[error("the file can't be read to its end: {why}")]
    Unreadable {
        /// What the system says.
        why: String,
    },
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
