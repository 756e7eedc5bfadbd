//! A microphone, or another input of sound, through the system's sound devices.

use std::sync::Arc;
use std::time::{Duration, Instant};

use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{
    Device, Error, ErrorKind, FromSample, I24, InputCallbackInfo, SampleFormat, SizedSample,
    Stream, SupportedStreamConfig, U24,
};

use super::captured::{CaptureEnd, Captured, capture};
use super::microphone_error::MicrophoneError;
use super::sound::{RATES, SoundDevice, Way, chosen, default_first, found, name};
use super::sound_port::since;
use crate::time::Nanos;

/// More than ten seconds would be a clock gone wrong.
const LONGEST_DELAY: Duration = Duration::from_secs(10);

/// A microphone that is heard. Dropped, it is heard no more.
pub struct Microphone {
    /// What the system calls it.
    pub name: String,
    /// Frames a second.
    pub rate: u32,
    /// What is heard.
    pub captured: Captured,
    /// The device's stream; it runs as long as this is kept.
    _stream: Stream,
}

/// The microphones that answer, the default one first.
pub fn microphones() -> Vec<SoundDevice> {
    default_first(found(Way::In))
}

impl Microphone {
    /// Hears the system's default microphone, or the one that `asked` names in full, by its id, or by a part of its
    /// name that fits no other. Times are on the clock that began at `epoch`.
    ///
    /// # Errors
    /// There is no such microphone, or it refuses.
    pub fn open(asked: Option<&str>, epoch: Instant) -> Result<Self, MicrophoneError> {
        let none = |cause: String| MicrophoneError::None { cause };
        let device = match asked {
            None => {
                cpal::default_host().default_input_device().ok_or_else(|| none(String::new()))?
            }
            Some(asked) => named(asked)?,
        };
        let name = name(&device);
        let config = device.default_input_config().map_err(|error| match error.kind() {
            ErrorKind::DeviceNotAvailable => none(String::new()),
            ErrorKind::HostUnavailable | ErrorKind::BackendError => none(error.to_string()),
            _ => refusal(&name, &error),
        })?;
        let (channels, rate) = (config.channels(), config.sample_rate());
        if channels == 0 || !RATES.contains(&rate) {
            let cause = format!("{channels} channels, {rate} frames a second");
            return Err(MicrophoneError::Failed { name, cause });
        }
        let (end, captured) = capture(channels, rate);
        let stream = stream(&device, &name, &config, end, epoch)?;
        stream.play().map_err(|error| refusal(&name, &error))?;
        Ok(Self { name, rate, captured, _stream: stream })
    }
}

/// The one of that name.
fn named(asked: &str) -> Result<Device, MicrophoneError> {
    let (devices, about): (Vec<Device>, Vec<SoundDevice>) = found(Way::In).into_iter().unzip();
    let names = |of: &[usize]| {
        of.iter().filter_map(|at| about.get(*at)).map(|it| it.name.clone()).collect()
    };
    let name = asked.to_owned();
    match chosen(&about, asked).as_slice() {
        [at] => devices.into_iter().nth(*at).ok_or(MicrophoneError::None { cause: String::new() }),
        [] => {
            let all: Vec<usize> = (0..about.len()).collect();
            Err(MicrophoneError::NoSuch { name, there: names(&all) })
        }
        several => Err(MicrophoneError::Several { name, matches: names(several) }),
    }
}

fn stream(
    device: &Device,
    name: &str,
    config: &SupportedStreamConfig,
    to: CaptureEnd,
    epoch: Instant,
) -> Result<Stream, MicrophoneError> {
    let from = (device, name, config);
    match config.sample_format() {
        SampleFormat::F32 => stream_of::<f32>(from, to, epoch),
        SampleFormat::F64 => stream_of::<f64>(from, to, epoch),
        SampleFormat::I8 => stream_of::<i8>(from, to, epoch),
        SampleFormat::I16 => stream_of::<i16>(from, to, epoch),
        SampleFormat::I24 => stream_of::<I24>(from, to, epoch),
        SampleFormat::I32 => stream_of::<i32>(from, to, epoch),
        SampleFormat::U8 => stream_of::<u8>(from, to, epoch),
        SampleFormat::U16 => stream_of::<u16>(from, to, epoch),
        SampleFormat::U24 => stream_of::<U24>(from, to, epoch),
        SampleFormat::U32 => stream_of::<u32>(from, to, epoch),
        other => Err(MicrophoneError::Failed {
            name: name.to_owned(),
            cause: format!("it gives samples of the form {other}"),
        }),
    }
}

fn stream_of<T>(
    (device, name, config): (&Device, &str, &SupportedStreamConfig),
    mut to: CaptureEnd,
    epoch: Instant,
) -> Result<Stream, MicrophoneError>
where
    T: SizedSample,
    f32: FromSample<T>,
{
    let (shared, named) = (Arc::clone(&to.shared), name.to_owned());
    device
        .build_input_stream(
            config.config(),
            move |samples: &[T], about: &InputCallbackInfo| {
                let times = about.timestamp();
                let ago = times.callback.duration_since(times.capture).min(LONGEST_DELAY);
                let ago = i64::try_from(ago.as_nanos()).unwrap_or(0);
                to.take(samples, Nanos(since(epoch).0 - ago), <f32 as FromSample<T>>::from_sample_);
            },
            move |error| {
                if matches!(
                    error.kind(),
                    ErrorKind::DeviceNotAvailable | ErrorKind::StreamInvalidated
                ) {
                    let _ = shared.failure.set(refusal(&named, &error));
                }
            },
            None,
        )
        .map_err(|error| refusal(name, &error))
}

fn refusal(name: &str, error: &Error) -> MicrophoneError {
    let name = name.to_owned();
    match error.kind() {
        ErrorKind::DeviceBusy => MicrophoneError::Busy { name },
        ErrorKind::PermissionDenied => MicrophoneError::Denied { name },
        _ => {
            let cause = error.to_string().trim_end_matches('.').to_owned();
            MicrophoneError::Failed { name, cause }
        }
    }
}
