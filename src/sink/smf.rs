//! Standard MIDI Files. Written ones have format 1: a conductor track, then one track a role. Read ones,
//! takes, may be of format 0 or 1 and in ticks of either kind.

mod recorded;

use std::io;

use midly::num::{u4, u7, u15, u24, u28};
use midly::{
    Format, Header, MetaMessage, MidiMessage, Smf, Timing, Track, TrackEvent, TrackEventKind,
};

use super::TakeError;
use crate::perform::{
    CLICK_CHANNEL, Message, Performance, TimedMessage, note_messages, part_messages,
};
use crate::take::{Source, Take};
use crate::theory::MidiNote;
use crate::time::{Meter, Nanos, Ticks};
pub use recorded::{read_recorded, recorded_to_bytes};

/// The longest delta time that a file can hold (Standard MIDI-File Format Spec. 1.1): 0FFFFFFF.
const LONGEST_DELTA: i64 = 0x0FFF_FFFF;

/// The bytes of a performance as a Standard MIDI File.
///
/// # Errors
/// Only if a track outgrows the 4 GiB that its header can state.
pub fn to_bytes(performance: &Performance) -> io::Result<Vec<u8>> {
    let timing = Timing::Metrical(u15::new(Ticks::PER_QUARTER));
    let mut smf = Smf::new(Header::new(Format::Parallel, timing));
    smf.tracks.push(conductor(performance));
    for part in &performance.parts {
        let channel = part.role.channel();
        let set_up = Message::set_up(channel, part.instrument);
        let notes = part_messages(part);
        // Two messages a note.
        let size = part.notes.len() * 2 + part.programs.len();
        let track = track(part.role.as_str(), &set_up, notes, size, performance.end);
        smf.tracks.push(track);
    }
    if !performance.clicks.is_empty() {
        let clicks = note_messages(CLICK_CHANNEL, &performance.clicks);
        let size = performance.clicks.len() * 2;
        smf.tracks.push(track("count-in", &[], clicks, size, performance.end));
    }
    // A note event takes four bytes on average, five at most where the next is far off.
    let events: usize = smf.tracks.iter().map(Vec::len).sum();
    let mut bytes = Vec::with_capacity(events * 5);
    smf.write_std(&mut bytes)?;
    Ok(bytes)
}

/// Title, tempo, meters, key, passes and chords.
fn conductor(performance: &Performance) -> Track<'_> {
    let mut metas: Vec<(Ticks, MetaMessage)> = vec![
        (Ticks::ZERO, MetaMessage::TrackName(performance.title.as_bytes())),
        (Ticks::ZERO, MetaMessage::Tempo(u24::new(performance.tempo.micros_per_quarter()))),
    ];
    let slower = performance.slowing.iter().map(|slowing| {
        let tempo = performance.tempo.stretched(slowing.permille);
        (slowing.at, MetaMessage::Tempo(u24::new(tempo.micros_per_quarter())))
    });
    metas.extend(slower);
    metas.extend(performance.meters.iter().map(|&(at, meter)| (at, time_signature(meter))));
    let (accidentals, minor) = performance.key.signature();
    metas.push((Ticks::ZERO, MetaMessage::KeySignature(accidentals, minor)));
    let markers = performance.markers.iter();
    metas.extend(markers.map(|(at, name)| (*at, MetaMessage::Marker(name.as_bytes()))));
    // No passes of the form, so no markers.
    metas.extend(performance.kickoff.map(|at| (at, MetaMessage::CuePoint(b"kickoff"))));
    metas.extend(performance.ending.map(|at| (at, MetaMessage::CuePoint(b"ending"))));
    let chords = performance.chords.iter();
    metas.extend(chords.map(|(at, name)| (*at, MetaMessage::Text(name.as_bytes()))));
    metas.sort_by_key(|(at, _)| *at);
    let mut line = Line::new(metas.len());
    for (at, meta) in metas {
        line.push(at, TrackEventKind::Meta(meta));
    }
    line.finish(performance.end)
}

fn time_signature(meter: Meter) -> MetaMessage<'static> {
    // MIDI clocks a click: 24 a quarter, and the click is the beat (6/8 clicks dotted quarters: 24 hex).
    let clocks = meter.beat().get() * 24 / Ticks::QUARTER.get();
    let power = meter.denominator().trailing_zeros() as u8;
    MetaMessage::TimeSignature(meter.numerator(), power, clocks as u8, 8)
}

/// A track of `size` messages after the set-up.
fn track<'a>(
    name: &'a str,
    set_up: &[Message],
    messages: impl Iterator<Item = TimedMessage>,
    size: usize,
    end: Ticks,
) -> Track<'a> {
    let mut line = Line::new(size + set_up.len() + 2);
    line.push(Ticks::ZERO, TrackEventKind::Meta(MetaMessage::TrackName(name.as_bytes())));
    for &message in set_up {
        line.extend(Ticks::ZERO, event(message));
    }
    for TimedMessage { at, message } in messages {
        line.extend(at, event(message));
    }
    line.finish(end)
}

/// A message as a file holds it; `None` for what only keeps running machines together.
fn event(message: Message) -> Option<TrackEventKind<'static>> {
    let (channel, message) = match message {
        Message::NoteOff { channel, pitch } => {
            // 64 is the release velocity of an instrument that does not sense it (MIDI 1.0).
            (channel, MidiMessage::NoteOff { key: u7::new(pitch.get()), vel: u7::new(64) })
        }
        Message::NoteOn { channel, pitch, velocity } => {
            let (key, vel) = (u7::new(pitch.get()), u7::new(velocity));
            (channel, MidiMessage::NoteOn { key, vel })
        }
        Message::Program { channel, program } => {
            (channel, MidiMessage::ProgramChange { program: u7::new(program) })
        }
        Message::Control { channel, controller, value } => {
            let (controller, value) = (u7::new(controller), u7::new(value));
            (channel, MidiMessage::Controller { controller, value })
        }
        Message::Sync(_) => return None,
    };
    Some(TrackEventKind::Midi { channel: u4::new(channel), message })
}

