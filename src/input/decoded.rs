//! Sound files that a library decodes: all but WAV.
//!
//! Files come from strangers, and decoders are long: whatever they make of a file, no more is read of it than a few
//! times its length, no more is decoded than a take may last, and nothing that breaks off in them goes further.

use std::io::{self, Read, Seek, SeekFrom};

use symphonia::core::codecs::audio::well_known::{CODEC_ID_AAC, CODEC_ID_OPUS, CODEC_ID_SPEEX};
use symphonia::core::codecs::audio::{AudioCodecParameters, AudioDecoder, AudioDecoderOptions};
use symphonia::core::errors::Error;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, FormatReader, Track, TrackType};
use symphonia::core::io::{MediaSource, MediaSourceStream, MediaSourceStreamOptions};
use symphonia::core::meta::MetadataOptions;
use symphonia::core::packet::Packet;
use symphonia::default::{get_codecs, get_probe};

use super::TakeError;
use super::aiff;
use super::mp4::{Movie, MovieTrack};
use super::quiet::quietly;
use super::signs::SoundKind;
use super::source::{SoundSource, fits};
use super::wav::unreadable;
use crate::hear::Mixer;

/// How many times its length may be read of a file: decoders go back and forth, but not for ever.
const READ_TIMES: u64 = 16;

/// Packets that a file may have beyond one for each of its bytes, and bytes that may be read beyond [`READ_TIMES`]
/// its length: so that the shortest files are read at all.
const BEYOND: u64 = 1 << 20;

/// All sound of a file's first sound track, and how many such tracks it has.
pub(super) fn decode(
    source: &mut impl SoundSource,
    kind: SoundKind,
    length: u64,
    alone: Option<usize>,
) -> Result<(Mixer, usize), TakeError> {
    let movie = match kind {
        SoundKind::Mp4 => Movie::read(source, length).map_err(unreadable)?,
        _ => None,
    };
    if kind == SoundKind::Mp4 && movie.is_none() {
        return Err(TakeError::Unfinished { kind: kind.name() });
    }
    if kind == SoundKind::Aiff && !aiff::is_sane(source).map_err(unreadable)? {
        return Err(TakeError::Damaged {
            kind: kind.name(),
            why: "it can't have that many channels",
        });
    }
    let whole = decode_once(source, kind, length, movie.as_ref(), alone, true)?;
    if let Ok((Some(mixer), tracks)) = whole {
        return Ok((mixer, tracks));
    }
    // Of a file that was cut off, readers that look for what follows the sound find nothing at all; so they are given it
    // as it would come over a wire.
    let as_it_comes = decode_once(source, kind, length, movie.as_ref(), alone, false)?;
    match (as_it_comes, whole) {
        (Ok((Some(mixer), tracks)), _) => Ok((mixer, tracks)),
        (_, Ok(_)) => Err(TakeError::Empty),
        (_, Err(error)) => Err(error),
    }
}

/// What was decoded of a file: nothing yet mixed where there is no sound.
type Decoded = (Option<Mixer>, usize);

/// The same, going back and forth in the file or not. The outer error is the source's own.
fn decode_once(
    source: &mut impl SoundSource,
    kind: SoundKind,
    length: u64,
    movie: Option<&Movie>,
    alone: Option<usize>,
    seekable: bool,
) -> Result<Result<Decoded, TakeError>, TakeError> {
    source.rewind().map_err(unreadable)?;
    // A damaged file must never end the program, whatever the decoder makes of it. What it was working on is dropped.
    let decoded = quietly(|| {
        let guarded = Guarded { source, length, left: READ_TIMES * length + BEYOND, seekable };
        let options = MediaSourceStreamOptions::default();
        let stream = MediaSourceStream::new(Box::new(guarded), options);
        let (format, meta) = (FormatOptions::default(), MetadataOptions::default());
        let reader = get_probe()
            .probe(&Hint::new(), stream, format, meta)
            .map_err(|error| no_reader(kind, &error))?;
        let mut decoding = Decoding::new(kind, reader, movie, alone)?;
        decoding.run(length)?;
        Ok((decoding.mixer, decoding.tracks))
    });
    let panicked = TakeError::Damaged { kind: kind.name(), why: "its sound can't be decoded" };
    Ok(decoded.unwrap_or(Err(panicked)))
}

