//! Takes as sound files: RIFF WAVE of whole numbers or floats, of any number of channels.
//!
//! The chunks are read here rather than by the library that writes them: a recorder that was cut off leaves
//! a file whose header promises more than there is, or nothing at all, and what was recorded is still good.

use super::TakeError;
use super::rates::{FASTEST_TAKE, SLOWEST_TAKE};
use super::signs::looks_like;
use crate::hear::Sound;

/// Format tags (Microsoft, "Multiple Channel Audio Data and WAVE Files", 2001, and mmreg.h).
const PCM: u16 = 1;
const FLOAT: u16 = 3;
const EXTENSIBLE: u16 = 0xFFFE;

/// What the samples are.
#[derive(Clone, Copy)]
struct Coding {
    tag: u16,
    channels: usize,
    rate: u32,
    /// Bytes of a sample.
    width: usize,
}

/// The sound of a WAV file: all its channels as one.
///
/// Whole numbers of 8, 16, 24 and 32 bits, floats of 32 and 64. Of a file that was cut off, what is there.
///
/// # Errors
/// [`TakeError`] says what else it is, and what to save instead.
pub fn read_take_wav(bytes: &[u8]) -> Result<Sound, TakeError> {
    let Some(body) = wave_body(bytes) else {
        return Err(TakeError::Neither { looks: looks_like(bytes) });
    };
    let mut coding = None;
    let mut rest = body;
    while let Some((id, size, after)) = chunk(rest) {
        match id {
            b"fmt " => coding = Some(read_coding(after.get(..size).unwrap_or(after))?),
            b"data" => {
                let coding = coding.ok_or(TakeError::DamagedWav {
                    why: "its sound comes before the chunk that says how it is coded",
                })?;
                // A recorder that was cut off never came to write the size.
                let unsaid = size == 0 || size == u32::MAX as usize;
                let data = if unsaid { after } else { after.get(..size).unwrap_or(after) };
                return decode(data, coding);
            }
            _ => {}
        }
        // Chunks begin on even bytes.
        rest = after.get(size.saturating_add(size & 1)..).unwrap_or_default();
    }
    match coding {
        Some(_) => Err(TakeError::Empty),
        None => Err(TakeError::DamagedWav { why: "it ends within its header" }),
    }
}

/// What follows the head of a WAVE file.
fn wave_body(bytes: &[u8]) -> Option<&[u8]> {
    let head = bytes.get(..12)?;
    (head.starts_with(b"RIFF") && head.ends_with(b"WAVE"))
        .then(|| bytes.get(12..).unwrap_or_default())
}

/// A chunk's name, the size that it states, and all that follows its head.
fn chunk(bytes: &[u8]) -> Option<(&[u8], usize, &[u8])> {
    let (id, rest) = bytes.split_at_checked(4)?;
    let (size, rest) = rest.split_first_chunk::<4>()?;
    Some((id, u32::from_le_bytes(*size) as usize, rest))
}

fn read_coding(fmt: &[u8]) -> Result<Coding, TakeError> {
    let word = |at: usize| -> Option<u16> {
        Some(u16::from_le_bytes(fmt.get(at..at + 2)?.try_into().ok()?))
    };
    let fields = (|| {
        let rate = u32::from(word(4)?) | u32::from(word(6)?) << 16;
        Some((word(0)?, word(2)?, rate, word(12)?, word(14)?))
    })();
    let Some((tag, channels, rate, frame_bytes, bits)) = fields else {
        return Err(TakeError::DamagedWav { why: "its header is too short" });
    };
    // The extensible kind says further on what it is.
    let tag = if tag == EXTENSIBLE { word(24).unwrap_or(tag) } else { tag };
    if channels == 0 {
        return Err(TakeError::DamagedWav { why: "it says that it has no channels" });
    }
    if !(SLOWEST_TAKE..=FASTEST_TAKE).contains(&rate) {
        return Err(TakeError::Rate { rate });
    }
    let channels = usize::from(channels);
    let width = usize::from(frame_bytes) / channels;
    match (tag, width) {
        (PCM, 1..=4) | (FLOAT, 4 | 8) if width * channels == usize::from(frame_bytes) => {
            Ok(Coding { tag, channels, rate, width })
        }
        (PCM | FLOAT, _) => Err(TakeError::Coding { what: format!("samples of {bits} bits") }),
        (0x55, _) => Err(TakeError::Coding { what: "MP3 sound".to_owned() }),
        (2 | 0x11, _) => Err(TakeError::Coding { what: "sound compressed as ADPCM".to_owned() }),
        (6 | 7, _) => Err(TakeError::Coding { what: "telephone sound (G.711)".to_owned() }),
        _ => Err(TakeError::Coding {
            what: format!("sound compressed in a way of its own (tag {tag})"),
        }),
    }
}

fn decode(data: &[u8], coding: Coding) -> Result<Sound, TakeError> {
    let frame = coding.width * coding.channels;
    // Every kind of sample as one from -1 to 1.
    let sample: fn(&[u8]) -> f32 = match (coding.tag, coding.width) {
        (FLOAT, 4) => |s| s.first_chunk().map_or(0.0, |s| f32::from_le_bytes(*s)),
        (FLOAT, _) => |s| s.first_chunk().map_or(0.0, |s| f64::from_le_bytes(*s) as f32),
        // Eight bits are counted from 0, with silence in the middle.
        (_, 1) => |s| s.first().map_or(0.0, |s| (f32::from(*s) - 128.0) / 128.0),
        (_, 2) => |s| s.first_chunk().map_or(0.0, |s| f32::from(i16::from_le_bytes(*s)) / 32_768.0),
        (_, 3) => |s| {
            let [a, b, c] = s.first_chunk::<3>().copied().unwrap_or_default();
            i32::from_le_bytes([0, a, b, c]) as f32 / 2_147_483_648.0
        },
        _ => |s| s.first_chunk().map_or(0.0, |s| i32::from_le_bytes(*s) as f32 / 2_147_483_648.0),
    };
    let samples: Vec<f32> = data
        .get(..data.len() - data.len() % frame.max(1))
        .unwrap_or_default()
        .chunks_exact(coding.width.max(1))
        .map(sample)
        // Whatever a broken file holds, what is reckoned from it stays a number.
        .map(|sample| if sample.is_finite() { sample.clamp(-64.0, 64.0) } else { 0.0 })
        .collect();
    if samples.is_empty() {
        return Err(TakeError::Empty);
    }
    Ok(Sound::new(samples, coding.channels, coding.rate))
}
