//! The system's sound devices. The only file that names cpal.
//!
//! The system's sound libraries may write to standard error while devices are looked for and opened;
//! whoever draws on a screen keeps that off it.

use std::fmt::Display;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::thread::sleep;
use std::time::{Duration, Instant};

use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{
    BufferSize, Device, Error, ErrorKind, FromSample, I24, OutputCallbackInfo, SampleFormat,
    SizedSample, Stream, StreamConfig, SupportedBufferSize, SupportedStreamConfig, U24,
};
use serde::Serialize;

use super::sound_error::SoundError;
use super::sound_source::{Shared, SoundSource};
use crate::synth::Renderer;

/// How often [`Playback::wait`] looks, and so how fast a stop is seen.
const LOOK: Duration = Duration::from_millis(5);

/// How long a stop may take: the fade's 30 ms and a large buffer's worth of callbacks.
const LONGEST_STOP: Duration = Duration::from_millis(1_500);

/// How long a device may take no samples before the song counts as broken off. Above a second, which
/// a device may need to wake up or to change over to another.
const LONGEST_PAUSE: Duration = Duration::from_secs(5);

/// Milliseconds of sound that a callback makes. Nobody plays the band by hand, so a late callback
/// hurts more than a long way to the loudspeaker; a stop is still heard within a tenth of a second.
const PERIOD_MILLIS: u32 = 40;

/// Frames a second that are held to be a sound device's: what is asked for above or below is a fault.
const RATES: std::ops::RangeInclusive<u32> = 8_000..=384_000;

/// A device that sound can be played on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SoundDevice {
    /// What the system calls it.
    pub name: String,
    /// Its name for programs, of which no two are alike.
    pub id: String,
    /// True for the one that is used when none is named.
    pub default: bool,
    /// Frames a second that it plays by itself.
    pub sample_rate: u32,
    /// Its channels.
    pub channels: u16,
}

/// The devices that answer, the default one first.
pub fn sound_devices() -> Vec<SoundDevice> {
    let mut devices: Vec<SoundDevice> = found().into_iter().map(|(_, about)| about).collect();
    devices.sort_by_key(|device| !device.default);
    devices
}

