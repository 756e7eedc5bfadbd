//! Takes as files: every kind of WAV and MIDI file that recorders write, and what is said of all others.

use std::fs;
use std::io::Cursor;

use crate::common::rolls::roll;
use crate::common::sound::{mono, note, solo};
use assert_cmd::Command;
use hound::{SampleFormat, WavSpec, WavWriter};
use openchair::chart::Role;
use openchair::hear::Sound;
use openchair::input::{TakeError, read_take_midi, read_take_sound};
use openchair::sink::smf;
use openchair::take::Source;
use proptest::prelude::*;

fn read_take_wav(bytes: &[u8]) -> Result<Sound, TakeError> {
    read_take_sound(Cursor::new(bytes)).map(|file| file.sound)
}

fn wav(bits: u16, format: SampleFormat, channels: u16, rate: u32, sound: &[f32]) -> Vec<u8> {
    let spec =
        WavSpec { channels, sample_rate: rate, bits_per_sample: bits, sample_format: format };
    let mut bytes = Cursor::new(Vec::new());
    let mut writer = WavWriter::new(&mut bytes, spec).unwrap();
    for sample in sound {
        for _ in 0..channels {
            match format {
                SampleFormat::Float => writer.write_sample(*sample).unwrap(),
                SampleFormat::Int => {
                    let full = 2.0_f64.powi(i32::from(bits) - 1) - 1.0;
                    writer.write_sample((f64::from(*sample) * full) as i32).unwrap();
                }
            }
        }
    }
    writer.finalize().unwrap();
    bytes.into_inner()
}

/// Whole periods, so that it has no offset of its own.
fn wave() -> Vec<f32> {
    (0..4_000).map(|n| (n as f32 * std::f32::consts::TAU / 50.0).sin() * 0.5).collect()
}

#[test]
fn every_common_kind_of_wav_is_the_same_sound() {
    let sound = wave();
    for (bits, format) in [
        (8, SampleFormat::Int),
        (16, SampleFormat::Int),
        (24, SampleFormat::Int),
        (32, SampleFormat::Int),
        (32, SampleFormat::Float),
    ] {
        for channels in [1, 2, 6] {
            for rate in [8_000, 44_100, 48_000, 96_000, 192_000] {
                let read = read_take_wav(&wav(bits, format, channels, rate, &sound)).unwrap();
                let sound = Sound::new(sound.clone(), 1, rate);
                assert_eq!(read.samples.len(), sound.samples.len(), "{bits} {channels}");
                // A step, and what the filter makes of its rounding: its weights' sum without their signs is below 2.5.
                let step = 2.5 * 1.6 / 2.0_f32.powi(i32::from(bits.min(18)) - 1);
                let off = read.samples.iter().zip(&sound.samples).map(|(a, b)| (a - b).abs());
                assert!(off.fold(0.0, f32::max) <= step, "{bits} {format:?} {channels}");
                assert_eq!(read.clipped, 0.0);
            }
        }
    }
}

#[test]
fn a_recording_that_was_cut_off_is_heard_as_far_as_it_goes() {
    let whole = wav(16, SampleFormat::Int, 2, 44_100, &wave());
    let cut = read_take_wav(&whole[..whole.len() - 4_001]).unwrap();
    // At 16 kHz: 160 samples of each 441 frames.
    assert_eq!(cut.samples.len(), (2_999_usize * 160).div_ceil(441), "a frame cut in half is none");
    for unsaid in [[0; 4], [0xFF; 4]] {
        let mut crashed = whole.clone();
        let data = crashed.windows(4).position(|four| four == b"data").unwrap();
        crashed[data + 4..data + 8].copy_from_slice(&unsaid);
        assert_eq!(read_take_wav(&crashed).unwrap().samples.len(), 1_452);
    }
}

