//! The band through a soundfont of the player's own. The only file that names rustysynth.

use std::collections::VecDeque;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;
use std::sync::Arc;

use rustysynth::{SoundFont as Bank, Synthesizer, SynthesizerSettings};

use super::soundfont_file::fault;
use crate::perform::{Message, Performance};
use crate::synth::{Instruments, LIVE_ROOM, Outlet, QUANTUM, Sequencer, frame_in, framed};

/// Frames that the soundfont's synthesizer reckons at a time, the fewest that it can: a message takes
/// effect at the nearest such block, at most 4 frames early or late (0.08 ms at 48 kHz).
const GRAIN: usize = 8;

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
        let players = self.players(sample_rate)?;
        let end = frame_in(performance, performance.end, sample_rate);
        let total = end.saturating_add((TAIL_SECONDS * f64::from(sample_rate)) as u64);
        let fed = Sequencer::new(players, framed(performance, sample_rate), 0);
        Ok(SoundFontBand::over(fed, sample_rate, total))
    }

    /// The same for playing live, as a [`LiveRenderer`](crate::synth::LiveRenderer). Programs, volumes
    /// and pans come as messages.
    ///
    /// # Errors
    /// [`SoundFontError::Rate`].
    pub fn live(&self, sample_rate: u32) -> Result<SoundFontBand, SoundFontError> {
        let fed = Sequencer::new(self.players(sample_rate)?, Vec::new(), LIVE_ROOM);
        Ok(SoundFontBand::over(fed, sample_rate, u64::MAX))
    }

    fn players(&self, sample_rate: u32) -> Result<SoundFontPlayers, SoundFontError> {
        let refused = || SoundFontError::Rate { sample_rate };
        let mut settings =
            SynthesizerSettings::new(i32::try_from(sample_rate).map_err(|_| refused())?);
        settings.block_size = GRAIN;
        settings.maximum_polyphony = 128;
        let mut synth = Synthesizer::new(&self.bank, &settings).map_err(|_| refused())?;
        synth.set_master_volume(LOUDNESS);
        let waiting = VecDeque::with_capacity(LIVE_ROOM);
        Ok(SoundFontPlayers { synth, waiting, failed: false })
    }
}

/// The band with a soundfont.
pub type SoundFontBand = Outlet<Sequencer<SoundFontPlayers>>;

/// A soundfont's synthesizer and what it will be sent soon.
#[derive(Debug)]
pub struct SoundFontPlayers {
    synth: Synthesizer,
    /// Messages, each with the number of the grain of the next block that it comes before.
    waiting: VecDeque<(usize, Message)>,
    failed: bool,
}

impl Instruments for SoundFontPlayers {
    fn take(&mut self, message: Message, wait: usize) {
        // The nearest grain; the last one's nearest may be the next block's first.
        let grain = (wait + GRAIN / 2) / GRAIN;
        if self.waiting.len() == self.waiting.capacity() {
            // More in a block than anyone plays: some of it sooner by a millisecond, none lost.
            self.send_until(usize::MAX);
        }
        self.waiting.push_back((grain, message));
    }

    fn block(&mut self, left: &mut [f32; QUANTUM], right: &mut [f32; QUANTUM]) {
        // A soundfont that leads the synthesizer out of its own bounds falls silent.
        if self.failed || catch_unwind(AssertUnwindSafe(|| self.grains(left, right))).is_err() {
            self.failed = true;
            self.waiting.clear();
            *left = [0.0; QUANTUM];
            *right = [0.0; QUANTUM];
        }
    }
}

impl SoundFontPlayers {
    fn grains(&mut self, left: &mut [f32; QUANTUM], right: &mut [f32; QUANTUM]) {
        let grains = left.chunks_mut(GRAIN).zip(right.chunks_mut(GRAIN));
        for (number, (left, right)) in grains.enumerate() {
            self.send_until(number);
            self.synth.render(left, right);
        }
        for (grain, _) in &mut self.waiting {
            *grain = grain.saturating_sub(QUANTUM / GRAIN);
        }
    }

    fn send_until(&mut self, number: usize) {
        while let Some(&(grain, message)) = self.waiting.front()
            && grain <= number
        {
            self.waiting.pop_front();
            let ([status, first, second], _) = message.bytes();
            let (channel, command) = (i32::from(status & 0x0F), i32::from(status & 0xF0));
            let (first, second) = (i32::from(first), i32::from(second));
            // Clock and its like have no channel and mean nothing to a synthesizer.
            if status < 0xF0 {
                self.synth.process_midi_message(channel, command, first, second);
            }
        }
    }
}
