use std::rc::Rc;

use thiserror::Error;

use super::around::with_what_comes;
use super::choice::Seat;
use super::feel::Feel;
use super::hands::Hands;
use super::levels::Levels;
use super::slowing::slowing;
use super::swing::Swing;
use super::{Note, Part, Performance, Touch, Usual, kickoff};
use crate::arrange::{Arrangement, PassStart};
use crate::band::Right;
use crate::chart::Role;
use crate::style::Style;
use crate::text::list;
use crate::theory::MidiNote;
use crate::time::{BarMeter, Meter, Ticks};

/// A style that cannot play the song.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
pub enum StyleMismatch {
    /// The style has no bars in the song's meter.
    #[error("{style} has no bars in {meter}; it plays {}", list(.plays, "and"))]
    Meter {
        /// The style.
        style: String,
        /// The song's meter.
        meter: Meter,
        /// The meters that it plays.
        plays: Vec<&'static str>,
    },
}

/// Plays an arrangement in a style. A role that the style says nothing about has no part, as if it
/// sat out. Where the last bar leads back to the first, walks arrive there, and notes ring on as the
/// first bar lets them. The same arrangement, style and seed give the same notes, and no role's notes hang on
/// whether another plays.
///
/// # Errors
/// [`StyleMismatch`] if the style does not fit the song's meter.
pub fn perform(song: &Arrangement, style: &Style, seed: u64) -> Result<Performance, StyleMismatch> {
    if !style.fits(song.meter) {
        return Err(StyleMismatch::Meter {
            style: style.name.clone(),
            meter: song.meter,
            plays: style.meters.iter().map(|meter| meter.as_str()).collect(),
        });
    }
    let swing = Swing::new(song.swing, &style.feel, song.meter, song.tempo);
    let around = with_what_comes(song);
    let levels = Rc::new(Levels::new(&around, &style.dynamics));
    let runs = Role::with_right_of_way().and_then(|role| style.part(role));
    let mut parts = Vec::new();
    for role in song.playing().iter() {
        let Some(part) = style.part(role) else { continue };
        let feel = |from| Feel::new(role, part, swing, song, from, seed).at_levels(&levels);
        let hands = Hands::of(role);
        let gives_way = role.row().playing.right == Right::GivesWay;
        let seat = Seat { song: &around, part, role, seed, runs: runs.filter(|_| gives_way) };
        let mut notes = kickoff::play(&seat, feel(song.start));
        notes.extend((hands.play)(&seat, feel(song.form_start())));
        if notes.is_empty() {
            continue;
        }
        let (instrument, programs) = (hands.sounds)(&around, part.instrument, &notes);
        parts.push(Part { role, instrument, programs, notes });
    }
    Ok(Performance {
        title: song.title.clone(),
        key: song.key,
        tempo: song.tempo,
        swing,
        slowing: slowing(song, style.ending_slow),
        meters: meters(song),
        markers: song
            .passes
            .iter()
            .filter(|pass| pass.is_of_form() && !pass.is_last_line)
            .map(|pass| (pass.start, pass.label.clone()))
            .collect(),
        cues: cues(song),
        chords: chord_names(song),
        parts,
        clicks: clicks(song),
        song_start: song.start,
        end: song.end,
        touch: Touch {
            usual: style.parts.iter().map(|(role, part)| Usual::of(*role, part)).collect(),
            levels: levels.permille().take(song.bars.len()).collect(),
        },
    })
}

/// Each meter where it begins.
fn meters(song: &Arrangement) -> Vec<(Ticks, BarMeter)> {
    let first = song.bars.first().filter(|_| song.count_in == 0);
    let mut meters = vec![(Ticks::ZERO, first.map_or(song.meter.into(), |bar| bar.meter))];
    for bar in &song.bars {
        if meters.last().is_some_and(|&(_, meter)| meter != bar.meter) {
            meters.push((bar.start, bar.meter));
        }
    }
    meters
}

fn chord_names(song: &Arrangement) -> Vec<(Ticks, String)> {
    let names: Vec<String> = song.chords.iter().map(ToString::to_string).collect();
    song.spans
        .iter()
        .map(|span| {
            let name = span.chord.and_then(|id| names.get(id.0 as usize));
            (span.start, name.map_or_else(|| "N.C.".to_owned(), Clone::clone))
        })
        .collect()
}

/// What is no pass of the form. A pickup that is written out begins where its tune does, not with its bar.
fn cues(song: &Arrangement) -> Vec<(Ticks, &'static str)> {
    let written = song.kickoff.and_then(|kickoff| kickoff.written);
    let cue = |pass: &PassStart| match (pass, written) {
        (PassStart { is_kickoff: true, .. }, Some(length)) => {
            Some((song.form_start() - length, "pickup"))
        }
        (PassStart { is_kickoff: true, .. }, None) => Some((pass.start, "kickoff")),
        (PassStart { is_last_line: true, .. }, _) => Some((pass.start, "last line")),
        (PassStart { is_ending: true, .. }, _) => Some((pass.start, "ending")),
        _ => None,
    };
    song.passes.iter().filter_map(cue).collect()
}

/// The count-in, and on to the song's own pickup: who counts stops where the tune begins.
fn clicks(song: &Arrangement) -> Vec<Note> {
    let pickup = song.kickoff.and_then(|kickoff| kickoff.written).filter(|_| song.count_in > 0);
    let bars = song.count_in + u32::from(pickup.is_some());
    let until = pickup.map_or(song.start, |length| song.form_start() - length);
    let mut clicks = count_in_clicks(song.meter, bars);
    clicks.retain(|click| click.start < until);
    clicks
}

/// So many bars of clicks from time 0: a high wood block on the first beat of a bar, a low one on the
/// others (General MIDI percussion keys 76 and 77).
pub fn count_in_clicks(meter: Meter, bars: u32) -> Vec<Note> {
    const HIGH: MidiNote = MidiNote::clamped(76);
    const LOW: MidiNote = MidiNote::clamped(77);
    let beats = i64::from(bars) * meter.beats();
    (0..beats)
        .map(|beat| {
            let start = meter.beat() * beat;
            let first = beat % meter.beats() == 0;
            Note {
                start,
                end: start + Ticks::EIGHTH,
                pitch: if first { HIGH } else { LOW },
                velocity: if first { 112 } else { 92 },
                slurred: None,
                bar: 0,
            }
        })
        .collect()
}
