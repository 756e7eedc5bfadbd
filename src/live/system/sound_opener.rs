use std::time::Instant;

use super::{Missing, Opener};
use crate::sink::{MidiOut, SoundError, Volume, open_sound, quietly};
use crate::synth::LiveRenderer;

/// Makes the renderer for a device of so many frames a second, or says in the player's words why not.
pub type MakeRenderer = Box<dyn FnMut(u32) -> Result<Box<dyn LiveRenderer>, String> + Send>;

/// How the built-in sound is opened, and opened again once its device was lost.
pub struct SoundOpener {
    device: Option<String>,
    volume: Volume,
    epoch: Instant,
    make: MakeRenderer,
    /// What the device opened last is called.
    name: String,
}

/// Why the built-in sound can't be had.
#[derive(Debug, thiserror::Error)]
pub enum NoSound {
    /// The device.
    #[error(transparent)]
    Device(#[from] SoundError),
    /// The renderer, in the words of who makes it.
    #[error("{0}")]
    Renderer(String),
}

impl SoundOpener {
    /// For the system's default device or the one that `device` names; due times count from `epoch`.
    pub fn new(device: Option<String>, volume: Volume, epoch: Instant, make: MakeRenderer) -> Self {
        let name = device.clone().unwrap_or_else(|| "default".to_owned());
        Self { device, volume, epoch, make, name }
    }

    /// Opens it; its [name](Opener::name) is the device's own from then on. Waits half a second at
    /// most for the device to begin.
    ///
    /// # Errors
    /// Why there is no sound.
    pub fn open_now(&mut self) -> Result<Box<dyn MidiOut>, NoSound> {
        let (device, volume, make) = (self.device.as_deref(), &self.volume, &mut self.make);
        let make = |rate| make(rate).map_err(NoSound::Renderer);
        // The system's libraries write to the screen.
        let (port, name) = quietly(|| open_sound(device, volume, self.epoch, make))?;
        self.name = name;
        Ok(Box::new(port))
    }
}

impl Opener for SoundOpener {
    fn name(&self) -> String {
        format!("the sound device {}", self.name)
    }

    fn open(&mut self) -> Result<Box<dyn MidiOut>, Missing> {
        self.open_now().map_err(|error| match error {
            NoSound::Device(
                SoundError::NoDevice { .. }
                | SoundError::NoSuchDevice { .. }
                | SoundError::Lost { .. },
            ) => Missing::Gone,
            error => Missing::Refused(error.to_string()),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::synth::Synth;

    #[test]
    fn what_is_not_there_is_looked_for_on() {
        let make: MakeRenderer = Box::new(|rate| Ok(Box::new(Synth::live(&[], rate))));
        let device = Some("no device is named like this".to_owned());
        let mut opener = SoundOpener::new(device, Volume::default(), Instant::now(), make);
        assert_eq!(opener.open().err(), Some(Missing::Gone));
        assert_eq!(opener.name(), "the sound device no device is named like this");
    }
}
