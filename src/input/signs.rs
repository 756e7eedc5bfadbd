/// What a file is that is no take, from its first bytes.
pub(super) fn looks_like(bytes: &[u8]) -> &'static str {
    const SIGNS: [(&[u8], &str); 10] = [
        (b"OggS", "an Ogg file"),
        (b"fLaC", "a FLAC file"),
        (b"ID3", "an MP3 file"),
        (b"\xFF\xFB", "an MP3 file"),
        (b"\xFF\xF3", "an MP3 file"),
        (b"FORM", "an AIFF file"),
        (b"caff", "a Core Audio file"),
        (b"RF64", "a WAV file of more than 4 GB (RF64)"),
        (b"MThd", "a MIDI file"),
        (b"PK", "a packed folder (zip)"),
    ];
    if bytes.is_empty() {
        return "an empty file";
    }
    if bytes.get(4..8) == Some(b"ftyp") {
        return "an M4A or MP4 file";
    }
    let sign = SIGNS.iter().find(|(sign, _)| bytes.starts_with(sign));
    sign.map_or("neither a WAV file nor a MIDI file", |(_, words)| words)
}
