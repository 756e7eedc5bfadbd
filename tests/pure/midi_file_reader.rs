//! The tests' own reader of Standard MIDI Files, held against the specification's own examples.

use crate::common::midi_file;
use crate::common::midi_file::{Event, MidiFile, Note, variable_length};

/// The worked example of the Standard MIDI-File Format Spec. 1.1, as format 0 and as format 1. The
/// format 1 listing is misprinted in the 1999 text (its delta times do not fit the chunk lengths it
/// states); these are the bytes that do fit them.
const FORMAT_0: &[u8] = include_bytes!("../reference/smf/spec_format0.mid");
const FORMAT_1: &[u8] = include_bytes!("../reference/smf/spec_format1.mid");

#[test]
fn variable_lengths_are_the_specifications() {
    // The table "Variable Length Quantity" of the same specification.
    for (value, bytes) in [
        (0x0000_0000, &[0x00][..]),
        (0x0000_0040, &[0x40]),
        (0x0000_007F, &[0x7F]),
        (0x0000_0080, &[0x81, 0x00]),
        (0x0000_2000, &[0xC0, 0x00]),
        (0x0000_3FFF, &[0xFF, 0x7F]),
        (0x0000_4000, &[0x81, 0x80, 0x00]),
        (0x0010_0000, &[0xC0, 0x80, 0x00]),
        (0x001F_FFFF, &[0xFF, 0xFF, 0x7F]),
        (0x0020_0000, &[0x81, 0x80, 0x80, 0x00]),
        (0x0800_0000, &[0xC0, 0x80, 0x80, 0x00]),
        (0x0FFF_FFFF, &[0xFF, 0xFF, 0xFF, 0x7F]),
    ] {
        assert_eq!(variable_length(bytes), Some((value, bytes.len())), "{bytes:02X?}");
        assert_eq!(variable_length(&bytes[..bytes.len() - 1]), None, "{bytes:02X?}, cut short");
    }
    assert_eq!(variable_length(&[0x80; 5]), None, "four bytes at most");
}

const C3: Note = Note { start: 0, end: 384, key: 48, velocity: 96 };
const C4: Note = Note { key: 60, ..C3 };
const G4: Note = Note { start: 96, end: 384, key: 67, velocity: 64 };
const E5: Note = Note { start: 192, end: 384, key: 76, velocity: 32 };

#[test]
fn the_worked_example_of_format_0() {
    let file = MidiFile::read(FORMAT_0).unwrap();
    assert_eq!((file.format, file.division, file.tracks.len()), (0, 96, 1));
    let track = &file.tracks[0];
    assert_eq!(track.bytes.len(), 0x3B);
    assert_eq!(track.metas(midi_file::TIME_SIGNATURE).next(), Some((0, &[4, 2, 24, 8][..])));
    assert_eq!(track.metas(midi_file::TEMPO).next(), Some((0, &[0x07, 0xA1, 0x20][..])));
    for program in [(0, 5), (1, 46), (2, 70)] {
        let (channel, program) = program;
        assert!(track.events.contains(&(0, Event::Program { channel, program })));
    }
    // Channel 3 runs on without its status at 0 and at 384.
    assert_eq!(track.notes().unwrap(), [C3, C4, G4, E5]);
    assert_eq!(track.end(), 384);
}

#[test]
fn the_worked_example_of_format_1() {
    let file = MidiFile::read(FORMAT_1).unwrap();
    assert_eq!((file.format, file.division), (1, 96));
    let lengths: Vec<usize> = file.tracks.iter().map(|track| track.bytes.len()).collect();
    assert_eq!(lengths, [0x14, 0x10, 0x0F, 0x15]);
    let notes: Vec<Vec<Note>> = file.tracks.iter().map(|track| track.notes().unwrap()).collect();
    // Its notes end with a note-on of velocity 0.
    assert_eq!(notes, [vec![], vec![E5], vec![G4], vec![C3, C4]]);
    let channels: Vec<Vec<u8>> = file.tracks.iter().map(|track| track.channels()).collect();
    assert_eq!(channels, [vec![], vec![0], vec![1], vec![2]]);
    assert!(file.tracks.iter().all(|track| track.end() == 384));
}

#[test]
fn every_broken_file_is_refused() {
    for file in [FORMAT_0, FORMAT_1] {
        for length in 0..file.len() {
            assert!(MidiFile::read(&file[..length]).is_err(), "cut to {length} bytes");
        }
    }
    let patched = |at: usize, byte: u8| {
        let mut file = FORMAT_0.to_vec();
        file[at] = byte;
        MidiFile::read(&file)
    };
    assert!(patched(11, 2).is_err(), "one track where two are stated");
    assert!(patched(FORMAT_0.len() - 2, 0x01).is_err(), "no end of track");
    assert!(patched(23, 0x40).is_err(), "no status at the head of the track");
    // The note-off of C4 made one of C#4.
    let wrong = patched(67, 61).unwrap();
    assert!(wrong.tracks[0].notes().is_err());
}

#[test]
fn a_strange_chunk_is_skipped() {
    let (head, tracks) = FORMAT_1.split_at(14);
    let with = [head, b"XFIH\0\0\0\x03abc", tracks].concat();
    assert_eq!(MidiFile::read(&with), MidiFile::read(FORMAT_1));
}