/// Why nothing could be read of a file that begins as one of its kind.
fn no_reader(kind: SoundKind, error: &Error) -> TakeError {
    let why = match error {
        Error::IoError(error) if error.kind() == io::ErrorKind::UnexpectedEof => {
            "it ends within its header"
        }
        _ => "its header makes no sense",
    };
    TakeError::Damaged { kind: kind.name(), why }
}

/// A file that is decoded.
struct Decoding<'a> {
    kind: SoundKind,
    reader: Box<dyn FormatReader + 'a>,
    decoder: Box<dyn AudioDecoder>,
    /// The track that is heard, and how many there are.
    track: u32,
    tracks: usize,
    /// How the file says that the track is laid into time, where its reader does not heed it.
    laid: Option<(&'a Movie, &'a MovieTrack)>,
    alone: Option<usize>,
    /// From the first packet on that was decoded.
    mixer: Option<Mixer>,
    /// Channels and rate of what is mixed.
    channels: usize,
    rate: u32,
    /// Frames that are yet to be left off from the beginning.
    skip: u64,
    /// Frames that are heard at most.
    most: u64,
    samples: Vec<f32>,
}

impl<'a> Decoding<'a> {
    fn new(
        kind: SoundKind,
        reader: Box<dyn FormatReader + 'a>,
        movie: Option<&'a Movie>,
        alone: Option<usize>,
    ) -> Result<Self, TakeError> {
        let sounds =
            || reader.tracks().iter().filter(|it| it.track_type() == Some(TrackType::Audio));
        let Some(track) = reader.first_track_known_codec(TrackType::Audio) else {
            return Err(movie.map_or(TakeError::NoSoundTrack { kind: kind.name() }, |movie| {
                movie.why_unheard(kind)
            }));
        };
        let laid = movie.and_then(|movie| Some((movie, movie.track(track.id)?)));
        let (decoder, id) = (decoder(kind, track)?, track.id);
        let tracks = sounds().count();
        Ok(Self {
            kind,
            reader,
            decoder,
            track: id,
            tracks,
            laid,
            alone,
            mixer: None,
            channels: 0,
            rate: 0,
            skip: 0,
            most: u64::MAX,
            samples: Vec::new(),
        })
    }

    /// Decodes all that is there of a file of so many bytes.
    fn run(&mut self, length: u64) -> Result<(), TakeError> {
        let mut packets = length + BEYOND;
        let mut bytes = READ_TIMES * length + BEYOND;
        while packets > 0 && bytes > 0 {
            packets -= 1;
            let packet = match self.reader.next_packet() {
                Ok(Some(packet)) => packet,
                // Another recording was appended to the first.
                Err(Error::ResetRequired) => {
                    let next = self.reader.first_track_known_codec(TrackType::Audio);
                    let Some(next) = next else { break };
                    let Ok(decoder) = decoder(self.kind, next) else { break };
                    (self.decoder, self.track) = (decoder, next.id);
                    continue;
                }
                // Cut off: what is there is good.
                Ok(None) | Err(_) => break,
            };
            bytes = bytes.saturating_sub(packet.data.len() as u64);
            if packet.track_id == self.track && !self.take(&packet)? {
                break;
            }
        }
        Ok(())
    }

    /// Takes a packet. False once there is no more to be heard.
    fn take(&mut self, packet: &Packet) -> Result<bool, TakeError> {
        let mut samples = std::mem::take(&mut self.samples);
        let goes_on = match self.decoder.decode(packet) {
            Ok(buffer) => {
                let (channels, rate) = (buffer.spec().channels().count(), buffer.spec().rate());
                if channels == 0 || buffer.frames() == 0 {
                    Ok(true)
                } else {
                    buffer.copy_to_vec_interleaved(&mut samples);
                    let from = as_frames(packet.trim_start.get()) * channels;
                    let to =
                        samples.len().saturating_sub(as_frames(packet.trim_end.get()) * channels);
                    self.begin(channels, rate)?;
                    self.give(samples.get(from..to).unwrap_or_default(), channels, rate)
                }
            }
            // Silence as long as what was lost, so that what follows keeps its time.
            Err(Error::DecodeError(_)) => {
                let frames = packet.dur.get().min(u64::from(self.rate));
                samples.clear();
                samples.resize(as_frames(frames) * self.channels, 0.0);
                self.give(&samples, self.channels, self.rate)
            }
            Err(_) => Ok(false),
        };
        self.samples = samples;
        goes_on
    }

