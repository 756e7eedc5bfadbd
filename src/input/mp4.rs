//! What the decoder's reader of M4A and MP4 files leaves out: where on the time line a track's sound begins and how
//! much of it an encoder only put before it (the edit list of ISO/IEC 14496-12, 8.6.6, or the comment `iTunSMPB` that
//! music programs write), and how sound is coded that can't be decoded.

use std::io::{self, Read, Seek, SeekFrom};

use super::TakeError;
use super::signs::SoundKind;

/// More boxes than there are at the top of any file.
const MOST_BOXES: usize = 100_000;

/// The longest table of contents that is read: that of a day of sound.
const MOST_BYTES: u64 = 1 << 26;

/// A file's tracks.
#[derive(Debug, PartialEq)]
pub(super) struct Movie {
    /// Its ticks a second.
    timescale: u32,
    tracks: Vec<MovieTrack>,
}

/// How a track is coded, and laid on the time line.
#[derive(Debug, Default, PartialEq)]
pub(super) struct MovieTrack {
    id: u32,
    sound: bool,
    coding: [u8; 4],
    /// Its own ticks a second.
    timescale: u32,
    /// Ticks of the movie before it begins.
    pub(super) silence: u64,
    /// Ticks of its own that are left off.
    pub(super) skip: u64,
    /// Ticks of the movie that it lasts then, if the file says so.
    pub(super) lasts: Option<u64>,
}

impl Movie {
    /// The tracks of a file of `length` bytes. `None` where it has no table of contents.
    pub(super) fn read(source: &mut (impl Read + Seek), length: u64) -> io::Result<Option<Self>> {
        let mut at = 0;
        for _ in 0..MOST_BOXES {
            source.seek(SeekFrom::Start(at))?;
            let mut head = Vec::new();
            source.by_ref().take(16).read_to_end(&mut head)?;
            let Some((kind, head, size)) = box_head(&head) else { break };
            let size = size.unwrap_or(length.saturating_sub(at));
            if &kind == b"moov" {
                let mut moov = Vec::new();
                source.seek(SeekFrom::Start(at + head))?;
                source
                    .by_ref()
                    .take(size.saturating_sub(head).min(MOST_BYTES))
                    .read_to_end(&mut moov)?;
                return Ok(Some(Self::of(&moov)));
            }
            at = match at.checked_add(size.max(8)) {
                Some(next) if next < length => next,
                _ => break,
            };
        }
        Ok(None)
    }

    fn of(moov: &[u8]) -> Self {
        let timescale = child(moov, b"mvhd").and_then(time_scale).unwrap_or(0);
        let mut tracks: Vec<MovieTrack> = children(moov)
            .filter(|(kind, _)| kind == b"trak")
            .map(|(_, trak)| MovieTrack::of(trak))
            .collect();
        // One comment for the file: of use where it has one track, and no edit list.
        if let ([track], Some((skip, frames))) = (tracks.as_mut_slice(), encoder_delay(moov))
            && track.skip == 0
            && track.lasts.is_none()
        {
            track.skip = skip;
            let ticks =
                u128::from(frames) * u128::from(timescale) / u128::from(track.timescale.max(1));
            track.lasts = u64::try_from(ticks).ok().filter(|ticks| *ticks > 0);
        }
        Self { timescale, tracks }
    }

    /// A track by its number.
    pub(super) fn track(&self, id: u32) -> Option<&MovieTrack> {
        self.tracks.iter().find(|track| track.id == id)
    }

    /// Ticks of the movie, in frames.
    pub(super) fn frames(&self, ticks: u64, rate: u32) -> u64 {
        frames(ticks, self.timescale, rate)
    }

    /// Why no track can be heard.
    pub(super) fn why_unheard(&self, kind: SoundKind) -> TakeError {
        let kind = kind.name();
        let Some(track) = self.tracks.iter().find(|track| track.sound) else {
            return TakeError::NoSoundTrack { kind };
        };
        let what = match &track.coding {
            b"enca" | b"drms" => return TakeError::Protected { kind },
            b"Opus" => "Opus sound",
            b"samr" | b"sawb" => "AMR sound, a phone's own for speech,",
            b"ac-3" | b"ec-3" => "the sound of a film (AC-3)",
            _ => "sound that is coded in an unusual way",
        };
        TakeError::Coded { kind, what }
    }
}

