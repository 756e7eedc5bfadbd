use super::chord_words::{ChordWords, chord_words};
use crate::arrange::{Arrangement, Bar, Span};
use crate::live::ChordsAs;
use crate::time::Ticks;

/// What follows the present chord.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Coming {
    /// Another chord.
    Chord(ChordWords),
    /// The end of the song.
    End,
    /// Nothing else ever: a loop on one chord.
    Never,
}

/// The chord that sounds at a place of the song.
pub(super) fn span_at<'a>(song: &'a Arrangement, bar: &Bar, at: Ticks) -> Option<&'a Span> {
    let spans = song.spans.get(bar.spans.clone()).unwrap_or_default();
    spans.iter().rev().find(|span| span.start <= at).or(spans.first())
}

/// What comes after the chord at `at` in the bar of that index, and in how many beats: the one being
/// played counts, so on the last beat of a chord it is 1.
pub(super) fn coming(song: &Arrangement, index: usize, at: Ticks, how: ChordsAs) -> (Coming, u32) {
    let Some(now) = song.bars.get(index).and_then(|bar| span_at(song, bar, at)) else {
        return (Coming::End, 0);
    };
    let mut beats = 0;
    // Once round, and the bar begun with once more, since the change may lie before the place in it.
    for step in 0..=song.bars.len() {
        let bar = match (song.bars.get(index + step), song.round) {
            (Some(bar), _) => bar,
            (None, None) => return (Coming::End, beats),
            (None, Some(_)) => match song.bars.get(index + step - song.bars.len()) {
                Some(bar) => bar,
                None => break,
            },
        };
        let from = if step == 0 { at } else { bar.start };
        let spans = song.spans.get(bar.spans.clone()).unwrap_or_default();
        let change = spans.iter().find(|span| {
            let later = if step == 0 { span.start > at } else { span.end > bar.start };
            later && span.chord != now.chord
        });
        let to = change.map_or(bar.end(), |span| span.start.max(bar.start));
        beats += beats_in(to - from, bar.beat());
        if let Some(change) = change {
            return (Coming::Chord(chord_words(song, change.chord, how)), beats);
        }
    }
    (Coming::Never, 0)
}

/// Whole beats, a part of one counting as one.
fn beats_in(length: Ticks, beat: Ticks) -> u32 {
    let beats = (length.get().max(0) + beat.get() - 1) / beat.get();
    u32::try_from(beats).unwrap_or(u32::MAX)
}
