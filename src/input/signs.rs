/// A kind of sound file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum SoundKind {
    /// RIFF WAVE, or RF64 where it is larger than 4 GB.
    Wave,
    Flac,
    Mp3,
    Ogg,
    Mp4,
    Adts,
    Aiff,
}

impl SoundKind {
    /// Its name, as before "file".
    pub(super) fn name(self) -> &'static str {
        match self {
            Self::Wave => "WAV",
            Self::Flac => "FLAC",
            Self::Mp3 => "MP3",
            Self::Ogg => "OGG",
            Self::Mp4 => "M4A or MP4",
            Self::Adts => "AAC",
            Self::Aiff => "AIFF",
        }
    }

    /// The kind of a file by its first bytes: a dozen are enough.
    pub(super) fn of(bytes: &[u8]) -> Option<Self> {
        let form = bytes.get(8..12);
        match bytes {
            [b'R', b'I', b'F', b'F', ..] | [b'R', b'F', b'6', b'4', ..] => {
                (form == Some(b"WAVE")).then_some(Self::Wave)
            }
            [b'F', b'O', b'R', b'M', ..] => {
                matches!(form, Some(b"AIFF" | b"AIFC")).then_some(Self::Aiff)
            }
            [b'f', b'L', b'a', b'C', ..] => Some(Self::Flac),
            [b'O', b'g', b'g', b'S', ..] => Some(Self::Ogg),
            [_, _, _, _, b'f', b't', b'y', b'p', ..] => Some(Self::Mp4),
            // Before the sound of an MP3 file there are often its tags.
            [b'I', b'D', b'3', ..] => Some(Self::Mp3),
            // Eleven bits that are set begin a frame; layer 0 is AAC's own, layer 1 is called III.
            [0xFF, next, ..] if next & 0xF6 == 0xF0 => Some(Self::Adts),
            [0xFF, next, ..] if next & 0xE6 == 0xE2 => Some(Self::Mp3),
            _ => None,
        }
    }
}

/// What a file is that is no take, from its first bytes.
pub(super) fn looks_like(bytes: &[u8]) -> &'static str {
    const SIGNS: [(&[u8], &str); 8] = [
        (b"MThd", "a MIDI file"),
        (b"caff", "a Core Audio file (.caf)"),
        (b"PK", "a packed folder (zip)"),
        (b"\x1A\x45\xDF\xA3", "a WebM or Matroska file"),
        (b"\x30\x26\xB2\x75", "a Windows Media file"),
        (b"#!AMR", "an AMR file, a phone's own for speech"),
        (b"RIFF", "a RIFF file, but no WAV file"),
        (b"FORM", "an IFF file, but no AIFF file"),
    ];
    if bytes.is_empty() {
        return "an empty file";
    }
    match SoundKind::of(bytes) {
        Some(SoundKind::Wave) => return "a WAV file",
        Some(SoundKind::Flac) => return "a FLAC file",
        Some(SoundKind::Mp3) => return "an MP3 file",
        Some(SoundKind::Ogg) => return "an OGG file",
        Some(SoundKind::Mp4) => return "an M4A or MP4 file",
        Some(SoundKind::Adts) => return "an AAC file",
        Some(SoundKind::Aiff) => return "an AIFF file",
        None => {}
    }
    let sign = SIGNS.iter().find(|(sign, _)| bytes.starts_with(sign));
    sign.map_or("no sound file of a kind that is read, and no MIDI file", |(_, words)| words)
}
