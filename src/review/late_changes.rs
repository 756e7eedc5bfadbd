//! Whether the left hand came to each new chord in time: from which place on its notes are the new chord's, and until
//! when they are the last one's.

use super::changes::{Backing, is_like};
use super::harmony::Harmony;
use crate::arrange::Arrangement;
use crate::coverage::BeatPart;
use crate::theory::{Chord, added_sixth};
use crate::time::Ticks;

/// The fewest changes that make a habit, and what share of those that can be told must be late. A note of the last
/// chord on the first place of the next one may also be a suspension or a slip: an eighth takes more of them.
const HABIT: (usize, f64) = (3, 0.4);
const HABIT_OF_AN_EIGHTH: (usize, f64) = (4, 0.5);

/// A change to another chord.
#[derive(Clone, Debug)]
struct Change {
    /// The number of the bar in which the new chord begins, and its name.
    bar: usize,
    chord: String,
    /// How far after the change a note tells, and what: true for one of the last chord alone, false for one of the new
    /// one alone.
    told: Vec<(Ticks, bool)>,
}

/// Changes that come late as a habit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct LateChanges {
    /// By how much.
    pub behind: Ticks,
    /// The bars in which the new chord should have begun, in order.
    pub bars: Vec<usize>,
    /// The chord, where it is always the same.
    pub chord: Option<String>,
    /// How many changes could be told.
    pub told: usize,
    /// How many of them before the first late one were in time.
    pub in_time_before: usize,
}

impl LateChanges {
    /// What there is of it in some strokes, in order of time.
    pub(super) fn of<'a>(
        song: &Arrangement,
        harmony: &Harmony<'_>,
        strokes: impl Iterator<Item = Backing<'a>>,
    ) -> Option<Self> {
        let changes = changes(song, harmony, strokes);
        let step = BeatPart::grid(song.meter);
        let most = song.meter.bar().get() / step.get().max(1);
        let behind = (1..most).map(|steps| step * steps);
        // Of all that it may be, what most notes speak for; of equals the least.
        let spoken = |behind: Ticks| -> i64 {
            let late = changes.iter().filter(|change| change.is_late(behind) == Some(true));
            let speaks = |&(after, old): &(Ticks, bool)| {
                if (after < behind) == old { 1 } else { -1 }
            };
            late.flat_map(|change| &change.told).map(speaks).sum()
        };
        let behind = behind
            .map(|behind| (spoken(behind), behind))
            .reduce(|best, other| if other.0 > best.0 { other } else { best })?
            .1;
        let told: Vec<(&Change, bool)> = changes
            .iter()
            .filter_map(|change| change.is_late(behind).map(|late| (change, late)))
            .collect();
        let late: Vec<&Change> =
            told.iter().filter(|(_, late)| *late).map(|(change, _)| *change).collect();
        let (fewest, share) = if behind <= step { HABIT_OF_AN_EIGHTH } else { HABIT };
        let first = late.first()?;
        if late.len() < fewest || (late.len() as f64) < share * told.len() as f64 {
            return None;
        }
        let same = late.iter().all(|change| change.chord == first.chord);
        let mut bars: Vec<usize> = late.iter().map(|change| change.bar).collect();
        bars.dedup();
        Some(Self {
            behind,
            bars,
            chord: same.then(|| first.chord.clone()),
            told: told.len(),
            in_time_before: told.iter().take_while(|(_, late)| !late).count(),
        })
    }
}

impl Change {
    /// True if up to then all that tells is the last chord's, and the new one comes after; false if it comes before;
    /// `None` where nothing tells, or the chord never comes.
    fn is_late(&self, behind: Ticks) -> Option<bool> {
        let before = |after: &&(Ticks, bool)| after.0 < behind;
        let old = self.told.iter().filter(before).filter(|told| told.1).count();
        let new = self.told.iter().filter(before).filter(|told| !told.1).count();
        let comes = self.told.iter().filter(|told| !before(told)).any(|told| !told.1);
        match (old, new) {
            (0, 0) => None,
            (_, 0) => comes.then_some(true),
            // A single old note among new ones is a passing one.
            (old, new) => (new >= old).then_some(false),
        }
    }
}

fn changes<'a>(
    song: &Arrangement,
    harmony: &Harmony<'_>,
    strokes: impl Iterator<Item = Backing<'a>>,
) -> Vec<Change> {
    let chord = |span: usize| song.chord(song.spans.get(span)?.chord?);
    // Where each chord began, written once or over again.
    let mut begun: Vec<usize> = Vec::with_capacity(song.spans.len());
    for span in 0..song.spans.len() {
        let before = span.checked_sub(1);
        let goes_on = before
            .and_then(chord)
            .zip(chord(span))
            .is_some_and(|(before, here)| is_like(before, here));
        let began = before.and_then(|before| begun.get(before)).filter(|_| goes_on);
        begun.push(began.copied().unwrap_or(span));
    }
    let mut out: Vec<(Change, usize)> = Vec::new();
    for stroke in strokes {
        let Some(here) = harmony.span_at(stroke.at) else { continue };
        let Some(&span) = begun.get(here) else { continue };
        let Some(new) = chord(span) else { continue };
        let Some(old) = span.checked_sub(1).and_then(chord) else { continue };
        let Some(start) = song.spans.get(span).map(|span| span.start) else { continue };
        let after = stroke.at - start;
        if after >= song.meter.bar() || harmony.leads_on(stroke.at) {
            continue;
        }
        if out.last().is_none_or(|(_, last)| *last != span) {
            let bar = song.bars.partition_point(|bar| bar.start <= start).checked_sub(1);
            let number =
                bar.and_then(|bar| song.bars.get(bar)).map_or(stroke.bar, |bar| bar.number);
            out.push((Change { bar: number, chord: new.to_string(), told: Vec::new() }, span));
        }
        let own =
            |of: &Chord, class: u8| of.contains(class) || added_sixth(of, song.key) == Some(class);
        for pitch in stroke.pitches.iter().filter(|pitch| !harmony.is_drone(**pitch)) {
            let class = pitch.pitch_class();
            let told = match (own(old, class), own(new, class)) {
                (true, false) => true,
                (false, true) => false,
                _ => continue,
            };
            if let Some((change, _)) = out.last_mut() {
                change.told.push((after, told));
            }
        }
    }
    out.into_iter().map(|(change, _)| change).collect()
}
