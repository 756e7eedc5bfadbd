//! Sound files of less than half the size, without loss: FLAC, of 16 bits and two channels.

use std::io::{self, Write};

use flacenc::bitsink::ByteSink;
use flacenc::component::BitRepr;
use flacenc::config::Encoder;
use flacenc::encode_with_fixed_block_size;
use flacenc::error::{SourceError, Verify};
use flacenc::source::{Fill, Source};

use super::wav::{Dither, WavError};
use crate::synth::Renderer;

/// Frames of a block: as the method's own program has them at this rate.
const BLOCK: usize = 4_096;

/// Renders all into `out` as a FLAC file, whose samples are those of [`super::write_wav`], bit for bit.
///
/// # Errors
/// [`WavError::Write`] with what `out` said.
pub fn write_flac(renderer: &mut dyn Renderer, mut out: impl Write) -> Result<(), WavError> {
    let told = |why: &dyn std::fmt::Display| io::Error::other(why.to_string());
    let settings = Encoder::default().into_verified().map_err(|(_, why)| told(&why))?;
    let (left, right) = (vec![0.0; BLOCK], vec![0.0; BLOCK]);
    let sides = Sides { renderer, dither: Dither::new(), left, right, both: Vec::new() };
    let mut stream =
        encode_with_fixed_block_size(&settings, sides, BLOCK).map_err(|why| told(&why))?;
    // The last block, which is shorter, does not count there (RFC 9639, 8.2); readers that believe it find no frame.
    stream.stream_info_mut().set_block_sizes(BLOCK, BLOCK).map_err(|why| told(&why))?;
    let mut bytes = ByteSink::new();
    stream.write(&mut bytes).map_err(|why| told(&why))?;
    Ok(out.write_all(bytes.as_slice())?)
}

/// What is rendered, as it is asked for.
struct Sides<'a> {
    renderer: &'a mut dyn Renderer,
    dither: Dither,
    left: Vec<f32>,
    right: Vec<f32>,
    both: Vec<i32>,
}

impl Source for Sides<'_> {
    fn channels(&self) -> usize {
        2
    }

    fn bits_per_sample(&self) -> usize {
        16
    }

    fn sample_rate(&self) -> usize {
        self.renderer.sample_rate() as usize
    }

    fn read_samples<F: Fill>(&mut self, size: usize, into: &mut F) -> Result<usize, SourceError> {
        self.both.clear();
        let mut count = 0;
        if !self.renderer.finished() {
            self.left.resize(size, 0.0);
            self.right.resize(size, 0.0);
            let before = self.renderer.position_frames();
            self.renderer.render(&mut self.left, &mut self.right);
            let frames = self.renderer.position_frames().saturating_sub(before);
            count = usize::try_from(frames).unwrap_or(size).min(size);
        }
        for (left, right) in self.left.iter().zip(&self.right).take(count) {
            self.both.extend([left, right].map(|side| i32::from(self.dither.round(*side))));
        }
        into.fill_interleaved(&self.both)?;
        Ok(count)
    }
}
