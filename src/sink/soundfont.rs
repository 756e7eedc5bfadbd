//! The band through a soundfont of the player's own. The only file that names rustysynth.

use std::fs;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use rustysynth::{SoundFont as Bank, Synthesizer, SynthesizerSettings};

use super::soundfont_file::fault;
use crate::perform::{Message, Performance, messages};
use crate::synth::{Blocks, Outlet, QUANTUM, frame_at};

/// Frames that the soundfont's synthesizer reckons at a time, the fewest that it can: a message takes
/// effect at the nearest such block, at most 4 frames early or late (0.08 ms at 48 kHz).
const GRAIN: usize = 8;

/// The largest file that is read, in bytes.
const LARGEST: u64 = 2 << 30;

/// Seconds that its reverb may ring past the end of the song.
const TAIL_SECONDS: f64 = 1.5;

/// Its loudness beside the band's own sound, for a General MIDI bank's usual levels.
const LOUDNESS: f32 = 1.35;

/// Why a soundfont cannot be played.
#[derive(Debug, thiserror::Error)]
pub enum SoundFontError {
    /// The file cannot be read.
    #[error("cannot read the soundfont {}: {cause}; check the name after --soundfont", path.display())]
    File {
        /// The file.
        path: PathBuf,
        /// What the system said.
        cause: std::io::Error,
    },
    /// The file is no soundfont, or a broken one.
    #[error(
        "{} is not a soundfont that can be played: {cause}; use an .sf2 file, or leave --soundfont \
         out for the band's own sound",
        path.display()
    )]
    Broken {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        cause: String,
    },
    /// The rate is out of the synthesizer's range.
    #[error(
        "a soundfont cannot be played at {sample_rate} frames a second, only at 16,000 to 192,000; \
         set the sound device to one of these, or leave --soundfont out"
    )]
    Rate {
        /// The rate asked for.
        sample_rate: u32,
    },
}

/// A soundfont, read.
#[derive(Clone, Debug)]
pub struct SoundFont {
    bank: Arc<Bank>,
}

impl SoundFont {
    /// Reads an .sf2 file.
    ///
    /// # Errors
    /// [`SoundFontError::File`] if it cannot be read, [`SoundFontError::Broken`] if it is none.
    pub fn load(path: &Path) -> Result<Self, SoundFontError> {
        let refused = |cause| SoundFontError::File { path: path.to_owned(), cause };
        let broken = |cause: String| SoundFontError::Broken { path: path.to_owned(), cause };
        let about = fs::metadata(path).map_err(refused)?;
        if about.len() > LARGEST {
            return Err(broken("it is larger than 2 GiB".to_owned()));
        }
        let bytes = fs::read(path).map_err(refused)?;
        Self::from_bytes(&bytes).map_err(broken)
    }

    /// Reads what an .sf2 file holds.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn from_bytes(bytes: &[u8]) -> Result<Self, String> {
        if let Some(fault) = fault(bytes) {
            return Err(fault.to_owned());
        }
        // A damaged file must never end the program, whatever the reader makes of it.
        let read = catch_unwind(|| Bank::new(&mut &*bytes));
        match read {
            Ok(Ok(bank)) => Ok(Self { bank: Arc::new(bank) }),
            Ok(Err(error)) => Err(error.to_string()),
            Err(_) => Err("its lists of sounds are damaged".to_owned()),
        }
    }

    /// The band with this soundfont's sounds: General MIDI programs, volumes and pans as the
    /// performance has them.
    ///
    /// # Errors
    /// [`SoundFontError::Rate`].
    pub fn band(
        &self,
        performance: &Performance,
        sample_rate: u32,
    ) -> Result<SoundFontBand, SoundFontError> {
        let refused = || SoundFontError::Rate { sample_rate };
        let mut settings =
            SynthesizerSettings::new(i32::try_from(sample_rate).map_err(|_| refused())?);
        settings.block_size = GRAIN;
        settings.maximum_polyphony = 128;
        let mut synth = Synthesizer::new(&self.bank, &settings).map_err(|_| refused())?;
        synth.set_master_volume(LOUDNESS);
        let tempo = performance.tempo;
        let events = messages(performance)
            .into_iter()
            .map(|timed| {
                let frame = frame_at(tempo, timed.at, sample_rate);
                ((frame + GRAIN as u64 / 2) / GRAIN as u64, timed.message)
            })
            .collect();
        let end = frame_at(tempo, performance.end, sample_rate);
        let total = end.saturating_add((TAIL_SECONDS * f64::from(sample_rate)) as u64);
        let bank = Playing { synth, events, next: 0, grain: 0, failed: false };
        Ok(SoundFontBand::over(bank, sample_rate, total))
    }
}

/// The band playing one performance with a soundfont.
pub type SoundFontBand = Outlet<Playing>;

/// A soundfont's synthesizer and what it is sent.
#[derive(Debug)]
pub struct Playing {
    synth: Synthesizer,
    /// Messages, each with the number of the grain that it comes before.
    events: Vec<(u64, Message)>,
    next: usize,
    grain: u64,
    failed: bool,
}

impl Blocks for Playing {
    fn block(&mut self, left: &mut [f32; QUANTUM], right: &mut [f32; QUANTUM]) {
        // A soundfont that leads the synthesizer out of its own bounds falls silent.
        if self.failed || catch_unwind(AssertUnwindSafe(|| self.grains(left, right))).is_err() {
            self.failed = true;
            *left = [0.0; QUANTUM];
            *right = [0.0; QUANTUM];
        }
    }
}

impl Playing {
    fn grains(&mut self, left: &mut [f32; QUANTUM], right: &mut [f32; QUANTUM]) {
        for (left, right) in left.chunks_mut(GRAIN).zip(right.chunks_mut(GRAIN)) {
            while let Some((grain, message)) = self.events.get(self.next)
                && *grain <= self.grain
            {
                let ([status, first, second], _) = message.bytes();
                let (channel, command) = (i32::from(status & 0x0F), i32::from(status & 0xF0));
                let (first, second) = (i32::from(first), i32::from(second));
                self.synth.process_midi_message(channel, command, first, second);
                self.next += 1;
            }
            self.synth.render(left, right);
            self.grain += 1;
        }
    }
}
