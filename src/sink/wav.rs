//! Sound files: stereo RIFF WAVE of 16 bits, and of 32 for what is mixed elsewhere.

use std::io::{self, Seek, Write};
use std::path::PathBuf;

use hound::{SampleFormat, WavSpec, WavWriter};
use rand_core::{Rng, SeedableRng};
use rand_pcg::Pcg32;

use crate::synth::Renderer;

/// Frames rendered at a time.
const BLOCK: usize = 4_096;

/// Why no sound file could be written.
#[derive(Debug, thiserror::Error)]
pub enum WavError {
    /// A WAVE file counts its bytes in 32 bits.
    #[error(
        "the song lasts {minutes} minutes, and a WAV file at {sample_rate} frames a second holds at \
         most {most} minutes; export it as .mid, or render a part of it"
    )]
    TooLong {
        /// The song's length.
        minutes: u64,
        /// What would fit.
        most: u64,
        /// Frames a second.
        sample_rate: u32,
    },
    /// The folder or the file refused.
    #[error("cannot write {}: {cause}; choose another place with -o", path.display())]
    File {
        /// The file that was to be written.
        path: PathBuf,
        /// What the system said.
        cause: io::Error,
    },
    /// What was written to refused.
    #[error("cannot write the sound: {0}")]
    Write(#[from] io::Error),
}

/// Renders all into `out` as a WAVE file of 16 bits and two channels.
///
/// The samples are rounded with triangular dither of two steps' width (Lipshitz, Wannamaker and
/// Vanderkooy, "Quantization and dither: a theoretical survey", J. Audio Eng. Soc. 40(5), 1992), from
/// a fixed seed: the same performance gives the same bytes. Silence stays silence.
///
/// # Errors
/// [`WavError::TooLong`], or [`WavError::Write`] with what `out` said.
pub fn write_wav(renderer: &mut dyn Renderer, out: impl Write + Seek) -> Result<(), WavError> {
    let mut writer = started(renderer, 16, out)?;
    let mut dither = Dither::new();
    rendered(renderer, |sides| {
        let mut block = writer.get_i16_writer(2 * sides.len() as u32);
        for (left, right) in sides {
            block.write_sample(dither.round(*left));
            block.write_sample(dither.round(*right));
        }
        block.flush().map_err(told)
    })?;
    writer.finalize().map_err(told)
}

/// Renders all into `out` as a WAVE file of two channels in numbers with a point, 32 bits each, as a mixing program
/// takes them: nothing is rounded and nothing too loud, so that the files of several players add up to the band's.
///
/// # Errors
/// As [`write_wav`].
pub fn write_stem(renderer: &mut dyn Renderer, out: impl Write + Seek) -> Result<(), WavError> {
    let mut writer = started(renderer, 32, out)?;
    rendered(renderer, |sides| {
        for (left, right) in sides {
            writer.write_sample(*left).map_err(told)?;
            writer.write_sample(*right).map_err(told)?;
        }
        Ok(())
    })?;
    writer.finalize().map_err(told)
}

/// A stereo file begun, if all that will come fits into one: whole numbers of 16 bits, or those with a point of 32.
fn started<W: Write + Seek>(
    renderer: &dyn Renderer,
    bits_per_sample: u16,
    out: W,
) -> Result<WavWriter<W>, WavError> {
    let sample_rate = renderer.sample_rate();
    let most = (u64::from(u32::MAX) - 1_024) / u64::from(bits_per_sample / 8 * 2);
    if renderer.total_frames() > most {
        let minutes = |frames: u64| frames / (60 * u64::from(sample_rate.max(1)));
        let (minutes, most) = (minutes(renderer.total_frames()), minutes(most));
        return Err(WavError::TooLong { minutes, most, sample_rate });
    }
    let sample_format = if bits_per_sample == 32 { SampleFormat::Float } else { SampleFormat::Int };
    let spec = WavSpec { channels: 2, sample_rate, bits_per_sample, sample_format };
    WavWriter::new(out, spec).map_err(told)
}

