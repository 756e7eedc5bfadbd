//! The tune of a bar as sheet music has it: notes that begin, notes that go on, and groups.

use super::write_rows::{Group, best_groups, pickup_groups};
use super::{ChartBar, Pickup, Share, Tune};
use crate::theory::{Chord, MidiNote};
use crate::time::Ticks;

/// A note or a rest as it is written on a sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Piece {
    /// Where it begins in the bar.
    pub at: Ticks,
    /// How long it sounds.
    pub length: Ticks,
    /// How long it is written: longer than it sounds in a triplet.
    pub written: Ticks,
    /// What sounds; `None` for a rest.
    pub note: Option<MidiNote>,
    /// The note goes on from the piece before it.
    pub tied: bool,
    /// It begins a group: so many notes in the time of so many, over so many pieces.
    pub group: Option<(u8, u8, u8)>,
    /// It is of such a group.
    pub ratio: (u8, u8),
}

/// The pieces of a bar, none of which a chord begins within. `sounding` is the note that goes on into the bar, and is
/// left at the one that may go on out of it.
pub(crate) fn melody_pieces(bar: &ChartBar, sounding: &mut Option<MidiNote>) -> Vec<Piece> {
    let shares = at_chords(bar);
    best_groups(bar.meter, &shares)
        .map_or_else(Vec::new, |groups| pieces(&shares, groups, sounding))
}

/// The pieces of a pickup.
pub(crate) fn pickup_pieces(pickup: &Pickup) -> Vec<Piece> {
    pickup_groups(pickup).map_or_else(Vec::new, |groups| pieces(&pickup.melody, groups, &mut None))
}

fn pieces(
    shares: &[Share<Tune>],
    groups: Vec<Group>,
    sounding: &mut Option<MidiNote>,
) -> Vec<Piece> {
    let mut pieces: Vec<Piece> = Vec::new();
    let mut at = Ticks::ZERO;
    let mut from = shares.iter();
    let mut share = from.next();
    let mut left = share.map(|share| share.length).unwrap_or_default();
    let mut first = true;
    for group in groups {
        let ratio = (group.notes, group.time);
        let begins = pieces.len();
        let in_group = group.notes > 1;
        for place in 0..group.notes {
            while left <= Ticks::ZERO {
                share = from.next();
                let Some(next) = share else { return pieces };
                left = next.length;
                first = true;
            }
            let Some(value) = share.map(|share| share.value) else { return pieces };
            let written = group.one;
            // What goes on within a group, or from single share to single share, is one piece.
            let goes_on = !first
                && if in_group {
                    place > 0
                } else {
                    pieces.last().is_some_and(|last| last.ratio == (1, 1))
                };
            match pieces.last_mut().filter(|_| goes_on) {
                Some(last) => {
                    last.length += group.length;
                    last.written += written;
                }
                None => {
                    let tied = !first && sounding.is_some() || value == Tune::Hold;
                    *sounding = match value {
                        Tune::Note(note) => Some(note),
                        Tune::Hold => *sounding,
                        Tune::Rest => None,
                    };
                    let note = *sounding;
                    let tied = tied && note.is_some();
                    pieces.push(Piece {
                        at,
                        length: group.length,
                        written,
                        note,
                        tied,
                        group: None,
                        ratio,
                    });
                }
            }
            first = false;
            left -= group.length;
            at += group.length;
        }
        let count = u8::try_from(pieces.len() - begins).unwrap_or(u8::MAX);
        if in_group && let Some(piece) = pieces.get_mut(begins) {
            piece.group = Some((group.notes, group.time, count));
        }
    }
    pieces
}

/// The shares of the melody, cut where chords begin.
fn at_chords(bar: &ChartBar) -> Vec<Share<Tune>> {
    let mut cuts: Vec<Ticks> = Vec::new();
    let mut at = Ticks::ZERO;
    for share in &bar.chords {
        cuts.push(at);
        at += share.length;
    }
    let mut out = Vec::with_capacity(bar.melody.len() + cuts.len());
    let mut at = Ticks::ZERO;
    for share in &bar.melody {
        let end = at + share.length;
        let mut value = share.value;
        let start = at;
        for &cut in cuts.iter().filter(|cut| start < **cut && **cut < end) {
            out.push(Share::new(cut - at, value));
            at = cut;
            if value != Tune::Rest {
                value = Tune::Hold;
            }
        }
        out.push(Share::new(end - at, value));
        at = end;
    }
    out
}

/// Where chords begin in a bar: each with what was played before it in the bar, if anything.
pub(crate) fn chord_places(bar: &ChartBar) -> Vec<(Ticks, Option<Chord>)> {
    let mut at = Ticks::ZERO;
    bar.chords
        .iter()
        .map(|share| {
            let here = at;
            at += share.length;
            (here, share.value)
        })
        .collect()
}
