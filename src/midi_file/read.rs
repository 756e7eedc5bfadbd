use midly::{Format, Smf};

use super::Event;

/// A file that was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MidiFile<'a> {
    /// What a tick is.
    pub timing: Timing,
    /// True where the tracks are patterns without a common beginning (format 2).
    pub patterns: bool,
    /// When its longest track ends, in ticks from the beginning.
    pub end: u64,
    /// What its tracks hold, each event with its time in ticks from the beginning.
    pub tracks: Vec<Vec<(u64, Event<'a>)>>,
}

/// What a tick of a file is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Timing {
    /// So many to the quarter note.
    Quarter(u16),
    /// So many to the frame of a film.
    Timecode {
        /// Frames a second: 24, 25 or 30; 29 stands for 30 in 1.001 seconds.
        frames: u8,
        /// Ticks a frame.
        ticks: u8,
    },
}

/// Reads a Standard MIDI File of any format, as far as it can be read.
///
/// # Errors
/// What the reader stumbled over, in the words of programs.
pub fn read(bytes: &[u8]) -> Result<MidiFile<'_>, String> {
    if has_no_frame_rate(bytes) {
        return Err("invalid smpte fps".to_owned());
    }
    let smf = Smf::parse(bytes).map_err(|error| error.to_string())?;
    let timing = match smf.header.timing {
        midly::Timing::Metrical(ticks) => Timing::Quarter(ticks.as_int()),
        midly::Timing::Timecode(frames, ticks) => {
            Timing::Timecode { frames: frames.as_int(), ticks }
        }
    };
    let patterns = smf.header.format == Format::Sequential;
    let mut file = MidiFile { timing, patterns, end: 0, tracks: Vec::new() };
    for track in smf.tracks {
        let mut at = 0_u64;
        let events = track.into_iter().filter_map(|event| {
            at += u64::from(event.delta.as_int());
            Event::from_kind(event.kind).map(|event| (at, event))
        });
        file.tracks.push(events.collect());
        file.end = file.end.max(at);
    }
    Ok(file)
}

/// True if a header's division is a timecode of -(-128) frames a second, on which midly 0.5.3 overflows. A second header
/// may stand behind any chunk; in what is played the same bytes say something else.
fn has_no_frame_rate(bytes: &[u8]) -> bool {
    const HEADER: &[u8] = b"MThd";
    const RATE: usize = 12;
    let is_one = |from: &[u8]| from.starts_with(HEADER) && from.get(RATE) == Some(&0x80);
    if !bytes.starts_with(HEADER) {
        // Within a RIFF file, somewhere.
        return bytes.windows(RATE + 1).any(is_one);
    }
    let mut rest = bytes;
    while let Some((head, behind)) = rest.split_first_chunk::<8>() {
        if is_one(rest) {
            return true;
        }
        let [.., a, b, c, d] = *head;
        rest = behind.get(u32::from_be_bytes([a, b, c, d]) as usize..).unwrap_or_default();
    }
    false
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_timecode_of_no_frame_rate_is_an_error() {
        let with = |frames: u8| {
            let header = [b"MThd".as_slice(), &[0, 0, 0, 6, 0, 0, 0, 1, frames, 40]].concat();
            read(&[&header, b"MTrk".as_slice(), &[0, 0, 0, 4, 0, 0xFF, 0x2F, 0]].concat())
                .map(|file| file.timing)
        };
        let timecode = Timing::Timecode { frames: 25, ticks: 40 };
        assert_eq!(with(0xE7), Ok(timecode), "-25");
        assert!(with(0x80).is_err() && with(0x81).is_err());
    }

    #[test]
    fn a_header_is_looked_for_where_one_may_stand() {
        let header = [b"MThd".as_slice(), &[0, 0, 0, 6, 0, 1, 0, 1, 3, 192]].concat();
        let end = [0, 0xFF, 0x2F, 0];
        // Times and notes that read like the header of a file without a frame rate.
        let like_one = [0x4D, 0x54, 0x68, 0x64, 0, 0, 0, 0x90, 64, 80, 0x82, 44, 0x80, 64, 0];
        let events = [&[0, 0x80, 64, 0], like_one.as_slice(), &end].concat();
        let track = [b"MTrk".as_slice(), &[0, 0, 0, events.len() as u8], &events].concat();
        assert_eq!(read(&[header.clone(), track.clone()].concat()).map(|file| file.end), Ok(477));
        let second = [b"MThd".as_slice(), &[0, 0, 0, 6, 0, 1, 0, 1, 0x80, 40]].concat();
        assert!(read(&[header.clone(), track.clone(), second.clone()].concat()).is_err());
        let other = [b"Abcd".as_slice(), &[0, 0, 0, 2, 1, 2]].concat();
        assert!(read(&[header, other, second, track].concat()).is_err());
    }
}
