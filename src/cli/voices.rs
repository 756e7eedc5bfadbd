use std::io::Cursor;
use std::path::Path;

use super::failure::Failure;
use crate::arrange::{Plan, arrange};
use crate::chart::{Role, RoleSet, Song};
use crate::perform::{Instrument, Performance, perform};
use crate::sink::{SoundFont, WavError, save_wav, write_wav};
use crate::style::Style;
use crate::synth::{LiveRenderer, Renderer, Synth, make_up};

/// Frames a second of the sound files: what studios and video use.
const FILE_RATE: u32 = 48_000;

/// What the band's sound hangs on beside the notes: who may play which instrument, and how much louder
/// it all is made.
#[derive(Clone, Debug)]
pub(super) struct Voices {
    instruments: Vec<(Role, Instrument)>,
    gain: f32,
}

impl Voices {
    /// For a song, a style and a line-up (the song's own if `None`). Key, tempo, speed and who sits out
    /// change nothing, so that a change of these while the band plays is no leap in loudness, and a song
    /// sounds in a file as it does live.
    pub(super) fn of(song: &Song, style: &Style, band: Option<RoleSet>, seed: u64) -> Self {
        let line_up = band.unwrap_or(song.band);
        let instruments = style
            .parts
            .iter()
            .filter(|(role, _)| line_up.contains(*role))
            .map(|(role, part)| (*role, part.instrument))
            .collect();
        // What can't be played is told of where it is to be played.
        let all = arrange(song, &Plan { band, tag: style.tag, ..Plan::default() }).ok();
        let all = all.and_then(|all| perform(&all, style, seed).ok());
        Self { instruments, gain: all.map_or(1.0, |all| make_up(&all)) }
    }

    /// The whole of a performance, by the band's own sound or a soundfont's.
    fn band(
        &self,
        performance: &Performance,
        soundfont: Option<&Path>,
        sample_rate: u32,
    ) -> Result<Box<dyn Renderer>, Failure> {
        Ok(match soundfont {
            None => Box::new(Synth::new(performance, sample_rate).at_gain(self.gain)),
            Some(path) => {
                let font = SoundFont::load(path).map_err(Failure::failed)?;
                Box::new(font.band(performance, sample_rate).map_err(Failure::failed)?)
            }
        })
    }

    /// The band's own sound, to be played live.
    pub(super) fn live(&self, sample_rate: u32) -> Box<dyn LiveRenderer> {
        Box::new(Synth::live(&self.instruments, sample_rate).at_gain(self.gain))
    }

    /// Writes the performance as a sound file.
    pub(super) fn save(
        &self,
        performance: &Performance,
        soundfont: Option<&Path>,
        path: &Path,
    ) -> Result<(), Failure> {
        let mut band = self.band(performance, soundfont, FILE_RATE)?;
        save_wav(band.as_mut(), path).map_err(Failure::failed)
    }

    /// The performance as the bytes of a sound file.
    pub(super) fn bytes(
        &self,
        performance: &Performance,
        soundfont: Option<&Path>,
    ) -> Result<Vec<u8>, Failure> {
        let mut band = self.band(performance, soundfont, FILE_RATE)?;
        let mut bytes = Cursor::new(Vec::new());
        write_wav(band.as_mut(), &mut bytes).map_err(|error: WavError| Failure::failed(error))?;
        Ok(bytes.into_inner())
    }
}