/// All devices that can play, each with what is told of it.
fn found() -> Vec<(Device, SoundDevice)> {
    let host = cpal::default_host();
    let default = host.default_output_device().and_then(|device| device.id().ok());
    let Ok(devices) = host.output_devices() else { return Vec::new() };
    devices
        .filter_map(|device| {
            let id = device.id().ok()?;
            // ALSA's bin for samples answers like a device. Nobody hears it.
            let heard = id.id() != "null";
            let config = device.default_output_config().ok().filter(|_| heard)?;
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

fn name(device: &Device) -> String {
    match device.description() {
        Ok(about) => about.name().to_owned(),
        Err(_) => device.id().map_or_else(|_| "default".to_owned(), |id| id.id().to_owned()),
    }
}

/// Which of the devices a name means: its own name or its id exactly, or else a part of just one
/// device's name, in capitals or not.
fn choose(devices: &[SoundDevice], asked: &str) -> Result<usize, SoundError> {
    let exact = devices.iter().position(|device| device.name == asked || device.id == asked);
    if let Some(index) = exact {
        return Ok(index);
    }
    let wanted = asked.to_lowercase();
    let fits = |device: &SoundDevice| device.name.to_lowercase().contains(&wanted);
    let matches: Vec<usize> =
        devices.iter().enumerate().filter(|(_, device)| fits(device)).map(|(at, _)| at).collect();
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
pub struct SoundOutput {
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
    pub fn open(asked: Option<&str>) -> Result<Self, SoundError> {
        let Some(asked) = asked else { return Self::open_default() };
        let (devices, about): (Vec<Device>, Vec<SoundDevice>) = found().into_iter().unzip();
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

    /// What the system calls the device.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Frames a second that a renderer for this device must make.
    pub fn sample_rate(&self) -> u32 {
        self.config.sample_rate()
    }

    /// Begins to play.
    ///
    /// # Errors
    /// [`SoundError::Unsupported`] for a renderer of another rate or a device with samples of an
    /// unknown form, or why the device refuses.
    pub fn start(&self, renderer: Box<dyn Renderer>) -> Result<Playback, SoundError> {
        if renderer.sample_rate() != self.sample_rate() {
            let cause = format!("it plays {} frames a second", self.sample_rate());
            return Err(SoundError::Unsupported { name: self.name.clone(), cause });
        }
        let (rate, total) = (renderer.sample_rate(), renderer.total_frames());
        let source = SoundSource::new(renderer, self.config.channels());
        let shared = source.shared();
        let stream = self.stream(source, &shared)?;
        stream.play().map_err(|error| refusal(&self.name, &error))?;
        Ok(Playback { stream, shared, name: self.name.clone(), rate, total })
    }

    /// About [`PERIOD_MILLIS`] a callback, if the device says what it can.
    fn buffer_size(&self) -> BufferSize {
        match *self.config.buffer_size() {
            SupportedBufferSize::Range { min, max } if min <= max && max > 0 => {
                let wanted = self.sample_rate() / 1_000 * PERIOD_MILLIS;
                BufferSize::Fixed(wanted.clamp(min.max(1), max))
            }
            _ => BufferSize::Default,
        }
    }

    fn stream(&self, source: SoundSource, shared: &Arc<Shared>) -> Result<Stream, SoundError> {
        match self.config.sample_format() {
            SampleFormat::F32 => self.stream_of::<f32>(source, shared),
            SampleFormat::F64 => self.stream_of::<f64>(source, shared),
            SampleFormat::I8 => self.stream_of::<i8>(source, shared),
            SampleFormat::I16 => self.stream_of::<i16>(source, shared),
            SampleFormat::I24 => self.stream_of::<I24>(source, shared),
            SampleFormat::I32 => self.stream_of::<i32>(source, shared),
            SampleFormat::U8 => self.stream_of::<u8>(source, shared),
            SampleFormat::U16 => self.stream_of::<u16>(source, shared),
            SampleFormat::U24 => self.stream_of::<U24>(source, shared),
            SampleFormat::U32 => self.stream_of::<u32>(source, shared),
            other => Err(SoundError::Unsupported {
                name: self.name.clone(),
                cause: format!("it asks for samples of the form {other}"),
            }),
        }
    }

    fn stream_of<T: SizedSample + FromSample<f32>>(
        &self,
        mut source: SoundSource,
        shared: &Arc<Shared>,
    ) -> Result<Stream, SoundError> {
        let config = StreamConfig { buffer_size: self.buffer_size(), ..self.config.config() };
        let (shared, name) = (Arc::clone(shared), self.name.clone());
        self.device
            .build_output_stream(
                config,
                move |samples: &mut [T], about: &OutputCallbackInfo| {
                    let times = about.timestamp();
                    source.note_latency(times.playback.duration_since(times.callback));
                    source.fill(samples, T::from_sample, T::EQUILIBRIUM);
                },
                move |error| note(&shared, &name, &error),
                None,
            )
            .map_err(|error| refusal(&self.name, &error))
    }
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
fn note(told: &Shared, name: &str, error: &Error) {
    match error.kind() {
        ErrorKind::Xrun => _ = told.dropouts.fetch_add(1, Ordering::Relaxed),
        // The sound goes on.
        ErrorKind::DeviceChanged | ErrorKind::RealtimeDenied => {}
        ErrorKind::DeviceNotAvailable | ErrorKind::StreamInvalidated => {
            _ = told.failure.set(refusal(name, error));
        }
        // A sound server now and then fails to say how far it is and then plays on. Whether it does
        // is seen by the samples it takes.
        _ => _ = told.complaint.set(refusal(name, error)),
    }
}

/// A song on its way to the loudspeakers. Dropped, it breaks off at once: stop it first.
pub struct Playback {
    stream: Stream,
    shared: Arc<Shared>,
    name: String,
    rate: u32,
    total: u64,
}

impl Playback {
    /// The frame that is heard about now; it moves on by a callback's frames at a time, never back.
    pub fn heard_frames(&self) -> u64 {
        let heard = self.rendered().saturating_sub(self.shared.latency.load(Ordering::Relaxed));
        heard.max(self.shared.heard.fetch_max(heard, Ordering::Relaxed))
    }

    fn rendered(&self) -> u64 {
        self.shared.rendered.load(Ordering::Relaxed)
    }

    /// Frames a second.
    pub const fn sample_rate(&self) -> u32 {
        self.rate
    }

    /// Frames in all.
    pub const fn total_frames(&self) -> u64 {
        self.total
    }

    /// How often the device ran out of samples so far.
    pub fn dropouts(&self) -> u64 {
        self.shared.dropouts.load(Ordering::Relaxed)
    }

    /// True once all has been rendered, to the end or to silence after a stop.
    pub fn finished(&self) -> bool {
        self.shared.finished.load(Ordering::Acquire)
    }

    /// Why it broke off, if it did.
    pub fn failure(&self) -> Option<&SoundError> {
        self.shared.failure.get()
    }

    /// Asks for silence within the next callback and 30 ms. May be called from any thread.
    pub fn stop(&self) {
        self.shared.stop.store(true, Ordering::Relaxed);
    }

    /// Waits until the song has been heard to its end, or `stopped` gives true, which it is asked
    /// every 5 ms; then the strings are damped and given the time to fall silent.
    ///
    /// # Errors
    /// Why the device broke off.
    pub fn wait(self, mut stopped: impl FnMut(&Self) -> bool) -> Result<(), SoundError> {
        let mut deadline = None;
        let mut moved = (self.rendered(), Instant::now());
        while !self.finished() {
            if let Some(error) = self.failure() {
                return Err(error.clone());
            }
            if moved.0 != self.rendered() {
                moved = (self.rendered(), Instant::now());
            } else if moved.1.elapsed() > LONGEST_PAUSE {
                return Err(self.shared.complaint.get().cloned().unwrap_or_else(|| {
                    let cause = "it takes no more sound".to_owned();
                    SoundError::Failed { name: self.name.clone(), cause }
                }));
            }
            if deadline.is_some_and(|deadline| Instant::now() > deadline) {
                break;
            }
            if deadline.is_none() && stopped(&self) {
                self.stop();
                deadline = Some(Instant::now() + LONGEST_STOP);
            }
            sleep(LOOK);
        }
        // What is rendered is not yet heard: the latency is that of the last piece's beginning.
        let latency = self.shared.latency.load(Ordering::Relaxed);
        let seconds = latency as f64 / f64::from(self.rate.max(1));
        let heard = Duration::from_secs_f64(seconds.min(LONGEST_STOP.as_secs_f64()));
        sleep(heard + Duration::from_millis(u64::from(PERIOD_MILLIS)) + LOOK);
        _ = self.stream.pause();
        Ok(())
    }
}

#[cfg(test)]
#[path = "sound_tests.rs"]
mod tests;
