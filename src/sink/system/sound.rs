//! The system's sound devices. The only file that names cpal.
//!
//! The system's sound libraries may write to standard error while devices are looked for and opened;
//! whoever draws on a screen keeps that off it.

use std::fmt::Display;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{
    BufferSize, Device, Error, ErrorKind, FromSample, I24, OutputCallbackInfo, SampleFormat,
    SizedSample, Stream, StreamConfig, SupportedBufferSize, SupportedStreamConfig, U24,
};
use serde::Serialize;

use super::live_source::{LiveShared, LiveSource};
use super::sound_error::SoundError;
use super::sound_port::{SoundPort, since};
use super::volume::Volume;
use crate::synth::LiveRenderer;
use crate::time::Nanos;

/// Milliseconds of sound that a callback makes. A player waits for what a key does, and a sound that is
/// two such periods away still seems to obey at once; a shorter one is late more often.
const PERIOD_MILLIS: u32 = 20;

/// How many callbacks are waited for before a port counts as open, and for how long.
const WARM_UP: u64 = 12;
const LONGEST_WARM_UP: Duration = Duration::from_millis(700);

/// Frames a second that are held to be a sound device's: what is asked for above or below is a fault.
pub(super) const RATES: std::ops::RangeInclusive<u32> = 8_000..=384_000;

/// A device that sound can be played on, or heard from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SoundDevice {
    /// What the system calls it.
    pub name: String,
    /// Its name for programs, of which no two are alike.
    pub id: String,
    /// True for the one that is used when none is named.
    pub default: bool,
    /// Frames a second that it has by itself.
    pub sample_rate: u32,
    /// Its channels.
    pub channels: u16,
}

/// The devices that answer, the default one first.
pub fn sound_devices() -> Vec<SoundDevice> {
    default_first(found(Way::Out))
}

/// What is told of devices, the default one first.
pub(super) fn default_first(found: Vec<(Device, SoundDevice)>) -> Vec<SoundDevice> {
    let mut devices: Vec<SoundDevice> = found.into_iter().map(|(_, about)| about).collect();
    devices.sort_by_key(|device| !device.default);
    devices
}

/// Which way sound goes through a device.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Way {
    /// It is heard through it.
    In,
    /// It is played through it.
    Out,
}

/// All devices that sound can go through, each with what is told of it.
pub(super) fn found(way: Way) -> Vec<(Device, SoundDevice)> {
    let host = cpal::default_host();
    let (default, devices) = match way {
        Way::In => {
            (host.default_input_device(), host.input_devices().map(Iterator::collect::<Vec<_>>))
        }
        Way::Out => (host.default_output_device(), host.output_devices().map(Iterator::collect)),
    };
    let default = default.and_then(|device| device.id().ok());
    let Ok(devices) = devices else { return Vec::new() };
    devices
        .into_iter()
        .filter_map(|device| {
            let id = device.id().ok()?;
            // ALSA's bin for samples answers like a device. Nobody hears it, and it has nothing to say.
            if id.id() == "null" {
                return None;
            }
            let config = match way {
                Way::In => device.default_input_config(),
                Way::Out => device.default_output_config(),
            };
            let config = config.ok()?;
            let about = SoundDevice {
                name: name(&device),
                id: id.id().to_owned(),
                default: default.as_ref() == Some(&id),
                sample_rate: config.sample_rate(),
                channels: config.channels(),
            };
            Some((device, about))
        })
        .collect()
}

pub(super) fn name(device: &Device) -> String {
    match device.description() {
        Ok(about) => about.name().to_owned(),
        Err(_) => device.id().map_or_else(|_| "default".to_owned(), |id| id.id().to_owned()),
    }
}

/// Which of the devices a name means: the one with it as its own name or its id exactly, or else all with it as a part
/// of their name, in capitals or not.
pub(super) fn chosen(devices: &[SoundDevice], asked: &str) -> Vec<usize> {
    let exact = devices.iter().position(|device| device.name == asked || device.id == asked);
    if let Some(index) = exact {
        return vec![index];
    }
    let wanted = asked.to_lowercase();
    let fits = |device: &SoundDevice| device.name.to_lowercase().contains(&wanted);
    devices.iter().enumerate().filter(|(_, device)| fits(device)).map(|(at, _)| at).collect()
}