impl MovieTrack {
    fn of(trak: &[u8]) -> Self {
        let media = child(trak, b"mdia").unwrap_or_default();
        let table = child(media, b"minf").and_then(|it| child(it, b"stbl")).unwrap_or_default();
        // After version and flags, two times of 32 bits, or of 64 in version 1.
        let id = child(trak, b"tkhd")
            .and_then(|it| u32_at(it, if it.first() == Some(&1) { 20 } else { 12 }));
        let mut track = Self {
            id: id.unwrap_or(0),
            sound: child(media, b"hdlr").and_then(|it| it.get(8..12)) == Some(b"soun"),
            coding: child(table, b"stsd")
                .and_then(|it| it.get(12..16)?.first_chunk().copied())
                .unwrap_or_default(),
            timescale: child(media, b"mdhd").and_then(time_scale).unwrap_or(0),
            ..Self::default()
        };
        if let Some(list) = child(trak, b"edts").and_then(|it| child(it, b"elst")) {
            track.lay(list);
        }
        track
    }

    /// Lays it as its edit list says: nothing for a while, then the sound from somewhere on. What is cut out further
    /// on stays in.
    fn lay(&mut self, list: &[u8]) {
        let wide = list.first() == Some(&1);
        let entries = list.get(8..).unwrap_or_default().chunks_exact(if wide { 20 } else { 12 });
        let entries = entries.map_while(|entry| {
            Some(if wide {
                (u64_at(entry, 0)?, u64_at(entry, 8)?.cast_signed())
            } else {
                (u32_at(entry, 0)?.into(), u32_at(entry, 4)?.cast_signed().into())
            })
        });
        let entries: Vec<(u64, i64)> = entries.collect();
        let silent = entries.iter().take_while(|(_, from)| *from < 0);
        self.silence = silent.fold(0, |sum, (ticks, _)| sum.saturating_add(*ticks));
        let mut sounding = entries.iter().skip_while(|(_, from)| *from < 0);
        if let Some((lasts, from)) = sounding.next() {
            self.skip = from.unsigned_abs();
            self.lasts = (*lasts > 0 && sounding.next().is_none()).then_some(*lasts);
        }
    }

    /// Ticks of its own, in frames.
    pub(super) fn frames(&self, ticks: u64, rate: u32) -> u64 {
        frames(ticks, self.timescale, rate)
    }
}

/// Ticks in frames, to the nearest.
fn frames(ticks: u64, timescale: u32, rate: u32) -> u64 {
    let timescale = u128::from(timescale.max(1));
    let frames = (u128::from(ticks) * u128::from(rate) + timescale / 2) / timescale;
    u64::try_from(frames).unwrap_or(u64::MAX)
}

/// The frames that an encoder put before the sound, and those of the sound, as the comment `iTunSMPB` has them: words
/// of hexadecimal digits, the second the delay, the fourth the length.
fn encoder_delay(moov: &[u8]) -> Option<(u64, u64)> {
    let at = moov.windows(8).position(|eight| eight == b"iTunSMPB")?;
    let rest = moov.get(at..)?.get(..300).or(moov.get(at..))?;
    let data = rest.windows(4).position(|four| four == b"data")?;
    let text: String = rest
        .get(data + 12..)?
        .iter()
        .take_while(|it| it.is_ascii_graphic() || **it == b' ')
        .map(|it| char::from(*it))
        .collect();
    let mut words = text.split_whitespace().map(|word| u64::from_str_radix(word, 16).ok());
    let (_, delay, _, length) = (words.next()??, words.next()??, words.next()??, words.next()??);
    Some((delay, length))
}

/// The ticks a second that a movie's or a track's header states.
fn time_scale(header: &[u8]) -> Option<u32> {
    u32_at(header, if header.first() == Some(&1) { 20 } else { 12 })
}

fn u32_at(bytes: &[u8], at: usize) -> Option<u32> {
    Some(u32::from_be_bytes(*bytes.get(at..)?.first_chunk()?))
}

fn u64_at(bytes: &[u8], at: usize) -> Option<u64> {
    Some(u64::from_be_bytes(*bytes.get(at..)?.first_chunk()?))
}

