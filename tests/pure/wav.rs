//! The sound file, read by its bytes and by another reader.

use std::fs;
use std::io::Cursor;

use crate::common::sound::{RATE, band, rendered};
use openchair::sink::{WavError, save_wav, write_wav};
use openchair::synth::{Renderer, Synth};

fn number(bytes: &[u8]) -> u32 {
    bytes.iter().rev().fold(0, |sum, &byte| sum << 8 | u32::from(byte))
}

#[test]
fn the_file_is_riff_wave() {
    // "Multimedia Programming Interface and Data Specifications 1.0", IBM and Microsoft 1991,
    // chapter on WAVE (field order and sizes from memory).
    let all = band(2);
    let mut out = Cursor::new(Vec::new());
    write_wav(&mut Synth::new(&all, RATE), &mut out).unwrap();
    let bytes = out.into_inner();
    let frames = Synth::new(&all, RATE).total_frames() as usize;
    assert_eq!((&bytes[..4], &bytes[8..16]), (&b"RIFF"[..], &b"WAVEfmt "[..]));
    assert_eq!(number(&bytes[4..8]) as usize, bytes.len() - 8);
    let format: Vec<u32> = [16..20, 20..22, 22..24, 24..28, 28..32, 32..34, 34..36]
        .map(|at| number(&bytes[at]))
        .into();
    assert_eq!(format, [16, 1, 2, RATE, RATE * 4, 4, 16]);
    assert_eq!((&bytes[36..40], number(&bytes[40..44]) as usize), (&b"data"[..], frames * 4));
    assert_eq!(bytes.len(), 44 + frames * 4);
    // Every sample is within two steps of what was rendered: half a step of rounding, one of dither.
    let (left, right) = rendered(&mut Synth::new(&all, RATE), 1_000);
    let samples = bytes[44..].chunks_exact(2).map(|pair| i16::from_le_bytes([pair[0], pair[1]]));
    for (sample, exact) in samples.zip(left.iter().zip(&right).flat_map(|(l, r)| [*l, *r])) {
        assert!((f32::from(sample) - exact * 32_767.0).abs() <= 1.5 + 1e-2, "{sample} {exact}");
    }
}

#[test]
fn the_same_song_is_the_same_bytes() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("song.wav");
    save_wav(&mut Synth::new(&band(1), RATE), &path).unwrap();
    let first = fs::read(&path).unwrap();
    save_wav(&mut Synth::new(&band(1), RATE), &path).unwrap();
    assert_eq!(first, fs::read(&path).unwrap());
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1, "nothing temporary is left");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let ours = fs::metadata(&path).unwrap().permissions().mode();
        fs::write(folder.path().join("other"), "").unwrap();
        let usual = fs::metadata(folder.path().join("other")).unwrap().permissions().mode();
        assert_eq!(ours, usual, "readable for whoever may read the user's other files");
    }
}

#[test]
fn a_folder_that_is_not_there_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("nowhere").join("song.wav");
    let error = save_wav(&mut Synth::new(&band(1), RATE), &path).unwrap_err();
    assert!(matches!(&error, WavError::File { path: told, .. } if *told == path));
    assert!(error.to_string().contains("choose another place with -o"), "{error}");
}

/// Ten hours of nothing.
struct Endless;

impl Renderer for Endless {
    fn render(&mut self, _: &mut [f32], _: &mut [f32]) {}
    fn sample_rate(&self) -> u32 {
        RATE
    }
    fn position_frames(&self) -> u64 {
        0
    }
    fn total_frames(&self) -> u64 {
        10 * 3_600 * u64::from(RATE)
    }
    fn finished(&self) -> bool {
        false
    }
    fn silence(&mut self) {}
}

#[test]
fn what_does_not_fit_is_refused_before_it_is_written() {
    let mut out = Cursor::new(Vec::new());
    let error = write_wav(&mut Endless, &mut out).unwrap_err();
    assert!(matches!(error, WavError::TooLong { minutes: 600, most: 372, .. }), "{error}");
    assert!(out.into_inner().is_empty());
}
