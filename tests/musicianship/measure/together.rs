//! What roles sound together: no semitones that rub, and a register for each.

use openchair::chart::Role;

use super::row::{Bound, Reading, Row, worst};
use super::stroke::spoken;
use super::take::{Played, Take};

/// A note struck again so soon after its end, in ticks, sounds on: a sixteenth.
const JOINED: i64 = 240;

/// A pitch class that a role sounds without a break.
struct Held {
    pitch: u8,
    start: i64,
    end: i64,
}

/// The longest that two roles sound pitch classes a semitone apart (in any octave: intervals 1, 11, 13
/// and so on), in beats of the song's meter. Time in which the chord itself has both is not counted: a
/// major seventh, a flat ninth, a written bass beside the root. Common practice, no source.
pub fn clashes(takes: &[Take]) -> Row {
    let name = "two roles: the longest semitone that is not the chord's own";
    worst(name, " beats", Bound::Below(1.0), 1000, takes, |take| {
        let beat = take.sheet.meter.beat().get();
        let held: Vec<(Role, Vec<Held>)> =
            take.parts.iter().map(|part| (part.role, held(part, beat))).collect();
        let mut found: Vec<Reading> = Vec::new();
        let mut looked = 0;
        for (index, (one, long)) in held.iter().enumerate() {
            for (other, also_long) in &held[index + 1..] {
                for a in long {
                    for b in also_long.iter().filter(|b| b.start < a.end && a.start < b.end) {
                        looked += 1;
                        let apart = (12 + a.pitch - b.pitch % 12) % 12;
                        if apart != 1 && apart != 11 {
                            continue;
                        }
                        let (from, to) = (a.start.max(b.start), a.end.min(b.end));
                        let rubbing = foreign_time(take, (a.pitch, b.pitch), from, to);
                        let (low, high) = (spoken(a.pitch), spoken(b.pitch));
                        let chord =
                            take.chord_at(from).map_or("N.C.".to_owned(), |c| c.to_string());
                        found.push(Reading {
                            value: rubbing as f64 / beat as f64,
                            looked: 0,
                            bar: take.bar_number(from),
                            what: format!(
                                "{low} of the {one} with {high} of the {other} over {chord}"
                            ),
                        });
                    }
                }
            }
        }
        // Of those that pass, the longest is enough.
        found.sort_by(|one, other| other.value.total_cmp(&one.value));
        let long = found.iter().filter(|reading| reading.value >= 1.0).count();
        found.truncate(long.max(1));
        let none = || Reading { value: 0.0, looked: 0, bar: 1, what: "none".to_owned() };
        if found.is_empty() {
            found.push(none());
        }
        found[0].looked = looked;
        found
    })
}

/// What a part sounds for a beat or longer.
fn held(part: &Played, beat: i64) -> Vec<Held> {
    let mut sounding: [Option<Held>; 12] = [const { None }; 12];
    let mut done = Vec::new();
    for note in part.strokes.iter().flat_map(|stroke| &stroke.notes) {
        let (pitch, start, end) = (note.pitch.get(), note.start.get(), note.end.get());
        let place = &mut sounding[usize::from(pitch % 12)];
        match place {
            Some(before) if start <= before.end + JOINED => before.end = before.end.max(end),
            _ => done.extend(place.replace(Held { pitch, start, end })),
        }
    }
    done.extend(sounding.into_iter().flatten());
    done.retain(|held| held.end - held.start >= beat);
    done
}

/// For how much of a time the chord does not have both pitches itself.
fn foreign_time(take: &Take, (one, other): (u8, u8), from: i64, to: i64) -> i64 {
    let spans = take.sheet.spans.iter().filter(|s| s.start.get() < to && from < s.end.get());
    let foreign = spans.filter(|span| {
        let chord = take.chord_of(span);
        !chord.is_some_and(|chord| chord.contains(one % 12) && chord.contains(other % 12))
    });
    foreign.map(|span| span.end.get().min(to) - span.start.get().max(from)).sum()
}

/// How far apart bass, guitar and chop lie in the mean, in semitones: a fifth or more, so that each has
/// a register of its own. Common practice, no source.
pub fn registers(takes: &[Take]) -> Row {
    let name = "mean pitches of bass, guitar and chop: semitones from one to the next";
    worst(name, "", Bound::AtLeast(7.0), 100, takes, |take| {
        let roles = [Role::Bass, Role::Guitar, Role::Chop];
        let means = roles.map(|role| take.part(role).and_then(mean_pitch));
        let pairs = (0..3).flat_map(|one| (one + 1..3).map(move |other| (one, other)));
        let read = |(one, other): (usize, usize)| {
            let (low, high) = (means[one]?, means[other]?);
            let what = format!("{} {low:.1} to {} {high:.1}", roles[one], roles[other]);
            let value = high - low;
            Some(Reading { value, looked: 1, bar: 1, what })
        };
        pairs.filter_map(read).collect()
    })
}

fn mean_pitch(part: &Played) -> Option<f64> {
    let notes = || part.strokes.iter().flat_map(|stroke| &stroke.notes);
    let sum: u32 = notes().map(|note| u32::from(note.pitch.get())).sum();
    let count = notes().count();
    (count > 0).then(|| f64::from(sum) / count as f64)
}