/// A box's kind, the length of its head, and its whole size; no size where it goes on to the end.
fn box_head(bytes: &[u8]) -> Option<([u8; 4], u64, Option<u64>)> {
    let kind = *bytes.get(4..)?.first_chunk()?;
    Some(match u32_at(bytes, 0)? {
        0 => (kind, 8, None),
        1 => (kind, 16, Some(u64_at(bytes, 8)?)),
        size => (kind, 8, Some(size.into())),
    })
}

/// The boxes that lie side by side in another, with what is in them.
fn children(bytes: &[u8]) -> impl Iterator<Item = ([u8; 4], &[u8])> {
    let mut rest = bytes;
    std::iter::from_fn(move || {
        let (kind, head, size) = box_head(rest)?;
        let size = size.map_or(rest.len(), |size| usize::try_from(size).unwrap_or(usize::MAX));
        let size = size.max(8).min(rest.len());
        let body = rest.get(head as usize..size).unwrap_or_default();
        rest = rest.get(size..).unwrap_or_default();
        Some((kind, body))
    })
}

fn child<'a>(bytes: &'a [u8], kind: &[u8; 4]) -> Option<&'a [u8]> {
    children(bytes).find(|(it, _)| it == kind).map(|(_, body)| body)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn boxed(kind: &[u8; 4], body: &[u8]) -> Vec<u8> {
        let mut bytes = (body.len() as u32 + 8).to_be_bytes().to_vec();
        bytes.extend(kind);
        bytes.extend(body);
        bytes
    }

    fn words(words: &[u32]) -> Vec<u8> {
        words.iter().flat_map(|word| word.to_be_bytes()).collect()
    }

    fn movie(edits: &[(u32, i32)], comment: &[u8]) -> Movie {
        let mut list = vec![0, edits.len() as u32];
        list.extend(
            edits.iter().flat_map(|(ticks, from)| [*ticks, from.cast_unsigned(), 0x1_0000]),
        );
        let media = [
            boxed(b"mdhd", &words(&[0, 0, 0, 44_100, 0])),
            boxed(b"hdlr", b"\0\0\0\0\0\0\0\0soun"),
        ];
        let mut trak =
            [boxed(b"tkhd", &words(&[0, 0, 0, 7])), boxed(b"mdia", &media.concat())].concat();
        if !edits.is_empty() {
            trak.extend(boxed(b"edts", &boxed(b"elst", &words(&list))));
        }
        let mvhd = boxed(b"mvhd", &words(&[0, 0, 0, 1_000, 0]));
        let moov = [mvhd, boxed(b"trak", &trak), comment.to_vec()].concat();
        let file =
            [boxed(b"ftyp", b"M4A "), boxed(b"mdat", &[0; 99]), boxed(b"moov", &moov)].concat();
        Movie::read(&mut io::Cursor::new(&file), file.len() as u64).unwrap().unwrap()
    }

    #[test]
    fn an_edit_list_says_what_is_left_off() {
        let read = movie(&[(500, -1), (3_000, 2_112)], b"");
        let track = read.track(7).unwrap();
        assert_eq!((track.silence, track.skip, track.lasts), (500, 2_112, Some(3_000)));
        assert_eq!(read.frames(500, 48_000), 24_000);
        assert_eq!(track.frames(2_112, 48_000), 2_299);
        assert!(read.track(8).is_none());
    }

    #[test]
    fn so_does_the_comment_of_music_programs() {
        let text = b" 00000000 00000840 000001CA 000000000003F31F 00000000";
        let mut data = vec![0; 8];
        data.extend(text);
        let comment =
            boxed(b"----", &[boxed(b"name", b"\0\0\0\0iTunSMPB"), boxed(b"data", &data)].concat());
        let read = movie(&[], &comment);
        let track = read.track(7).unwrap();
        assert_eq!((track.skip, track.lasts), (0x840, Some(0x3F31F * 1_000 / 44_100)));
        let edited = movie(&[(0, 1_024)], &comment);
        assert_eq!(edited.track(7).unwrap().skip, 1_024);
    }

    #[test]
    fn without_a_table_of_contents_there_is_nothing() {
        for file in [&b""[..], b"\0\0\0\x08ftyp", b"\0\0\0\0mdat1234", &[0; 40], &[0xFF; 40]] {
            assert_eq!(Movie::read(&mut io::Cursor::new(file), file.len() as u64).unwrap(), None);
        }
    }
}
