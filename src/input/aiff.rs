//! How many channels an AIFF file says that it has (Apple, "Audio Interchange File Format", 1989): its decoder reckons
//! with any number, and runs over.

use std::io::{self, Read, Seek, SeekFrom};

/// More than any recorder has tracks.
const MOST_CHANNELS: u16 = 256;

/// More chunks than any program writes.
const MOST_CHUNKS: usize = 1_000;

/// True if all that it says of channels can be, by all its chunks that say so.
pub(super) fn is_sane(source: &mut (impl Read + Seek)) -> io::Result<bool> {
    let mut at = 12;
    for _ in 0..MOST_CHUNKS {
        source.seek(SeekFrom::Start(at))?;
        let mut head = Vec::new();
        source.by_ref().take(10).read_to_end(&mut head)?;
        let [id @ .., a, b, c, d, high, low] = head.as_slice() else { return Ok(true) };
        if id == b"COMM" && !(1..=MOST_CHANNELS).contains(&u16::from_be_bytes([*high, *low])) {
            return Ok(false);
        }
        let size = u64::from(u32::from_be_bytes([*a, *b, *c, *d]));
        at += 8 + size + size % 2;
    }
    Ok(false)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_of_its_chunks_may_say_it() {
        let file = |channels: u16| {
            let mut bytes = b"FORM\0\0\0\0AIFFNAME\0\0\0\x03abc\0COMM\0\0\0\x12".to_vec();
            bytes.extend(channels.to_be_bytes());
            io::Cursor::new(bytes)
        };
        for (channels, sane) in
            [(0, false), (1, true), (2, true), (256, true), (257, false), (40_000, false)]
        {
            assert_eq!(is_sane(&mut file(channels)).unwrap(), sane, "{channels}");
        }
        assert!(is_sane(&mut io::Cursor::new(b"FORM")).unwrap());
    }
}