/// The one device that a name means.
fn choose(devices: &[SoundDevice], asked: &str) -> Result<usize, SoundError> {
    let matches = chosen(devices, asked);
    let name = asked.to_owned();
    let names = |chosen: &mut dyn Iterator<Item = &SoundDevice>| {
        chosen.map(|device| device.name.clone()).collect::<Vec<_>>()
    };
    match *matches.as_slice() {
        [index] => Ok(index),
        [] => Err(SoundError::NoSuchDevice { name, there: names(&mut devices.iter()) }),
        _ => {
            let matches = names(&mut matches.iter().filter_map(|&at| devices.get(at)));
            Err(SoundError::SeveralDevices { name, matches })
        }
    }
}

/// A device chosen, with the form of samples that it plays.
struct SoundOutput {
    device: Device,
    name: String,
    config: SupportedStreamConfig,
}

impl SoundOutput {
    /// The system's default device, or the one that `asked` names in full, by its id, or by a part of
    /// its name that fits no other.
    ///
    /// # Errors
    /// [`SoundError::NoDevice`] if there is nothing to play on, or why the device cannot be used.
    fn open(asked: Option<&str>) -> Result<Self, SoundError> {
        let Some(asked) = asked else { return Self::open_default() };
        let (devices, about): (Vec<Device>, Vec<SoundDevice>) = found(Way::Out).into_iter().unzip();
        let index = choose(&about, asked)?;
        let device = devices.into_iter().nth(index);
        let device = device.ok_or(SoundError::NoDevice { cause: String::new() })?;
        let name = name(&device);
        let config = device.default_output_config().map_err(|error| refusal(&name, &error))?;
        Self::with(device, name, config)
    }

    fn open_default() -> Result<Self, SoundError> {
        let none = |cause: String| SoundError::NoDevice { cause };
        let device = cpal::default_host().default_output_device();
        let device = device.ok_or_else(|| none(String::new()))?;
        let name = name(&device);
        // With no device at all, there still is a default one, which then has no form of samples;
        // with a sound server that does not run, opening it fails in the server's own words.
        let config = device.default_output_config().map_err(|error| match error.kind() {
            ErrorKind::DeviceNotAvailable => none(String::new()),
            ErrorKind::HostUnavailable | ErrorKind::BackendError => none(error.to_string()),
            _ => refusal(&name, &error),
        })?;
        Self::with(device, name, config)
    }

    fn with(
        device: Device,
        name: String,
        config: SupportedStreamConfig,
    ) -> Result<Self, SoundError> {
        if config.channels() == 0 || !RATES.contains(&config.sample_rate()) {
            let cause =
                format!("{} channels, {} frames a second", config.channels(), config.sample_rate());
            return Err(SoundError::Unsupported { name, cause });
        }
        Ok(Self { device, name, config })
    }

    /// Frames a second that a renderer for this device must make.
    fn sample_rate(&self) -> u32 {
        self.config.sample_rate()
    }

    /// Begins to play what is sent to the port; `epoch` is when our clock began. Waits a moment, until
    /// the device's delay is known.
    ///
    /// # Errors
    /// [`SoundError::Unsupported`] for a renderer of another rate or a device with samples of an
    /// unknown form, or why the device refuses.
    fn start(
        &self,
        renderer: Box<dyn LiveRenderer>,
        volume: &Volume,
        epoch: Instant,
    ) -> Result<SoundPort, SoundError> {
        self.fits(renderer.sample_rate())?;
        let period = self.sample_rate() / 1_000 * PERIOD_MILLIS;
        let form = (self.config.channels(), period);
        let (mut port, source) = SoundPort::new(renderer, &self.name, form, volume, epoch);
        let live = Live { source, shared: port.shared(), epoch };
        let stream = self.stream(live)?;
        stream.play().map_err(|error| refusal(&self.name, &error))?;
        port.keep(Box::new(stream));
        port.warm_up(WARM_UP, LONGEST_WARM_UP);
        Ok(port)
    }

    fn fits(&self, rate: u32) -> Result<(), SoundError> {
        if rate == self.sample_rate() {
            return Ok(());
        }
        let cause = format!("it plays {} frames a second", self.sample_rate());
        Err(SoundError::Unsupported { name: self.name.clone(), cause })
    }

    /// About that long a callback, if the device says what it can.
    fn buffer_size(&self) -> BufferSize {
        match *self.config.buffer_size() {
            SupportedBufferSize::Range { min, max } if min <= max && max > 0 => {
                let wanted = self.sample_rate() / 1_000 * PERIOD_MILLIS;
                BufferSize::Fixed(wanted.clamp(min.max(1), max))
            }
            _ => BufferSize::Default,
        }
    }

