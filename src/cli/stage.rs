use std::time::Instant;

use super::args::Live;
use super::failure::Failure;
use crate::chart::Role;
use crate::live::{Keeper, Missing, Opener, Slot, Supply};
use crate::perform::Instrument;
use crate::sink::{
    MidiOut, PortSource, PortTarget, SoundError, SoundFont, SoundFontError, Volume, open_sound,
    quietly,
};
use crate::style::Style;
use crate::synth::Synth;

/// What the band plays to, opened, and whoever opens it again once it was lost.
pub(super) struct Stage {
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
pub(super) enum NoStage {
    /// No sound device at all, and no port was asked for.
    NoDevice,
    /// It can't be opened.
    Failed(Failure),
}

impl Stage {
    /// Opens the port and the built-in sound, as asked for; the built-in sound if nothing is.
    pub(super) fn open(live: &Live, style: &Style, epoch: Instant) -> Result<Self, NoStage> {
        let mut stage = Self {
            outputs: Vec::new(),
            keeper: Keeper::new(),
            names: Vec::new(),
            volume: Volume::default(),
            sounds: live.sound || !live.has_port(),
        };
        if let Some(target) = target(live) {
            let (source, out) =
                PortSource::open(&target, epoch).map_err(|error| NoStage::failed(error))?;
            stage.names.push(source.name().to_owned());
            stage.add(Slot::Port, out, Box::new(source));
        }
        if stage.sounds {
            let font = live.soundfont.as_deref().map(SoundFont::load).transpose();
            let mut sound = BuiltIn {
                device: live.device.clone(),
                font: font.map_err(NoStage::failed)?,
                instruments: style
                    .parts
                    .iter()
                    .map(|(role, part)| (*role, part.instrument))
                    .collect(),
                volume: stage.volume.clone(),
                epoch,
                name: String::new(),
            };
            match sound.port() {
                Ok(out) => {
                    stage.names.push(sound.name.clone());
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
struct BuiltIn {
    device: Option<String>,
    font: Option<SoundFont>,
    instruments: Vec<(Role, Instrument)>,
    volume: Volume,
    epoch: Instant,
    /// The device's, once it was open.
    name: String,
}

#[derive(Debug, thiserror::Error)]
enum NoSound {
    #[error(transparent)]
    Device(#[from] SoundError),
    #[error(transparent)]
    Font(#[from] SoundFontError),
}

impl BuiltIn {
    fn port(&mut self) -> Result<Box<dyn MidiOut>, NoSound> {
        let (font, instruments) = (self.font.as_ref(), self.instruments.as_slice());
        let (port, name) = quietly(|| {
            open_sound::<NoSound>(self.device.as_deref(), &self.volume, self.epoch, |rate| {
                Ok(match font {
                    None => Box::new(Synth::live(instruments, rate)),
                    Some(font) => Box::new(font.live(rate)?),
                })
            })
        })?;
        self.name = name;
        Ok(Box::new(port))
    }
}

impl Opener for BuiltIn {
    fn name(&self) -> String {
        format!("the sound device {}", self.name)
    }

    fn open(&mut self) -> Result<Box<dyn MidiOut>, Missing> {
        self.port().map_err(|error| match error {
            NoSound::Device(SoundError::NoDevice { .. } | SoundError::Lost { .. }) => Missing::Gone,
            error => Missing::Refused(error.to_string()),
        })
    }
}
