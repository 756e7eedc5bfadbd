//! The line of a tag: 1, 5 5 6 5, rest, 7 1. Bass and guitar play it together, the others strike with
//! its first note and its last. A stock ending of the trade (common practice, no source).

use super::cue::{Act, Cue};
use crate::arrange::{Arrangement, Bar};
use crate::band::{InTag, Role};
use crate::style::{BanjoStrings, BassNote, Degree, Loud, Strike};
use crate::theory::Chord;
use crate::theory::fretboard::{bass_strings, guitar_shape};
use crate::time::Ticks;

/// The eighths of the bar on which its first five notes stand.
const PLACES: [i64; 5] = [0, 2, 3, 4, 6];

/// Tells `player` what `role` does in the bar before the last of a tag.
pub(super) fn first_bar(
    song: &Arrangement,
    bar: &Bar,
    index: u32,
    role: Role,
    player: &mut impl FnMut(Cue),
) {
    let span = bar.spans.start;
    let cue = |at, act| Cue::new(at, index, span, act);
    player(cue(bar.start, Act::Damp));
    player(cue(bar.start, Act::Change));
    let home = song.spans.get(span).and_then(|span| song.chord(span.chord?));
    match role.row().in_tag {
        how @ (InTag::LowLine | InTag::Line) => {
            let low =
                how == InTag::LowLine || home.is_none_or(|home| fifth_is_below(home, song.capo));
            let sixth = (Degree::Sixth, if low { -1 } else { 0 });
            let fifth = (Degree::Fifth, 0);
            let line = [(Degree::Root, 0), fifth, fifth, sixth, fifth];
            for (place, (degree, octave)) in PLACES.into_iter().zip(line) {
                player(cue(bar.start + eighth(bar) * place, note(degree, octave)));
            }
        }
        InTag::Hit => player(cue(bar.start, Act::Hit)),
        InTag::Waits => {}
    }
}

/// The same for the last bar: after a rest the note that leads home, then all strike home.
pub(super) fn last_bar(
    song: &Arrangement,
    bar: &Bar,
    index: u32,
    role: Role,
    player: &mut impl FnMut(Cue),
) {
    let (leading, home) = (bar.spans.start, bar.spans.end.saturating_sub(1));
    let cue = |at, span, act| Cue::new(at, index, span, act);
    player(cue(bar.start, leading, Act::Damp));
    let how = role.row().in_tag;
    if matches!(how, InTag::LowLine | InTag::Line) {
        let chord = |span: usize| song.spans.get(span).and_then(|span| song.chord(span.chord?));
        let (degree, octave) = match (chord(leading), chord(home)) {
            (Some(leading), Some(home)) => below_home(leading, home, how),
            _ => (Degree::Third, 0),
        };
        player(cue(bar.start + eighth(bar) * 2, leading, note(degree, octave)));
    }
    let at = bar.start + eighth(bar) * 4;
    player(cue(at, home, Act::Damp));
    player(cue(at, home, Act::Change));
    player(cue(at, home, Act::FinalHit));
}

/// An eighth of the bar.
const fn eighth(bar: &Bar) -> Ticks {
    Ticks::new(bar.meter.bar().get() / 8)
}

fn note(degree: Degree, octave: i8) -> Act {
    Act::Strike(Strike {
        bass: Some(BassNote::Degree { degree, octave }),
        stroke: None,
        strings: BanjoStrings::NONE,
        loud: Loud::Normal,
    })
}

/// True if the guitar has the chord's fifth below its root, so that the sixth beside it lies there too.
fn fifth_is_below(home: &Chord, capo: u8) -> bool {
    let notes = bass_strings(&guitar_shape(home, capo), home, capo);
    notes.fifth.is_some_and(|(_, fifth)| fifth < notes.root.1)
}

/// The degree of the chord that leads home that lies a step below home: its third, or of the flat 7
/// its root; and for one whose home lies low in which octave.
fn below_home(leading: &Chord, home: &Chord, how: InTag) -> (Degree, i8) {
    let up = |class: u8| (i32::from(class) + 12 - i32::from(home.root.pitch_class())) % 12;
    let degree = if up(leading.root.pitch_class()) == 10 { Degree::Root } else { Degree::Third };
    /// A1, from which the bass's roots live in an octave.
    const LOWEST_ROOT: i32 = 33;
    let root = |chord: &Chord| (i32::from(chord.root.pitch_class()) - LOWEST_ROOT).rem_euclid(12);
    let above = if degree == Degree::Third { 4 } else { 0 };
    let octave = if how == InTag::LowLine && root(leading) + above > root(home) { -1 } else { 0 };
    (degree, octave)
}