    /// Makes the mixer ready, once it is known for what.
    fn begin(&mut self, channels: usize, rate: u32) -> Result<(), TakeError> {
        if self.mixer.is_some() {
            return Ok(());
        }
        fits(rate, 0)?;
        (self.channels, self.rate) = (channels, rate);
        let mut mixer = Mixer::new(channels, rate, self.alone);
        if let Some((movie, track)) = self.laid {
            let silence = movie.frames(track.silence, rate);
            fits(rate, silence)?;
            self.skip = track.frames(track.skip, rate);
            self.most = track
                .lasts
                .map_or(u64::MAX, |lasts| movie.frames(lasts, rate).saturating_add(silence));
            let second = vec![0.0; rate as usize * channels];
            let mut left = silence;
            while left > 0 {
                let now = left.min(u64::from(rate));
                mixer.push(second.get(..as_frames(now) * channels).unwrap_or_default());
                left -= now;
            }
        }
        self.mixer = Some(mixer);
        Ok(())
    }

    /// Mixes frames. False once there is no more to be heard.
    fn give(&mut self, frames: &[f32], channels: usize, rate: u32) -> Result<bool, TakeError> {
        let Some(mixer) = &mut self.mixer else { return Ok(true) };
        // A file may begin anew with sound of another kind; what is heard is one.
        if rate != self.rate {
            return Ok(false);
        }
        let count = (frames.len() / channels.max(1)) as u64;
        let skipped = self.skip.min(count);
        self.skip -= skipped;
        let left = self.most.saturating_sub(mixer.frames());
        let kept = (count - skipped).min(left);
        let from = as_frames(skipped) * channels;
        let frames = frames.get(from..from + as_frames(kept) * channels).unwrap_or_default();
        if channels == self.channels {
            mixer.push(frames);
        } else {
            let mean = |frame: &[f32]| frame.iter().sum::<f32>() / channels as f32;
            let means = frames.chunks_exact(channels.max(1)).map(mean);
            let spread: Vec<f32> =
                means.flat_map(|mean| std::iter::repeat_n(mean, self.channels)).collect();
            mixer.push(&spread);
        }
        fits(rate, mixer.frames())?;
        Ok(kept < left)
    }
}

/// A count of frames as a length in memory. What is longer is longer than any packet.
fn as_frames(count: u64) -> usize {
    usize::try_from(count).unwrap_or(usize::MAX).min(1 << 30)
}

/// What decodes a track.
fn decoder(kind: SoundKind, track: &Track) -> Result<Box<dyn AudioDecoder>, TakeError> {
    let nothing = || TakeError::NoSoundTrack { kind: kind.name() };
    let params =
        track.codec_params.as_ref().and_then(|params| params.audio()).ok_or_else(nothing)?;
    // What is to be trimmed is taken off here, by one rule for all decoders: some would not do it.
    let options = AudioDecoderOptions::default().gapless(false);
    get_codecs()
        .make_audio_decoder(params, &options)
        .map_err(|error| no_decoder(kind, params, &error))
}

fn no_decoder(kind: SoundKind, params: &AudioCodecParameters, error: &Error) -> TakeError {
    let kind = kind.name();
    let what = match params.codec {
        CODEC_ID_OPUS => "Opus sound",
        CODEC_ID_SPEEX => "Speex sound",
        CODEC_ID_AAC => "AAC sound of another profile than the plain one (AAC-LC)",
        _ if matches!(error, Error::Unsupported(_)) => "sound that is coded in an unusual way",
        _ => return TakeError::Damaged { kind, why: "how its sound is coded makes no sense" },
    };
    TakeError::Coded { kind, what }
}

/// A source of which no more is read than is reasonable.
struct Guarded<'a, S> {
    source: &'a mut S,
    length: u64,
    /// Bytes that may yet be read.
    left: u64,
    /// Whether it may be gone about in.
    seekable: bool,
}

impl<S: SoundSource> Read for Guarded<'_, S> {
    fn read(&mut self, bytes: &mut [u8]) -> io::Result<usize> {
        if self.left == 0 {
            return Err(io::Error::other("read too often"));
        }
        let read = self.source.read(bytes)?;
        self.left = self.left.saturating_sub(read.max(1) as u64);
        Ok(read)
    }
}

impl<S: SoundSource> Seek for Guarded<'_, S> {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.source.seek(to)
    }
}

impl<S: SoundSource> MediaSource for Guarded<'_, S> {
    fn is_seekable(&self) -> bool {
        self.seekable
    }

    fn byte_len(&self) -> Option<u64> {
        self.seekable.then_some(self.length)
    }
}
