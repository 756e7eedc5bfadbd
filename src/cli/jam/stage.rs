use std::time::Instant;

use crate::cli::failure::Failure;
use crate::cli::options::Live;
use crate::live::{Keeper, NoSound, Opener, Slot, SoundOpener, Supply};
use crate::ports::{PortSource, PortTarget};
use crate::rehearsal::Voices;
use crate::sink::{MidiOut, SoundFont, Volume};
use crate::synth::LiveRenderer;

/// What the band plays to, opened, and whoever opens it again once it was lost.
pub(in crate::cli) struct Stage {
    /// For the playing thread.
    pub outputs: Vec<Supply>,
    /// Knows how to open them again.
    pub keeper: Keeper,
    /// Their names, to be told.
    pub names: Vec<String>,
    /// Of the built-in sound.
    pub volume: Volume,
    /// True if there is a built-in sound to be louder or softer.
    pub sounds: bool,
}

/// Why there is nothing to play to.
pub(in crate::cli) enum NoStage {
    /// No sound device at all, and no port was asked for.
    NoDevice,
    /// It can't be opened.
    Failed(Failure),
}

impl Stage {
    /// Opens the port and the built-in sound, as asked for; the built-in sound if nothing is.
    pub(in crate::cli) fn open(
        live: &Live,
        voices: &Voices,
        epoch: Instant,
    ) -> Result<Self, NoStage> {
        let mut stage = Self {
            outputs: Vec::new(),
            keeper: Keeper::new(),
            names: Vec::new(),
            volume: Volume::default(),
            sounds: live.sound || !live.has_port(),
        };
        if let Some(target) = target(live) {
            let (source, out) = PortSource::open(&target, epoch).map_err(NoStage::failed)?;
            stage.names.push(source.name().to_owned());
            stage.add(Slot::Port, out, Box::new(source));
        }
        if stage.sounds {
            let mut sound = built_in(live, voices, &stage.volume, epoch)?;
            match sound.open_now() {
                Ok(out) => {
                    stage.names.push(Opener::name(&sound));
                    stage.add(Slot::Sound, out, Box::new(sound));
                }
                Err(NoSound::Device(error))
                    if error.is_no_device() && live.device.is_none() && !live.has_port() =>
                {
                    return Err(NoStage::NoDevice);
                }
                Err(error) => return Err(NoStage::failed(error)),
            }
        }
        Ok(stage)
    }

    fn add(&mut self, slot: Slot, out: Box<dyn MidiOut>, opener: Box<dyn Opener>) {
        self.outputs.push(Supply { slot, out });
        self.keeper = std::mem::take(&mut self.keeper).keeping(slot, opener, true);
    }
}

impl NoStage {
    fn failed(why: impl std::fmt::Display) -> Self {
        Self::Failed(Failure::failed(why))
    }
}

fn target(live: &Live) -> Option<PortTarget> {
    match &live.port {
        Some(name) => Some(PortTarget::Named(name.clone())),
        None => live.virtual_port.then_some(PortTarget::Virtual),
    }
}

/// The built-in sound, or a soundfont's.
fn built_in(
    live: &Live,
    voices: &Voices,
    volume: &Volume,
    epoch: Instant,
) -> Result<SoundOpener, NoStage> {
    let voices = voices.clone();
    let font = live.soundfont.as_deref().map(SoundFont::load).transpose();
    let font = font.map_err(NoStage::failed)?;
    let make = move |rate: u32| -> Result<Box<dyn LiveRenderer>, String> {
        Ok(match &font {
            None => Box::new(voices.live(rate)),
            Some(font) => Box::new(font.live(rate).map_err(|error| error.to_string())?),
        })
    };
    Ok(SoundOpener::new(live.device.clone(), volume.clone(), epoch, Box::new(make)))
}
