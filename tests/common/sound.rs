//! Performances made note by note, and what can be measured of their sound.
#![allow(dead_code, clippy::unwrap_used)]

use openchair::chart::Role;
use openchair::perform::{Instrument, Note, Part, Performance, Swing};
use openchair::style::RoleStyle;
use openchair::synth::{Renderer, Room, Synth};
use openchair::theory::{Key, Letter, MidiNote, Mode, PitchName};
use openchair::time::{Meter, Tempo, Ticks};

pub const RATE: u32 = 48_000;

/// At this tempo a tick is a millisecond.
pub fn millisecond_ticks() -> Tempo {
    let tempo = Tempo::new(62.5, Meter::FourFour, 100.0);
    assert_eq!(tempo.micros_per_quarter(), 960_000);
    tempo
}

/// A note by its start and length in milliseconds.
pub fn note(start: i64, length: i64, pitch: u8, velocity: u8) -> Note {
    let (start, end) = (Ticks::new(start), Ticks::new(start + length));
    Note { start, end, pitch: MidiNote::new(pitch).unwrap(), velocity, slurred: None, bar: 0 }
}

/// A performance of some parts and a count-in.
pub fn performance(parts: Vec<(Role, Vec<Note>)>, clicks: Vec<Note>) -> Performance {
    let ends = parts.iter().flat_map(|(_, notes)| notes).chain(&clicks).map(|note| note.end);
    let end = ends.max().unwrap_or(Ticks::ZERO);
    let instrument = |role| match role {
        Role::Bass => Instrument { program: 32, volume: 100, pan: 64 },
        Role::Chop => Instrument { program: 25, volume: 100, pan: 84 },
        Role::Guitar => Instrument { program: 25, volume: 100, pan: 44 },
        Role::Banjo => Instrument { program: 105, volume: 100, pan: 30 },
        Role::Fiddle | Role::Lead => Instrument { program: 110, volume: 100, pan: 98 },
        _ => Instrument { volume: 100, ..RoleStyle::plain(role).instrument },
    };
    let part =
        |(role, notes)| Part { role, instrument: instrument(role), programs: Vec::new(), notes };
    Performance {
        title: "Notes".to_owned(),
        key: Key { tonic: PitchName::new(Letter::G, 0), mode: Mode::Major },
        tempo: millisecond_ticks(),
        meters: vec![(Ticks::ZERO, Meter::FourFour.into())],
        markers: Vec::new(),
        chords: Vec::new(),
        touch: Default::default(),
        parts: parts.into_iter().map(part).collect(),
        clicks,
        swing: Swing::EVEN,
        slowing: Vec::new(),
        cues: Vec::new(),
        song_start: Ticks::ZERO,
        end,
    }
}

/// One role alone.
pub fn solo(role: Role, notes: Vec<Note>) -> Performance {
    performance(vec![(role, notes)], Vec::new())
}

/// Bars of bass, guitar and chop as a band plays them at 108 beats a minute, after a count-in.
pub fn band(bars: i64) -> Performance {
    const BEAT: i64 = 555;
    let chords: [(&[u8], &[u8], &[u8]); 3] = [
        (&[43, 38], &[43, 47, 50, 55, 59, 67], &[62, 67, 71, 79]),
        (&[36, 43], &[48, 52, 55, 60, 64], &[64, 67, 72, 76]),
        (&[38, 33], &[50, 57, 62, 66], &[62, 69, 74, 78]),
    ];
    let (mut bass, mut guitar, mut chop) = (Vec::new(), Vec::new(), Vec::new());
    let clicks = (0..4).map(|beat| note(beat * BEAT, 60, if beat == 0 { 76 } else { 77 }, 100));
    for bar in 0..bars {
        let (low, strings, closed) = chords[[0, 0, 1, 0, 0, 0, 2, 0][bar as usize % 8]];
        let start = (4 * bar + 4) * BEAT;
        bass.push(note(start, BEAT * 17 / 10, low[0], 95));
        bass.push(note(start + 2 * BEAT, BEAT * 17 / 10, low[1], 88));
        for (half, backbeat) in [(0, BEAT), (1, 3 * BEAT)] {
            guitar.push(note(start + backbeat - BEAT, BEAT - 30, strings[half], 92));
            for (place, pitch) in strings[2..].iter().enumerate() {
                let late = place as i64 * 8;
                guitar.push(note(start + backbeat + late, BEAT - 70, *pitch, 84));
            }
            for (place, pitch) in closed.iter().enumerate() {
                chop.push(note(start + backbeat + place as i64 * 4, 85, *pitch, 100));
            }
        }
    }
    let parts = vec![(Role::Bass, bass), (Role::Chop, chop), (Role::Guitar, guitar)];
    performance(parts, clicks.collect())
}

