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

/// True if the header's division is a timecode of -(-128) frames a second, on which midly 0.5.3 overflows. The header
/// may stand in a RIFF file, so it is looked for.
fn has_no_frame_rate(bytes: &[u8]) -> bool {
    // A second header may stand further on.
    bytes.windows(13).any(|head| head.starts_with(b"MThd") && head.last() == Some(&0x80))
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
}
