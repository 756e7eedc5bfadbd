//! WAV files: RIFF WAVE of whole numbers or floats, of any number of channels, and RF64, which is the same beyond 4 GB
//! (EBU Tech 3306).
//!
//! The chunks are read here rather than by the library that writes them: a recorder that was cut off leaves
//! a file whose header promises more than there is, or nothing at all, and what was recorded is still good.

use std::io::{Read, Seek, SeekFrom};

use super::TakeError;
use super::rates::{FASTEST_TAKE, SLOWEST_TAKE};

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

/// Bytes of the file that are read at a time, at least.
const BLOCK: usize = 1 << 16;

/// More chunks than any program writes before the sound.
const MOST_CHUNKS: usize = 1_000;

/// Where a WAV file's sound lies, and how it is coded.
pub(super) struct Wave {
    coding: Coding,
    /// The place of its first byte.
    start: u64,
    /// Its length in bytes; of a file that was cut off, what is there.
    length: u64,
}

impl Wave {
    /// Finds the sound in a file of `length` bytes, which begins as such a file.
    pub(super) fn find(source: &mut (impl Read + Seek), length: u64) -> Result<Self, TakeError> {
        let (mut coding, mut at, mut large) = (None, 12_u64, None);
        for _ in 0..MOST_CHUNKS {
            let Some((id, size)) = chunk(source, at)? else { break };
            let start = at + 8;
            match &id {
                b"fmt " => {
                    let mut fmt = Vec::new();
                    // The longest kind has 40 bytes.
                    source
                        .take(u64::from(size).min(64))
                        .read_to_end(&mut fmt)
                        .map_err(unreadable)?;
                    coding = Some(read_coding(&fmt)?);
                }
                // The sizes that 32 bits can't hold: of the file, then of the sound.
                b"ds64" => {
                    let mut sizes = [0; 16];
                    if source.read_exact(&mut sizes).is_ok() {
                        large = sizes.last_chunk().map(|size| u64::from_le_bytes(*size));
                    }
                }
                b"data" => {
                    let coding = coding.ok_or(TakeError::DamagedWav {
                        why: "its sound comes before the chunk that says how it is coded",
                    })?;
                    // A recorder that was cut off never came to write the size.
                    let said = match size {
                        0 => None,
                        u32::MAX => large.filter(|size| *size > 0),
                        size => Some(u64::from(size)),
                    };
                    let there = length.saturating_sub(start);
                    let length = said.map_or(there, |said| said.min(there));
                    return Ok(Self { coding, start, length });
                }
                _ => {}
            }
            // Chunks begin on even bytes.
            at = start + u64::from(size) + u64::from(size & 1);
        }
        match coding {
            Some(_) => Err(TakeError::Empty),
            None => Err(TakeError::DamagedWav { why: "it ends within its header" }),
        }
    }

    pub(super) fn channels(&self) -> usize {
        self.coding.channels
    }

    pub(super) fn rate(&self) -> u32 {
        self.coding.rate
    }

    /// How many frames there are.
    pub(super) fn frames(&self) -> u64 {
        self.length / self.coding.frame() as u64
    }

    /// Gives all samples frame by frame, in blocks.
    pub(super) fn read(
        &self,
        source: &mut (impl Read + Seek),
        mut each: impl FnMut(&[f32]),
    ) -> Result<(), TakeError> {
        source.seek(SeekFrom::Start(self.start)).map_err(unreadable)?;
        let frame = self.coding.frame();
        let block = BLOCK.div_ceil(frame) * frame;
        let mut left = self.frames() * frame as u64;
        let (mut bytes, mut samples) = (Vec::new(), Vec::new());
        while left > 0 {
            bytes.clear();
            let wanted = left.min(block as u64);
            source.take(wanted).read_to_end(&mut bytes).map_err(unreadable)?;
            self.coding.decode(&bytes, &mut samples);
            each(&samples);
            if (bytes.len() as u64) < wanted {
                break;
            }
            left -= wanted;
        }
        Ok(())
    }
}

/// The name of the chunk at a place, and the size that it states; `None` where the file ends.
fn chunk(source: &mut (impl Read + Seek), at: u64) -> Result<Option<([u8; 4], u32)>, TakeError> {
    source.seek(SeekFrom::Start(at)).map_err(unreadable)?;
    let mut head = Vec::new();
    source.take(8).read_to_end(&mut head).map_err(unreadable)?;
    let head = head.split_first_chunk::<4>();
    Ok(head.and_then(|(id, size)| Some((*id, u32::from_le_bytes(*size.first_chunk()?)))))
}

pub(super) fn unreadable(error: std::io::Error) -> TakeError {
    TakeError::Unreadable { why: error.to_string() }
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

impl Coding {
    /// Bytes of a frame.
    fn frame(self) -> usize {
        (self.width * self.channels).max(1)
    }

    /// Whole frames as samples from -1 to 1, in place of what `samples` held.
    fn decode(self, bytes: &[u8], samples: &mut Vec<f32>) {
        let sample: fn(&[u8]) -> f32 = match (self.tag, self.width) {
            (FLOAT, 4) => |s| s.first_chunk().map_or(0.0, |s| f32::from_le_bytes(*s)),
            (FLOAT, _) => |s| s.first_chunk().map_or(0.0, |s| f64::from_le_bytes(*s) as f32),
            // Eight bits are counted from 0, with silence in the middle.
            (_, 1) => |s| s.first().map_or(0.0, |s| (f32::from(*s) - 128.0) / 128.0),
            (_, 2) => {
                |s| s.first_chunk().map_or(0.0, |s| f32::from(i16::from_le_bytes(*s)) / 32_768.0)
            }
            (_, 3) => |s| {
                let [a, b, c] = s.first_chunk::<3>().copied().unwrap_or_default();
                i32::from_le_bytes([0, a, b, c]) as f32 / 2_147_483_648.0
            },
            _ => {
                |s| s.first_chunk().map_or(0.0, |s| i32::from_le_bytes(*s) as f32 / 2_147_483_648.0)
            }
        };
        let whole = bytes.len() - bytes.len() % self.frame();
        samples.clear();
        samples.extend(
            bytes.get(..whole).unwrap_or_default().chunks_exact(self.width.max(1)).map(sample),
        );
    }
}