/// Renders all, and hands it over block by block.
fn rendered(
    renderer: &mut dyn Renderer,
    mut take: impl FnMut(&[(f32, f32)]) -> Result<(), WavError>,
) -> Result<(), WavError> {
    let (mut left, mut right) = (vec![0.0_f32; BLOCK], vec![0.0_f32; BLOCK]);
    let mut sides = Vec::with_capacity(BLOCK);
    while !renderer.finished() {
        let before = renderer.position_frames();
        renderer.render(&mut left, &mut right);
        let count = renderer.position_frames().saturating_sub(before);
        if count == 0 {
            break;
        }
        let count = usize::try_from(count).unwrap_or(BLOCK).min(BLOCK);
        sides.clear();
        sides.extend(left.iter().copied().zip(right.iter().copied()).take(count));
        take(&sides)?;
    }
    Ok(())
}

/// A WAVE file of 16 bits and one channel that grows while it is written: what was flushed is a whole file, whatever
/// comes after.
pub struct GrowingWav<W: Write + Seek> {
    writer: WavWriter<W>,
    room: u32,
}

impl<W: Write + Seek> GrowingWav<W> {
    /// An empty one.
    ///
    /// # Errors
    /// [`WavError::Write`] with what `out` said.
    pub fn new(sample_rate: u32, out: W) -> Result<Self, WavError> {
        let sample_format = SampleFormat::Int;
        let spec = WavSpec { channels: 1, sample_rate, bits_per_sample: 16, sample_format };
        let writer = WavWriter::new(out, spec).map_err(told)?;
        Ok(Self { writer, room: (u32::MAX - 1_024) / 2 })
    }

    /// Adds samples from -1 to 1. Those that a WAVE file can't count any more, after 12 hours and more, are left out.
    ///
    /// # Errors
    /// [`WavError::Write`] with what `out` said.
    pub fn push(&mut self, samples: &[f32]) -> Result<(), WavError> {
        for sample in samples {
            let Some(room) = self.room.checked_sub(1) else { return Ok(()) };
            self.room = room;
            let step = (sample.clamp(-1.0, 1.0) * f32::from(i16::MAX)).round();
            self.writer.write_sample(step as i16).map_err(told)?;
        }
        Ok(())
    }

    /// What was added so far is in the file.
    ///
    /// # Errors
    /// [`WavError::Write`] with what `out` said.
    pub fn flush(&mut self) -> Result<(), WavError> {
        self.writer.flush().map_err(told)
    }
}

/// What the file library says, as the system's error it stands for.
fn told(error: hound::Error) -> WavError {
    WavError::Write(match error {
        hound::Error::IoError(cause) => cause,
        other => io::Error::other(other),
    })
}

/// Rounds to 16 bits.
pub(super) struct Dither(Pcg32);

impl Dither {
    /// From the seed of all files.
    pub(super) fn new() -> Self {
        Self(Pcg32::seed_from_u64(0))
    }

    pub(super) fn round(&mut self, sample: f32) -> i16 {
        if sample == 0.0 {
            return 0;
        }
        let random = self.0.next_u32();
        let (one, other) = ((random & 0xFFFF) as f32, (random >> 16) as f32);
        let triangle = (one - other) / 65_536.0;
        // `as` holds what is too large to the ends of the range.
        (sample * 32_767.0 + triangle).round() as i16
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dither_has_the_mean_of_the_sample() {
        let mut dither = Dither(Pcg32::seed_from_u64(1));
        let sample = 0.3 / 32_767.0;
        let sum: i64 = (0..200_000).map(|_| i64::from(dither.round(sample))).sum();
        assert!((sum as f64 / 200_000.0 - 0.3).abs() < 0.01, "{sum}");
        assert_eq!(dither.round(0.0), 0);
        assert_eq!((dither.round(2.0), dither.round(-2.0)), (i16::MAX, i16::MIN));
    }
    #[test]
    fn what_was_flushed_of_a_growing_file_is_a_whole_one() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("take.wav");
        let mut growing = GrowingWav::new(16_000, std::fs::File::create(&path).unwrap()).unwrap();
        let read = || -> Vec<i16> {
            hound::WavReader::open(&path).unwrap().into_samples().map(Result::unwrap).collect()
        };
        growing.push(&[0.0, 1.0, -2.0]).unwrap();
        growing.flush().unwrap();
        assert_eq!(read(), [0, 32_767, -32_767]);
        growing.push(&[0.5]).unwrap();
        growing.flush().unwrap();
        assert_eq!(read().len(), 4);
        // As a program that is killed leaves it.
        growing.push(&[0.5; 7]).unwrap();
        std::mem::forget(growing);
        assert_eq!(read()[..4], [0, 32_767, -32_767, 16_384]);
    }
}
