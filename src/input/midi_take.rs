//! Takes from Standard MIDI Files of format 0 or 1, in ticks of either kind.

use super::TakeError;
use super::signs::looks_like;
use crate::midi_file::{Event, Timing, read};
use crate::perform::CLICK_CHANNEL;
use crate::take::{Source, Take};
use crate::theory::MidiNote;
use crate::time::Nanos;

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
        return Err(TakeError::Neither { looks: looks_like(bytes) });
    }
    let file = read(bytes).map_err(|why| TakeError::DamagedMidi { why })?;
    if file.patterns {
        return Err(TakeError::Patterns);
    }
    // All tracks as one, by time; what a track says at one instant stays in order, and tempos, which the
    // first track has, come first.
    let (timing, end) = (file.timing, file.end);
    let mut events: Vec<(u64, Event<'_>)> = file.tracks.into_iter().flatten().collect();
    events.sort_by_key(|(at, event)| (*at, !matches!(event, Event::Tempo(_))));
    let mut clock = TakeClock::new(timing)?;
    let mut notes = Vec::new();
    for (at, event) in events {
        clock.go_to(at);
        match event {
            Event::Tempo(micros) => clock.set_tempo(micros),
            Event::Channel([status @ 0x90..=0x9F, key, velocity @ 1..=127], _)
                if status & 15 != CLICK_CHANNEL =>
            {
                notes.push((clock.now(), MidiNote::clamped(key.into()), velocity));
            }
            _ => {}
        }
    }
    clock.go_to(end);
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
            Timing::Quarter(ticks) => (u64::from(UNSAID_TEMPO) * 1_000, u64::from(ticks), true),
            Timing::Timecode { frames, ticks } => {
                // Drop-frame counts 30 frames in 1.001 seconds.
                let (second, count) = match frames {
                    29 => (1_001_000_000, 30),
                    count => (1_000_000_000, u64::from(count)),
                };
                (second, count * u64::from(ticks), false)
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
