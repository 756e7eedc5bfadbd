//! A reader of Standard MIDI Files for the tests, written from the Standard MIDI-File Format Spec. 1.1
//! (International MIDI Association) and sharing no code with the writer.
#![allow(dead_code)] // Not every test binary looks at everything.

/// A whole file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MidiFile {
    pub format: u16,
    /// The third word of the header: ticks a quarter note where bit 15 is clear.
    pub division: u16,
    pub tracks: Vec<Track>,
}

/// One `MTrk` chunk.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Track {
    /// What the chunk holds after its eight bytes of type and length.
    pub bytes: Vec<u8>,
    /// Each event and its time in ticks from the start.
    pub events: Vec<(u64, Event)>,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Event {
    NoteOff {
        channel: u8,
        key: u8,
        velocity: u8,
    },
    NoteOn {
        channel: u8,
        key: u8,
        velocity: u8,
    },
    Control {
        channel: u8,
        controller: u8,
        value: u8,
    },
    Program {
        channel: u8,
        program: u8,
    },
    /// Key pressure, channel pressure, pitch wheel.
    OtherChannel {
        status: u8,
        data: Vec<u8>,
    },
    SystemExclusive(Vec<u8>),
    Meta {
        kind: u8,
        data: Vec<u8>,
    },
}

/// A note from its on to its off.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Note {
    pub start: i64,
    pub end: i64,
    pub key: u8,
    pub velocity: u8,
}

pub const TEXT: u8 = 0x01;
pub const TRACK_NAME: u8 = 0x03;
pub const MARKER: u8 = 0x06;
pub const CUE_POINT: u8 = 0x07;
pub const END_OF_TRACK: u8 = 0x2F;
pub const TEMPO: u8 = 0x51;
pub const TIME_SIGNATURE: u8 = 0x58;
pub const KEY_SIGNATURE: u8 = 0x59;

/// A variable-length quantity at the head of `bytes`, and how many bytes it takes: seven bits a byte,
/// the highest first, bit 7 set on all but the last; four bytes at most.
pub fn variable_length(bytes: &[u8]) -> Option<(u32, usize)> {
    let mut value = 0;
    for (index, byte) in bytes.iter().take(4).enumerate() {
        value = value << 7 | u32::from(byte & 0x7F);
        if byte & 0x80 == 0 {
            return Some((value, index + 1));
        }
    }
    None
}

impl MidiFile {
    pub fn read(bytes: &[u8]) -> Result<Self, String> {
        let mut rest = Reader(bytes);
        let (kind, header) = rest.chunk()?;
        if kind != b"MThd" || header.len() < 6 {
            return Err("no MThd of six bytes or more at the head".into());
        }
        let mut header = Reader(header);
        let (format, count, division) = (header.word()?, header.word()?, header.word()?);
        let mut tracks = Vec::new();
        while !rest.0.is_empty() {
            // Chunks of an unknown type are to be skipped.
            let (kind, data) = rest.chunk()?;
            if kind == b"MTrk" {
                tracks.push(Track::read(data).map_err(|e| format!("track {}: {e}", tracks.len()))?);
            }
        }
        if tracks.len() != usize::from(count) {
            return Err(format!("the header states {count} tracks, there are {}", tracks.len()));
        }
        Ok(Self { format, division, tracks })
    }

    /// The track of that name.
    pub fn track(&self, name: &str) -> Option<&Track> {
        self.tracks.iter().skip(1).find(|track| track.name().as_deref() == Some(name))
    }
}

impl Track {
    fn read(bytes: &[u8]) -> Result<Self, String> {
        let mut rest = Reader(bytes);
        let mut events = Vec::new();
        let (mut at, mut running) = (0_u64, None);
        while !rest.0.is_empty() {
            let (delta, length) = variable_length(rest.0).ok_or("a broken delta time")?;
            rest.take(length)?;
            at += u64::from(delta);
            let event =
                Event::read(&mut rest, &mut running).map_err(|e| format!("at {at}: {e}"))?;
            let last = matches!(event, Event::Meta { kind: END_OF_TRACK, .. });
            events.push((at, event));
            if last {
                break;
            }
        }
        match events.last() {
            Some((_, Event::Meta { kind: END_OF_TRACK, .. })) if rest.0.is_empty() => {
                Ok(Self { bytes: bytes.to_vec(), events })
            }
            _ => Err("the end of the track is not its last event".into()),
        }
    }

    /// Where the track ends.
    pub fn end(&self) -> i64 {
        self.events.last().map_or(0, |(at, _)| *at as i64)
    }

    /// Each meta event of a kind, with its time.
    pub fn metas(&self, kind: u8) -> impl Iterator<Item = (i64, &[u8])> {
        self.events.iter().filter_map(move |(at, event)| match event {
            Event::Meta { kind: other, data } if *other == kind => Some((*at as i64, &data[..])),
            _ => None,
        })
    }

    /// Each text of a kind, with its time.
    pub fn texts(&self, kind: u8) -> Vec<(i64, String)> {
        self.metas(kind).map(|(at, text)| (at, String::from_utf8_lossy(text).into())).collect()
    }

    pub fn name(&self) -> Option<String> {
        self.texts(TRACK_NAME).into_iter().next().map(|(_, name)| name)
    }

    /// The channel of every channel message, each once.
    pub fn channels(&self) -> Vec<u8> {
        let mut channels: Vec<u8> = self.events.iter().filter_map(|(_, e)| e.channel()).collect();
        channels.sort_unstable();
        channels.dedup();
        channels
    }