/// A track being written: turns times into the spans between events.
struct Line<'a> {
    track: Track<'a>,
    last: Ticks,
}

impl<'a> Line<'a> {
    fn new(capacity: usize) -> Self {
        Self { track: Vec::with_capacity(capacity + 1), last: Ticks::ZERO }
    }

    fn extend(&mut self, at: Ticks, kind: Option<TrackEventKind<'a>>) {
        if let Some(kind) = kind {
            self.push(at, kind);
        }
    }

    fn push(&mut self, at: Ticks, kind: TrackEventKind<'a>) {
        let mut delta = (at - self.last).get().max(0);
        // A rest too long for one delta is bridged by empty texts.
        while delta > LONGEST_DELTA {
            let bridge = TrackEventKind::Meta(MetaMessage::Text(b""));
            self.track.push(TrackEvent { delta: u28::new(LONGEST_DELTA as u32), kind: bridge });
            delta -= LONGEST_DELTA;
        }
        self.track.push(TrackEvent { delta: u28::new(delta as u32), kind });
        self.last = self.last.max(at);
    }

    fn finish(mut self, end: Ticks) -> Track<'a> {
        self.push(end, TrackEventKind::Meta(MetaMessage::EndOfTrack));
        self.track
    }
}

/// Microseconds a quarter where a file states none: 120 quarters a minute (Standard MIDI-File Format Spec.
/// 1.1).
const UNSAID_TEMPO: u32 = 500_000;

/// A take from a Standard MIDI File: the notes of all tracks and channels but the percussion's (10), which keeps
/// time and plays no banjo.
///
/// # Errors
/// [`TakeError`] where it is no such file, or holds no notes.
pub fn read_take_midi(bytes: &[u8]) -> Result<Take, TakeError> {
    if !bytes.starts_with(b"MThd") {
        return Err(TakeError::Neither { looks: super::read_wav::looks_like(bytes) });
    }
    let smf =
        Smf::parse(bytes).map_err(|error| TakeError::DamagedMidi { why: error.to_string() })?;
    if smf.header.format == Format::Sequential {
        return Err(TakeError::Patterns);
    }
    // All tracks as one, by time; what a track says at one instant stays in order, and tempos, which the
    // first track has, come first.
    let mut events: Vec<(u64, TrackEventKind)> = Vec::new();
    for track in &smf.tracks {
        let mut at = 0_u64;
        for event in track {
            at += u64::from(event.delta.as_int());
            events.push((at, event.kind));
        }
    }
    events.sort_by_key(|(at, kind)| {
        (*at, !matches!(kind, TrackEventKind::Meta(MetaMessage::Tempo(_))))
    });
    let mut clock = TakeClock::new(smf.header.timing)?;
    let mut notes = Vec::new();
    for (at, kind) in events {
        clock.go_to(at);
        match kind {
            TrackEventKind::Meta(MetaMessage::Tempo(tempo)) => clock.set_tempo(tempo.as_int()),
            TrackEventKind::Midi { channel, message: MidiMessage::NoteOn { key, vel } }
                if vel > 0 && channel.as_int() != CLICK_CHANNEL =>
            {
                notes.push((clock.now(), MidiNote::clamped(key.as_int().into()), vel.as_int()));
            }
            _ => {}
        }
    }
    if notes.is_empty() {
        return Err(TakeError::NoNotes);
    }
    Ok(Take::from_notes(notes, clock.now(), Source::Midi))
}

/// Turns the ticks of a file that is read into time.
struct TakeClock {
    /// Ticks gone by.
    ticks: u64,
    /// Time gone by, in nanoseconds times `per`.
    time: u128,
    /// What a tick lasts, in nanoseconds times `per`.
    tick: u64,
    /// Ticks a quarter, or a multiple of those a second.
    per: u64,
    /// True where ticks follow the tempo.
    metrical: bool,
}

impl TakeClock {
    fn new(timing: Timing) -> Result<Self, TakeError> {
        let (tick, per, metrical) = match timing {
            Timing::Metrical(ticks) => {
                (u64::from(UNSAID_TEMPO) * 1_000, u64::from(ticks.as_int()), true)
            }
            Timing::Timecode(frames, parts) => {
                // Drop-frame counts 30 frames in 1.001 seconds.
                let (second, count) = match frames.as_int() {
                    29 => (1_001_000_000, 30),
                    count => (1_000_000_000, u64::from(count)),
                };
                (second, count * u64::from(parts), false)
            }
        };
        if per == 0 {
            return Err(TakeError::DamagedMidi { why: "its ticks have no length".to_owned() });
        }
        Ok(Self { ticks: 0, time: 0, tick, per, metrical })
    }

    /// On to a time in ticks; never back.
    fn go_to(&mut self, ticks: u64) {
        let gone = ticks.saturating_sub(self.ticks);
        self.time = self.time.saturating_add(u128::from(gone) * u128::from(self.tick));
        self.ticks = self.ticks.max(ticks);
    }

    /// From now on, that many microseconds a quarter.
    fn set_tempo(&mut self, micros: u32) {
        if self.metrical {
            self.tick = u64::from(micros) * 1_000;
        }
    }

    fn now(&self) -> Nanos {
        Nanos(i64::try_from(self.time / u128::from(self.per)).unwrap_or(i64::MAX))
    }
}