    fn stream(&self, to: Live) -> Result<Stream, SoundError> {
        match self.config.sample_format() {
            SampleFormat::F32 => self.stream_of::<f32>(to),
            SampleFormat::F64 => self.stream_of::<f64>(to),
            SampleFormat::I8 => self.stream_of::<i8>(to),
            SampleFormat::I16 => self.stream_of::<i16>(to),
            SampleFormat::I24 => self.stream_of::<I24>(to),
            SampleFormat::I32 => self.stream_of::<i32>(to),
            SampleFormat::U8 => self.stream_of::<u8>(to),
            SampleFormat::U16 => self.stream_of::<u16>(to),
            SampleFormat::U24 => self.stream_of::<U24>(to),
            SampleFormat::U32 => self.stream_of::<u32>(to),
            other => Err(SoundError::Unsupported {
                name: self.name.clone(),
                cause: format!("it asks for samples of the form {other}"),
            }),
        }
    }

    fn stream_of<T: SizedSample + FromSample<f32>>(
        &self,
        mut to: Live,
    ) -> Result<Stream, SoundError> {
        let config = StreamConfig { buffer_size: self.buffer_size(), ..self.config.config() };
        let (told, name) = (Arc::clone(&to.shared), self.name.clone());
        self.device
            .build_output_stream(
                config,
                move |samples: &mut [T], about: &OutputCallbackInfo| {
                    let times = about.timestamp();
                    to.fill(samples, times.playback.duration_since(times.callback));
                },
                move |error| note(&told, &name, &error),
                None,
            )
            .map_err(|error| refusal(&self.name, &error))
    }
}

/// A live source, and our clock.
struct Live {
    source: LiveSource,
    shared: Arc<LiveShared>,
    epoch: Instant,
}

impl Live {
    /// Fills a device's samples; the first will be heard after `latency`.
    fn fill<T: SizedSample + FromSample<f32>>(&mut self, samples: &mut [T], latency: Duration) {
        let now = since(self.epoch);
        // More than ten seconds would be a clock gone wrong.
        let latency = latency.min(Duration::from_secs(10));
        let heard = Nanos(now.0 + i64::try_from(latency.as_nanos()).unwrap_or(0));
        self.source.fill(samples, (now, heard), T::from_sample, T::EQUILIBRIUM);
    }
}

/// Opens the built-in sound for playing live: on the system's default device, or the one that `asked`
/// names in full, by its id, or by a part of its name that fits no other. `make` makes the renderer,
/// once the device's frames a second are known. Times are on the clock that began at `epoch`. Gives
/// the port and the device's name.
///
/// Call it again, on a thread that may wait, when the port [`is lost`](crate::sink::MidiOut::is_lost).
///
/// # Errors
/// There is no such device, or it refuses, or `make` does.
pub fn open_sound<E: From<SoundError>>(
    asked: Option<&str>,
    volume: &Volume,
    epoch: Instant,
    make: impl FnOnce(u32) -> Result<Box<dyn LiveRenderer>, E>,
) -> Result<(SoundPort, String), E> {
    let output = SoundOutput::open(asked)?;
    let port = output.start(make(output.sample_rate())?, volume, epoch)?;
    Ok((port, output.name))
}

/// A refusal by the device of that name, in our words.
fn refusal(name: &str, error: &Error) -> SoundError {
    let name = name.to_owned();
    let cause = |error: &dyn Display| error.to_string().trim_end_matches('.').to_owned();
    match error.kind() {
        ErrorKind::DeviceBusy => SoundError::Busy { name },
        ErrorKind::PermissionDenied => SoundError::Denied { name },
        ErrorKind::DeviceNotAvailable => SoundError::Lost { name },
        ErrorKind::UnsupportedConfig | ErrorKind::UnsupportedOperation => {
            SoundError::Unsupported { name, cause: cause(error) }
        }
        _ => SoundError::Failed { name, cause: cause(error) },
    }
}

/// What the device says while it plays.
fn note(told: &LiveShared, name: &str, error: &Error) {
    match error.kind() {
        ErrorKind::Xrun => _ = told.dropouts.fetch_add(1, Ordering::Relaxed),
        // The sound goes on elsewhere, with another delay.
        ErrorKind::DeviceChanged => told.moved.store(true, Ordering::Relaxed),
        ErrorKind::DeviceNotAvailable | ErrorKind::StreamInvalidated => {
            _ = told.failure.set(refusal(name, error));
        }
        // Whether it plays on is seen by the samples it takes.
        _ => {}
    }
}

#[cfg(test)]
#[path = "sound_tests.rs"]
mod tests;