#[test]
fn what_is_no_take_is_told_from_one() {
    let good = wav(16, SampleFormat::Int, 1, 44_100, &wave());
    let with = |at: usize, bytes: &[u8]| {
        let mut file = good.clone();
        file[at..at + bytes.len()].copy_from_slice(bytes);
        read_take_wav(&file).unwrap_err()
    };
    let neither = |bytes: &[u8]| match read_take_wav(bytes) {
        Err(TakeError::Neither { looks }) => looks,
        other => panic!("{other:?}"),
    };
    assert_eq!(neither(b""), "an empty file");
    assert_eq!(neither(b"MThd"), "a MIDI file");
    // Format tags of mmreg.h: ADPCM 2, MP3 in WAV 0x55.
    assert!(matches!(with(20, &[2, 0]), TakeError::Coding { .. }));
    assert!(with(20, &[0x55, 0]).to_string().contains("MP3"));
    assert_eq!(with(24, &4_000_u32.to_le_bytes()), TakeError::Rate { rate: 4_000 });
    assert!(matches!(with(22, &[0, 0]), TakeError::DamagedWav { .. }));
    assert!(matches!(read_take_wav(&good[..30]), Err(TakeError::DamagedWav { .. })));
    assert_eq!(read_take_wav(&good[..44]), Err(TakeError::Empty));
}

/// A file of one track with these events, which end it themselves or not.
fn midi(format: u8, division: [u8; 2], tracks: &[&[u8]]) -> Vec<u8> {
    let mut file = b"MThd\0\0\0\x06".to_vec();
    file.extend([0, format, 0, tracks.len() as u8]);
    file.extend(division);
    for track in tracks {
        file.extend(b"MTrk");
        file.extend((track.len() as u32 + 4).to_be_bytes());
        file.extend(*track);
        file.extend([0, 0xFF, 0x2F, 0]);
    }
    file
}

fn strokes(file: &[u8]) -> Vec<(i64, Vec<u8>)> {
    let take = read_take_midi(file).unwrap();
    assert_eq!(take.source, Source::Midi);
    let pitches = |hit: &openchair::take::Hit| hit.pitches.iter().map(|p| p.get()).collect();
    take.hits.iter().map(|hit| (hit.at.0 / 1_000_000, pitches(hit))).collect()
}

#[test]
fn midi_takes_are_read_by_their_own_clock() {
    // Standard MIDI-File Format Spec. 1.1: 96 ticks a quarter, 120 quarters a minute unless told otherwise.
    let notes: &[u8] = &[96, 0x90, 62, 80, 48, 62, 0, 48, 67, 90];
    assert_eq!(strokes(&midi(0, [0, 96], &[notes])), [(500, vec![62]), (1_000, vec![67])]);
    // From the second quarter on twice as slow, by a track of its own.
    let tempo: &[u8] = &[96, 0xFF, 0x51, 3, 0x0F, 0x42, 0x40];
    let slower = midi(1, [0, 96], &[tempo, notes]);
    assert_eq!(strokes(&slower), [(500, vec![62]), (1_500, vec![67])]);
    // 25 frames of 40 parts: a tick is a millisecond, and tempos mean nothing.
    let frames = midi(1, [256_u16.wrapping_sub(25) as u8, 40], &[tempo, notes]);
    assert_eq!(strokes(&frames), [(96, vec![62]), (192, vec![67])]);
    // Two tracks, a pinch, and a click on the percussion's channel.
    let other: &[u8] = &[97, 0x91, 55, 70, 0, 0x99, 76, 127];
    let both = midi(1, [0, 96], &[notes, other]);
    assert_eq!(strokes(&both), [(500, vec![55, 62]), (1_000, vec![67])]);
}

#[test]
fn midi_files_without_a_take_are_told_so() {
    let click: &[u8] = &[0, 0x99, 76, 127];
    assert_eq!(read_take_midi(&midi(0, [0, 96], &[click])), Err(TakeError::NoNotes));
    assert_eq!(read_take_midi(&midi(2, [0, 96], &[click])), Err(TakeError::Patterns));
    assert!(matches!(read_take_midi(b"MThd"), Err(TakeError::DamagedMidi { .. })));
    assert!(matches!(
        read_take_midi(&midi(0, [0, 0], &[click])),
        Err(TakeError::DamagedMidi { .. })
    ));
    assert!(matches!(read_take_midi(b"RIFF"), Err(TakeError::Neither { .. })));
}

#[test]
fn what_we_write_we_read() {
    let (struck, notes) = roll(8.0, 6.0, 3);
    let file = smf::to_bytes(&solo(Role::Banjo, notes)).unwrap();
    let read = strokes(&file);
    assert_eq!(read.len(), struck.len());
    for ((at, pitches), (read_at, read)) in struck.iter().zip(&read) {
        let mut pitches = pitches.clone();
        pitches.sort_unstable();
        assert_eq!((at, &pitches), (read_at, read));
    }
}

