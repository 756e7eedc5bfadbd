use std::io;

use midly::num::{u15, u28};
use midly::{Format, Header, MetaMessage, Smf, Timing, Track, TrackEvent, TrackEventKind};

use super::Event;
use crate::time::Ticks;

/// The longest delta time that a file can hold (Standard MIDI-File Format Spec. 1.1): 0FFFFFFF.
const LONGEST_DELTA: i64 = 0x0FFF_FFFF;

/// A track being written: turns times into the spans between events.
#[derive(Debug)]
pub struct TrackWriter<'a> {
    track: Track<'a>,
    last: Ticks,
}

/// A track that has its end.
#[derive(Debug)]
pub struct WrittenTrack<'a>(Track<'a>);

impl<'a> TrackWriter<'a> {
    /// With room for so many events.
    pub fn new(capacity: usize) -> Self {
        Self { track: Vec::with_capacity(capacity + 1), last: Ticks::ZERO }
    }

    /// The next event, not before the last one's time. Bytes that are no message of a channel are left out:
    /// no file holds them.
    pub fn push(&mut self, at: Ticks, event: Event<'a>) {
        if let Some(kind) = event.to_kind() {
            self.put(at, kind);
        }
    }

    fn put(&mut self, at: Ticks, kind: TrackEventKind<'a>) {
        let mut delta = (at - self.last).get().max(0);
        // A rest too long for one delta is bridged by empty texts.
        while delta > LONGEST_DELTA {
            let bridge = TrackEventKind::Meta(MetaMessage::Text(b""));
            self.track.push(TrackEvent { delta: u28::new(LONGEST_DELTA as u32), kind: bridge });
            delta -= LONGEST_DELTA;
        }
        self.track.push(TrackEvent { delta: u28::new(delta as u32), kind });
        self.last = self.last.max(at);
    }

    /// The end of the track.
    pub fn finish(mut self, end: Ticks) -> WrittenTrack<'a> {
        self.put(end, TrackEventKind::Meta(MetaMessage::EndOfTrack));
        WrittenTrack(self.track)
    }
}

/// The bytes of a file of format 1, of which a quarter note is [`Ticks::QUARTER`].
///
/// # Errors
/// Only if a track outgrows the 4 GiB that its header can state.
pub fn write(tracks: Vec<WrittenTrack<'_>>) -> io::Result<Vec<u8>> {
    let timing = Timing::Metrical(u15::new(Ticks::PER_QUARTER));
    let mut smf = Smf::new(Header::new(Format::Parallel, timing));
    smf.tracks = tracks.into_iter().map(|WrittenTrack(track)| track).collect();
    // A note event takes four bytes on average, five at most where the next is far off.
    let events: usize = smf.tracks.iter().map(Vec::len).sum();
    let mut bytes = Vec::with_capacity(events * 5);
    smf.write_std(&mut bytes)?;
    Ok(bytes)
}
