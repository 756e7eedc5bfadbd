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

use super::live_source::{LiveShared, LiveSource};
use super::sound_error::SoundError;
use super::sound_port::{SoundPort, since};
use super::sound_source::{Shared, SoundSource};
use super::volume::Volume;
use crate::synth::{LiveRenderer, Renderer};
use crate::time::Nanos;

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

/// The same while it is played live: a player waits for what a key does, and a sound that is two such
/// periods away still seems to obey at once.
const LIVE_PERIOD_MILLIS: u32 = 20;

/// How many callbacks are waited for before a port counts as open, and for how long.
const WARM_UP: u64 = 12;
const LONGEST_WARM_UP: Duration = Duration::from_millis(700);

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
        self.fits(renderer.sample_rate())?;
        let (rate, total) = (renderer.sample_rate(), renderer.total_frames());
        let source = SoundSource::new(renderer, self.config.channels());
        let shared = source.shared();
        let stream = self.stream(source)?;
        stream.play().map_err(|error| refusal(&self.name, &error))?;
        Ok(Playback { stream, shared, name: self.name.clone(), rate, total })
    }

    /// Begins to play what is sent to the port; `epoch` is when our clock began. Waits a moment, until
    /// the device's delay is known.
    ///
    /// # Errors
    /// [`SoundError::Unsupported`] for a renderer of another rate or a device with samples of an
    /// unknown form, or why the device refuses.
    pub fn start_live(
        &self,
        renderer: Box<dyn LiveRenderer>,
        volume: &Volume,
        epoch: Instant,
    ) -> Result<SoundPort, SoundError> {
        self.fits(renderer.sample_rate())?;
        let period = self.sample_rate() / 1_000 * LIVE_PERIOD_MILLIS;
        let form = (self.config.channels(), period);
        let (mut port, source) = SoundPort::new(renderer, &self.name, form, volume, epoch);
        let live = Live { source, shared: port.shared(), epoch };
        let millis = Duration::from_millis(u64::from(LIVE_PERIOD_MILLIS));
        let stream = self.stream_of_periods(millis, live)?;
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
    fn buffer_size(&self, period: Duration) -> BufferSize {
        match *self.config.buffer_size() {
            SupportedBufferSize::Range { min, max } if min <= max && max > 0 => {
                let millis = u32::try_from(period.as_millis()).unwrap_or(PERIOD_MILLIS);
                let wanted = self.sample_rate() / 1_000 * millis;
                BufferSize::Fixed(wanted.clamp(min.max(1), max))
            }
            _ => BufferSize::Default,
        }
    }

    fn stream(&self, to: impl Callback) -> Result<Stream, SoundError> {
        let period = Duration::from_millis(u64::from(PERIOD_MILLIS));
        self.stream_of_periods(period, to)
    }

    fn stream_of_periods(&self, period: Duration, to: impl Callback) -> Result<Stream, SoundError> {
        match self.config.sample_format() {
            SampleFormat::F32 => self.stream_of::<f32>(period, to),
            SampleFormat::F64 => self.stream_of::<f64>(period, to),
            SampleFormat::I8 => self.stream_of::<i8>(period, to),
            SampleFormat::I16 => self.stream_of::<i16>(period, to),
            SampleFormat::I24 => self.stream_of::<I24>(period, to),
            SampleFormat::I32 => self.stream_of::<i32>(period, to),
            SampleFormat::U8 => self.stream_of::<u8>(period, to),
            SampleFormat::U16 => self.stream_of::<u16>(period, to),
            SampleFormat::U24 => self.stream_of::<U24>(period, to),
            SampleFormat::U32 => self.stream_of::<u32>(period, to),
            other => Err(SoundError::Unsupported {
                name: self.name.clone(),
                cause: format!("it asks for samples of the form {other}"),
            }),
        }
    }

    fn stream_of<T: SizedSample + FromSample<f32>>(
        &self,
        period: Duration,
        mut to: impl Callback,
    ) -> Result<Stream, SoundError> {
        let config = StreamConfig { buffer_size: self.buffer_size(period), ..self.config.config() };
        let (mut told, name) = (to.errors(), self.name.clone());
        self.device
            .build_output_stream(
                config,
                move |samples: &mut [T], about: &OutputCallbackInfo| {
                    let times = about.timestamp();
                    to.fill(samples, times.playback.duration_since(times.callback));
                },
                move |error| told(&error, &name),
                None,
            )
            .map_err(|error| refusal(&self.name, &error))
    }
}

/// What hears of a device's errors, each with the device's name.
type Told = Box<dyn FnMut(&Error, &str) + Send>;

/// What fills a device's samples.
trait Callback: Send + 'static {
    /// Fills them; the first will be heard after `latency`.
    fn fill<T: SizedSample + FromSample<f32>>(&mut self, samples: &mut [T], latency: Duration);

    /// What hears of the device's errors.
    fn errors(&self) -> Told;
}

impl Callback for SoundSource {
    fn fill<T: SizedSample + FromSample<f32>>(&mut self, samples: &mut [T], latency: Duration) {
        self.note_latency(latency);
        self.fill(samples, T::from_sample, T::EQUILIBRIUM);
    }

    fn errors(&self) -> Told {
        let shared = self.shared();
        Box::new(move |error, name| note(&shared, name, error))
    }
}

/// A live source, and our clock.
struct Live {
    source: LiveSource,
    shared: Arc<LiveShared>,
    epoch: Instant,
}

impl Callback for Live {
    fn fill<T: SizedSample + FromSample<f32>>(&mut self, samples: &mut [T], latency: Duration) {
        let now = since(self.epoch);
        // More than ten seconds would be a clock gone wrong.
        let latency = latency.min(Duration::from_secs(10));
        let heard = Nanos(now.0 + i64::try_from(latency.as_nanos()).unwrap_or(0));
        self.source.fill(samples, (now, heard), T::from_sample, T::EQUILIBRIUM);
    }

    fn errors(&self) -> Told {
        let shared = Arc::clone(&self.shared);
        Box::new(move |error, name| note_live(&shared, name, error))
    }
}

/// Opens the built-in sound for playing live: on the system's default device, or the one that `asked`
/// names as for [`SoundOutput::open`]. `make` makes the renderer, once the device's frames a second
/// are known. Times are on the clock that began at `epoch`. Gives the port and the device's name.
///
/// Call it again, on a thread that may wait, when the port [`is lost`](super::MidiOut::is_lost).
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
    let port = output.start_live(make(output.sample_rate())?, volume, epoch)?;
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

/// The same while it is played live.
fn note_live(told: &LiveShared, name: &str, error: &Error) {
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