/// The same with a banjo that rolls, a fiddle that holds long notes, and somebody who leads: every chair
/// taken.
pub fn full_band(bars: i64) -> Performance {
    const EIGHTH: i64 = 277;
    let (mut banjo, mut fiddle, mut lead) = (Vec::new(), Vec::new(), Vec::new());
    for bar in 0..bars {
        let start = (4 * bar + 4) * 555;
        for (eighth, pitch) in [55, 59, 67, 62, 55, 59, 67, 62].into_iter().zip(0..) {
            banjo.push(note(start + pitch * EIGHTH, 2 * EIGHTH, eighth, 84));
        }
        fiddle.push(note(start, 7 * EIGHTH, if bar % 2 == 0 { 67 } else { 69 }, 72));
        fiddle.push(note(start, 7 * EIGHTH, if bar % 2 == 0 { 74 } else { 76 }, 72));
        for (quarter, pitch) in [71, 74, 76, 74].into_iter().zip(0..) {
            lead.push(note(start + pitch * 2 * EIGHTH, 2 * EIGHTH - 40, quarter, 92));
        }
    }
    let added = [(Role::Banjo, banjo), (Role::Fiddle, fiddle), (Role::Lead, lead)];
    let mut all = band(bars);
    all.parts.extend(performance(added.into(), Vec::new()).parts);
    all
}

/// All that a renderer gives, in blocks of that many frames.
pub fn rendered(renderer: &mut dyn Renderer, block: usize) -> (Vec<f32>, Vec<f32>) {
    let frames = usize::try_from(renderer.total_frames()).unwrap();
    let (mut left, mut right) = (vec![0.0; frames], vec![0.0; frames]);
    for (left, right) in left.chunks_mut(block).zip(right.chunks_mut(block)) {
        renderer.render(left, right);
    }
    assert!(renderer.finished());
    (left, right)
}

/// The mean of both sides of the band's own sound.
pub fn mono(performance: &Performance) -> Vec<f32> {
    mono_in(Room::Parlor, performance)
}

/// The same in a room.
pub fn mono_in(room: Room, performance: &Performance) -> Vec<f32> {
    let (left, right) = rendered(&mut Synth::new(performance, RATE).in_room(room), 4_096);
    left.iter().zip(&right).map(|(left, right)| (left + right) / 2.0).collect()
}

/// Every role, live, at the volume and in the place that General MIDI gives a channel that is told nothing.
pub fn everyone_live(rate: u32) -> Synth {
    let untold = Instrument { program: 0, volume: 100, pan: 64 };
    Synth::live(&Role::ALL.map(|role| (role, untold)), rate)
}

/// The frame of a millisecond.
pub fn frame(millis: i64) -> usize {
    (millis * i64::from(RATE) / 1_000) as usize
}

/// How far off `hertz` a tone is, in cents: how fast its phase turns against a tone of `hertz`
/// between two windows. Each is a raised cosine, which the neighbouring partials do not reach.
pub fn cents_off(sound: &[f32], hertz: f64) -> f64 {
    let turn = std::f64::consts::TAU * hertz / f64::from(RATE);
    let window = (6.0 * f64::from(RATE) / hertz).max(4_000.0) as usize;
    let phase = |from: usize| {
        let (mut re, mut im) = (0.0, 0.0);
        for n in 0..window {
            let weight = 1.0 - (std::f64::consts::TAU * n as f64 / window as f64).cos();
            let (sin, cos) = (turn * (from + n) as f64).sin_cos();
            re += f64::from(sound[from + n]) * weight * cos;
            im -= f64::from(sound[from + n]) * weight * sin;
        }
        im.atan2(re)
    };
    let hop = sound.len() - window;
    // In steps short enough that the phase cannot turn half way round.
    let steps = 8;
    let phases: Vec<f64> = (0..=steps).map(|step| phase(hop * step / steps)).collect();
    let turned: f64 = phases
        .windows(2)
        .map(|pair| {
            let change = pair[1] - pair[0];
            change - std::f64::consts::TAU * (change / std::f64::consts::TAU).round()
        })
        .sum();
    1_200.0 * (1.0 + turned / (turn * hop as f64)).log2()
}

/// The value below which 95 of 100 lie.
pub fn p95(values: &[f64]) -> f64 {
    let mut sizes: Vec<f64> = values.iter().map(|value| value.abs()).collect();
    sizes.sort_by(f64::total_cmp);
    sizes[(sizes.len() * 95).div_ceil(100) - 1]
}

/// The root of the mean square, in decibels below full scale.
pub fn level(sound: &[f32]) -> f64 {
    let sum: f64 = sound.iter().map(|x| f64::from(*x).powi(2)).sum();
    10.0 * (sum / sound.len() as f64 + 1e-15).log10()
}
