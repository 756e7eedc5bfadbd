//! How a player does, while they play: by the strokes of the last bars.

use crate::arrange::{Arrangement, ChordId};
use crate::perform::Swing;
use crate::take::RecordedBar;
use crate::theory::MidiNote;
use crate::time::{Nanos, Ticks};

/// Strokes of which the middle one says how early or late the player is: a bar of eighths. One alone wavers.
const LAST_STROKES: usize = 8;

/// So near to a place of an eighth a stroke is meant for that; else for a sixteenth between two.
const NEAR: i64 = Ticks::EIGHTH.get() / 3;

/// With fewer notes a bar says nothing of the chord that was meant.
const FEWEST_NOTES: usize = 3;

/// How many bars a chord that was missed is told of after its own.
const TOLD_FOR: usize = 4;

/// What can be said of a player now.
#[derive(Clone, Debug, PartialEq)]
pub struct Noticed {
    /// What was struck last, as far as it was made out.
    pub last: Vec<MidiNote>,
    /// How late the strokes of late were, against the places where the band has them; negative if early.
    pub late: Ticks,
    /// The chord that was missed last, and the number of its bar, if that was but a few bars ago.
    pub missed: Option<(ChordId, usize)>,
}

impl Noticed {
    /// How late, at a tempo.
    pub fn late_at(&self, tempo: crate::time::Tempo) -> Nanos {
        tempo.nanos(self.late)
    }
}

/// A stroke on the timeline of the bars.
#[derive(Clone, Debug)]
pub(super) struct Stroke {
    pub at: Ticks,
    pub pitches: Vec<MidiNote>,
}

/// What can be said of strokes, in order, that were played over these bars; `None` before the first.
pub(super) fn noticed(
    strokes: &[Stroke],
    bars: &[RecordedBar],
    song: &Arrangement,
    swing: Swing,
) -> Option<Noticed> {
    let last = strokes.last()?;
    let mut late: Vec<Ticks> = strokes
        .iter()
        .rev()
        .take(LAST_STROKES)
        .filter_map(|stroke| {
            let bar =
                bars.get(bars.partition_point(|bar| bar.start <= stroke.at).checked_sub(1)?)?;
            Some(lateness(stroke.at - bar.start, swing))
        })
        .collect();
    late.sort_unstable();
    // Every bar but the one that goes on.
    let done = bars.len().saturating_sub(1);
    let recent = bars.iter().take(done).skip(done.saturating_sub(TOLD_FOR));
    let missed = recent.rev().find_map(|bar| {
        let number = bar.song().filter(|song| song.number > 0)?.number;
        Some((missed_in(bar, number, strokes, song)?, number))
    });
    Some(Noticed {
        last: last.pitches.clone(),
        late: late.get(late.len() / 2).copied().unwrap_or(Ticks::ZERO),
        missed,
    })
}

/// How late a stroke at a place in a bar is against the nearest place of the grid, as the band swings it.
fn lateness(place: Ticks, swing: Swing) -> Ticks {
    let nearest = |step: Ticks| {
        let at = place.get().div_euclid(step.get());
        let places = (at - 1..=at + 2).map(|n| swing.moved(step * n));
        places.map(|grid| place - grid).min_by_key(|off| off.get().abs()).unwrap_or(Ticks::ZERO)
    };
    let eighth = nearest(Ticks::EIGHTH);
    if eighth.get().abs() <= NEAR { eighth } else { nearest(Ticks::new(Ticks::EIGHTH.get() / 2)) }
}

/// The first chord of a bar over which most of what was played belongs to another.
fn missed_in(
    heard: &RecordedBar,
    number: usize,
    strokes: &[Stroke],
    song: &Arrangement,
) -> Option<ChordId> {
    let bar = song.bars.iter().find(|bar| bar.number == number)?;
    song.spans.get(bar.spans.clone())?.iter().find_map(|span| {
        let id = span.chord?;
        let chord = song.chord(id)?;
        // What comes a little early is meant for this chord, and what comes before the next is not.
        let early = Ticks::new(NEAR);
        let from = heard.start + (span.start - bar.start).max(Ticks::ZERO) - early;
        let to = heard.start + (span.end - bar.start).min(bar.meter.bar()) - early;
        let here = strokes.iter().filter(|stroke| (from..to).contains(&stroke.at));
        let notes: Vec<MidiNote> = here.flat_map(|stroke| stroke.pitches.iter().copied()).collect();
        let right = notes.iter().filter(|note| chord.contains(note.pitch_class())).count();
        (notes.len() >= FEWEST_NOTES && 2 * right <= notes.len()).then_some(id)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn early_and_late_go_by_the_nearest_place_as_it_swings() {
        let off = |ticks: i64| lateness(Ticks::new(ticks), Swing::EVEN).get();
        assert_eq!([off(0), off(-30), off(500), off(950), off(480)], [0, -30, 20, -10, 0]);
        // Half way between two eighths is a sixteenth.
        assert_eq!([off(240), off(250), off(700)], [0, 10, -20]);
    }
}
