//! Chords are said by their basses, and runs arrive where they lead.

use openchair::chart::Role;

use super::row::{Bound, Row, share};
use super::stroke::{Stroke, spoken};
use super::take::{Played, Take};

/// The furthest before a chord that a note leads into it: half a bar of 4/4.
const NEAR: i64 = 1920;

/// The bass strikes the root, or what the chart writes under a slash, as each new chord begins.
///
/// Mostly root and fifth (Wikipedia "Double bass", bluegrass section); that the root comes with the chord
/// is common practice, no source.
pub fn roots(takes: &[Take]) -> Row {
    let name = "bass: the root or the written bass as each new chord begins";
    share(name, Bound::AtLeast(100.0), 1000, takes, |take, tally| {
        let Some(part) = take.part(Role::Bass) else { return };
        for span in &take.sheet.spans {
            let at = span.start.get();
            let Some(chord) = take.chord_of(span).filter(|_| take.heard(Role::Bass, at)) else {
                continue;
            };
            let struck = part.stroke_at(at).map(Stroke::lowest);
            let good = struck.is_some_and(|note| note % 12 == chord.bass_class());
            let heard = struck.map_or("nothing".to_owned(), spoken);
            tally.see(good, || (take.bar_number(at), format!("{heard} where {chord} begins")));
        }
    })
}

/// The last note of a run lies within a whole tone of what the role strikes as the next chord begins.
///
/// Walk-ups and walk-downs lead into a change (Wikipedia "Double bass"); that they arrive by step is
/// common practice, no source.
pub fn runs(takes: &[Take]) -> Row {
    let name = "runs of bass and guitar: the last note within a whole tone of its goal";
    share(name, Bound::AtLeast(100.0), 500, takes, |take, tally| {
        for role in [Role::Bass, Role::Guitar] {
            let Some(part) = take.part(role) else { continue };
            for span in &take.sheet.spans {
                let at = span.start.get();
                if span.chord.is_none() || !take.heard(role, at) {
                    continue;
                }
                let Some((last, goal)) = run_into(take, part, at) else { continue };
                let good = last.abs_diff(goal) <= 2;
                tally.see(good, || {
                    let what = format!("{role} runs by {} to {}", spoken(last), spoken(goal));
                    (take.bar_number(at), what)
                });
            }
        }
    })
}

/// The last note of a run into the chord that begins at a place, and the note that it leads to.
///
/// What comes last before the chord is a run if it is a single note, some way into the chord before, and
/// either foreign to that or a step away from another such note.
fn run_into(take: &Take, part: &Played, at: i64) -> Option<(u8, u8)> {
    let goal = part.stroke_at(at)?.lowest();
    let before = &part.strokes[..part.strokes.partition_point(|stroke| stroke.at < at)];
    let last = before.last()?;
    let span = take.span_at(last.at)?;
    let chord = take.chord_of(span)?;
    let from = span.start.get();
    let [note] = last.notes[..] else { return None };
    let pitch = note.pitch.get();
    if at - last.at > NEAR || last.at == from {
        return None;
    }
    let singles = before.iter().rev().skip(1).filter(|stroke| stroke.notes.len() == 1);
    let near = singles.take_while(|stroke| stroke.at >= from && last.at - stroke.at <= NEAR);
    let stepped = near.map(Stroke::lowest).next();
    let stepped = stepped.is_some_and(|note| (1..=2).contains(&note.abs_diff(pitch)));
    let foreign = !chord.contains(pitch % 12);
    (foreign || stepped).then_some((pitch, goal))
}