fn hear(file: &str, bytes: &[u8], options: &[&str]) -> (bool, String, String) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(file);
    fs::write(&path, bytes).unwrap();
    let mut command = Command::cargo_bin("openchair").unwrap();
    let out =
        command.current_dir(folder.path()).arg("hear").arg(file).args(options).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (out.status.success(), text(out.stdout), text(out.stderr))
}

#[test]
fn the_program_says_what_it_hears() {
    let sound = mono(&solo(Role::Banjo, vec![note(500, 600, 62, 90), note(1_000, 600, 55, 90)]));
    let file = wav(16, SampleFormat::Int, 2, 48_000, &sound);
    let (done, table, _) = hear("take.wav", &file, &[]);
    assert!(done && table.contains("D4") && table.contains("G3"), "{table}");
    assert!(table.contains("2 strokes in"), "{table}");
    let (_, json, _) = hear("take.wav", &file, &["--json"]);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json["source"], "sound");
    assert_eq!(json["strokes"][1]["pitches"], serde_json::json!([55]));
    assert!((json["strokes"][1]["at"].as_f64().unwrap() - 1.0).abs() < 0.002);
    let midi = midi(0, [0, 96], &[&[96, 0x90, 62, 80]]);
    let (_, json, _) = hear("take.mid", &midi, &["--json"]);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!((&json["source"], &json["sound"]), (&"midi".into(), &serde_json::Value::Null));
    assert_eq!(json["strokes"][0]["loud"], 80);
}

#[test]
fn the_program_says_what_is_wrong_with_a_take() {
    let told = |file: &str, bytes: &[u8]| {
        let (done, out, error) = hear(file, bytes, &[]);
        assert!(!done && out.is_empty(), "{file}: {out}");
        assert!(error.starts_with(&format!("openchair: {file}: ")), "{error}");
        error
    };
    let of = |sound: &[f32]| wav(16, SampleFormat::Int, 1, 44_100, sound);
    assert!(told("silent.wav", &of(&vec![0.0; 44_100])).contains("silent"));
    assert!(told("short.wav", &of(&wave())).contains("lasts 0.09 seconds"));
    assert!(told("song.mp3", b"ID3...").contains("the MP3 file is damaged"));
    assert!(
        told("song.wma", b"\x30\x26\xB2\x75...").contains("a Windows Media file; save or export")
    );
    assert!(told("take.mid", &midi(0, [0, 96], &[])).contains("no notes"));
    // Clipped, it is heard all the same.
    let sound = mono(&solo(Role::Banjo, vec![note(500, 600, 62, 90), note(1_000, 600, 55, 90)]));
    let loud: Vec<f32> = sound.iter().map(|sample| (sample * 60.0).clamp(-1.0, 1.0)).collect();
    let (done, table, notice) = hear("loud.wav", &of(&loud), &[]);
    assert!(done && table.contains("strokes in"), "{table}");
    assert!(notice.contains("is clipped") && notice.contains("turned down"), "{notice}");
    let soft: Vec<f32> = sound.iter().map(|sample| sample * 0.02).collect();
    let (done, _, notice) = hear("soft.wav", &of(&soft), &[]);
    assert!(done && notice.contains("very soft"), "{notice}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn no_file_does_any_harm(
        bytes in prop::collection::vec(any::<u8>(), 0..200),
        places in prop::collection::vec((0..80_usize, any::<u8>()), 0..6),
    ) {
        let _ = (read_take_wav(&bytes), read_take_midi(&bytes));
        let mut sound = wav(24, SampleFormat::Int, 2, 8_000, &wave()[..200]);
        let mut notes = midi(1, [0, 96], &[&[96, 0x90, 62, 80], &[0, 0xFF, 0x51, 3, 1, 2, 3]]);
        for (at, byte) in places {
            if let Some(place) = sound.get_mut(at) { *place = byte; }
            if let Some(place) = notes.get_mut(at) { *place = byte; }
        }
        if let Ok(read) = read_take_wav(&sound) {
            prop_assert!(read.samples.iter().all(|sample| sample.is_finite()));
            let _ = openchair::hear::hear(&read.samples, read.rate);
        }
        let _ = read_take_midi(&notes);
    }
}