    /// Each note that goes on from another: when, from which key, and its own.
    ///
    /// # Errors
    /// If controller 84 names a key that does not sound, or comes without a note-on at its time.
    pub fn slurs(&self) -> Result<Vec<(i64, u8, u8)>, String> {
        let (mut slurs, mut sounding, mut named) = (Vec::new(), Vec::new(), None);
        for (at, event) in &self.events {
            let at = *at as i64;
            match *event {
                Event::Control { controller: 84, value, .. } => {
                    if !sounding.contains(&value) || named.is_some() {
                        return Err(format!("key {value} is named at {at} and does not sound"));
                    }
                    named = Some((at, value));
                }
                Event::NoteOn { key, .. } => {
                    sounding.push(key);
                    match named.take() {
                        Some((then, from)) if then == at => slurs.push((at, from, key)),
                        Some((then, from)) => {
                            return Err(format!("key {from}, named at {then}, is left"));
                        }
                        None => {}
                    }
                }
                Event::NoteOff { key, .. } => sounding.retain(|other| *other != key),
                _ => {}
            }
        }
        Ok(slurs)
    }

    /// When those notes begin that a slide goes over, and their keys: gone on from within `longest` ticks.
    pub fn passing(&self, longest: i64) -> Vec<(i64, u8)> {
        let slurs = self.slurs().unwrap_or_else(|wrong| panic!("{wrong}"));
        let goes_on = |&(at, _, key): &(i64, u8, u8)| {
            slurs.iter().any(|(next, from, _)| *from == key && (1..=longest).contains(&(next - at)))
        };
        slurs.iter().filter(|slur| goes_on(slur)).map(|&(at, _, key)| (at, key)).collect()
    }

    /// Every note by start, then key. A note-on of velocity 0 is a note-off.
    ///
    /// # Errors
    /// If a note begins while it sounds, if one that does not sound is ended, if one never ends.
    pub fn notes(&self) -> Result<Vec<Note>, String> {
        let mut notes: Vec<Note> = Vec::new();
        let mut sounding: Vec<((u8, u8), usize)> = Vec::new();
        for (at, event) in &self.events {
            let at = *at as i64;
            let (channel, key, velocity) = match *event {
                Event::NoteOn { channel, key, velocity } => (channel, key, velocity),
                Event::NoteOff { channel, key, .. } => (channel, key, 0),
                _ => continue,
            };
            let place = sounding.iter().position(|(id, _)| *id == (channel, key));
            match (place, velocity) {
                (Some(_), 1..) => return Err(format!("key {key} begins at {at} while it sounds")),
                (None, 0) => return Err(format!("key {key} ends at {at} and does not sound")),
                (None, velocity) => {
                    sounding.push(((channel, key), notes.len()));
                    notes.push(Note { start: at, end: -1, key, velocity });
                }
                (Some(place), 0) => notes[sounding.swap_remove(place).1].end = at,
            }
        }
        if let Some(((_, key), _)) = sounding.first() {
            return Err(format!("key {key} never ends"));
        }
        notes.sort_unstable();
        Ok(notes)
    }
}

impl Event {
    fn read(rest: &mut Reader<'_>, running: &mut Option<u8>) -> Result<Self, String> {
        let first = *rest.0.first().ok_or("no event after a delta time")?;
        let status = if first & 0x80 == 0 {
            running.ok_or("a data byte where a status belongs")?
        } else {
            rest.take(1)?;
            first
        };
        // System exclusive and meta events cancel running status.
        *running = (status < 0xF0).then_some(status);
        let channel = status & 0x0F;
        let mut data = || match rest.take(1)? {
            &[byte] if byte & 0x80 == 0 => Ok(byte),
            other => Err(format!("{other:02X?} where a data byte belongs")),
        };
        Ok(match status >> 4 {
            0x8 => Self::NoteOff { channel, key: data()?, velocity: data()? },
            0x9 => Self::NoteOn { channel, key: data()?, velocity: data()? },
            0xB => Self::Control { channel, controller: data()?, value: data()? },
            0xC => Self::Program { channel, program: data()? },
            0xA | 0xE => Self::OtherChannel { status, data: vec![data()?, data()?] },
            0xD => Self::OtherChannel { status, data: vec![data()?] },
            _ => match status {
                0xFF => {
                    let kind = rest.take(1)?[0];
                    Self::Meta { kind, data: rest.counted()?.to_vec() }
                }
                0xF0 | 0xF7 => Self::SystemExclusive(rest.counted()?.to_vec()),
                _ => return Err(format!("status {status:02X} has no place in a file")),
            },
        })
    }

    fn channel(&self) -> Option<u8> {
        match self {
            Self::NoteOff { channel, .. }
            | Self::NoteOn { channel, .. }
            | Self::Control { channel, .. }
            | Self::Program { channel, .. } => Some(*channel),
            Self::OtherChannel { status, .. } => Some(status & 0x0F),
            Self::SystemExclusive(_) | Self::Meta { .. } => None,
        }
    }
}

struct Reader<'a>(&'a [u8]);

impl<'a> Reader<'a> {
    fn take(&mut self, count: usize) -> Result<&'a [u8], String> {
        let (head, tail) = self.0.split_at_checked(count).ok_or("it breaks off")?;
        self.0 = tail;
        Ok(head)
    }

    fn word(&mut self) -> Result<u16, String> {
        self.take(2).map(|bytes| u16::from_be_bytes([bytes[0], bytes[1]]))
    }

    fn chunk(&mut self) -> Result<(&'a [u8], &'a [u8]), String> {
        let kind = self.take(4)?;
        let length = self.take(4)?.iter().fold(0_usize, |n, byte| n << 8 | usize::from(*byte));
        Ok((kind, self.take(length)?))
    }

    /// Bytes after their count.
    fn counted(&mut self) -> Result<&'a [u8], String> {
        let (count, length) = variable_length(self.0).ok_or("a broken length")?;
        self.take(length)?;
        self.take(count as usize)
    }
}
