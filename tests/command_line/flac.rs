//! Sound without loss in less room: what is in a .flac is what is in the .wav, sample for sample. The reader is not ours;
//! `tests/outside/read_back.py` reads it with another.

use std::fs;
use std::io::Cursor;
use std::path::Path;

use assert_cmd::Command;
use symphonia::core::codecs::audio::AudioDecoderOptions;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, TrackType};
use symphonia::core::io::MediaSourceStream;
use symphonia::core::meta::MetadataOptions;
use tempfile::TempDir;

/// A FLAC file's samples, channel by channel in turn, its channels and its rate.
fn samples(path: &Path) -> (Vec<i16>, usize, u32) {
    let source = Cursor::new(fs::read(path).unwrap());
    let stream = MediaSourceStream::new(Box::new(source), Default::default());
    let (formats, more) = (FormatOptions::default(), MetadataOptions::default());
    let mut file =
        symphonia::default::get_probe().probe(&Hint::new(), stream, formats, more).unwrap();
    let track = file.default_track(TrackType::Audio).unwrap();
    let params = track.codec_params.as_ref().unwrap().audio().unwrap().clone();
    let options = AudioDecoderOptions::default();
    let mut decoder =
        symphonia::default::get_codecs().make_audio_decoder(&params, &options).unwrap();
    let mut all = Vec::new();
    while let Some(packet) = file.next_packet().unwrap() {
        let mut block: Vec<i16> = Vec::new();
        decoder.decode(&packet).unwrap().copy_to_vec_interleaved(&mut block);
        all.extend(block);
    }
    (all, params.channels.as_ref().unwrap().count(), params.sample_rate.unwrap())
}

fn openchair(folder: &Path, words: &[&str]) -> Vec<u8> {
    let mut command = Command::new(env!("CARGO_BIN_EXE_openchair"));
    let done = command.current_dir(folder).args(words).assert().success();
    done.get_output().stdout.clone()
}

#[test]
fn a_flac_file_holds_the_samples_of_the_wav() {
    let folder = TempDir::new().unwrap();
    let song = concat!(env!("CARGO_MANIFEST_DIR"), "/songs/one-plank-short.toml");
    for file in ["band.wav", "band.flac"] {
        openchair(folder.path(), &["export", song, "--speed", "150", "-o", file]);
    }
    let [wav, flac] = ["band.wav", "band.flac"].map(|file| folder.path().join(file));
    let mut read = hound::WavReader::open(&wav).unwrap();
    let (channels, rate) = (usize::from(read.spec().channels), read.spec().sample_rate);
    assert_eq!((channels, rate), (2, 48_000));
    let sound: Vec<i16> = read.samples().map(Result::unwrap).collect();
    assert!(sound.len() > 60 * 48_000 && sound.iter().any(|sample| sample.abs() > 3_000));
    assert!(samples(&flac) == (sound, channels, rate), "another sound");
    let size = |path| fs::metadata(path).unwrap().len();
    assert!(4 * size(&flac) < 3 * size(&wav), "{} of {}", size(&flac), size(&wav));
    let words = ["export", song, "--speed", "150", "-o", "-", "--format", "flac"];
    assert_eq!(openchair(folder.path(), &words), fs::read(&flac).unwrap());
}

#[test]
fn a_lesson_has_its_sound_so_too() {
    let folder = TempDir::new().unwrap();
    let song = concat!(env!("CARGO_MANIFEST_DIR"), "/songs/one-plank-short.toml");
    let lesson = format!("title = \"Short\"\n\n[[item]]\nsong = {song:?}\nspeeds = [150]\n");
    fs::write(folder.path().join("short.toml"), lesson).unwrap();
    openchair(folder.path(), &["lesson", "short.toml", "--sound", "flac"]);
    let page = fs::read_to_string(folder.path().join("short/index.html")).unwrap();
    assert!(page.contains("href=\"01-one-plank-short-150.flac\""));
    let sound = fs::read(folder.path().join("short/01-one-plank-short-150.flac")).unwrap();
    // RFC 9639, 6: a stream begins so.
    assert!(sound.starts_with(b"fLaC"));
}
