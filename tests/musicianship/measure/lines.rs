//! Lines of the chart that are played like the one before.

use std::collections::BTreeMap;
use std::ops::Range;

use openchair::arrange::{Arrangement, BarKind};
use openchair::chart::Role;

use super::row::{Bound, Reading, Row, pooled, worst};
use super::stroke::{Stroke, Way};
use super::take::{Played, Take};

/// Lines in which every role strikes at the same places in the same way (one note, down, up) as in the
/// line before, whatever the chords and however hard: at most half of a pass longer than 16 bars. Common
/// practice, no source.
pub fn same_rhythm(takes: &[Take]) -> Row {
    let name = "lines with the rhythm of the one before, in any pass longer than 16 bars";
    alike(name, 10, takes, |take| passes(&take.sheet, 17), rhythm)
}

/// The same of all lines of a song: most tunes have passes of 16 bars, and a player who is plain in one
/// is not in all.
pub fn same_rhythm_in_a_song(takes: &[Take]) -> Row {
    let name = "lines with the rhythm of the one before, in a whole song";
    alike(name, 500, takes, |take| vec![passes(&take.sheet, 0).concat()], rhythm)
}

/// Lines that are the same note for note, in passes of 16 bars too. Which strings a strum takes is not asked: no hand
/// takes the same each time.
pub fn same_notes(takes: &[Take]) -> Row {
    let name = "lines with the notes of the one before, in any pass of 16 bars or more";
    let notes = |stroke: &Stroke| {
        let way = stroke.way();
        (way, (way == Way::Single).then(|| stroke.pitches()))
    };
    alike(name, 500, takes, |take| passes(&take.sheet, 16), notes)
}

/// Four bars that a role has played before to the note, of all within 32 bars: at most half, by role and style over
/// all songs (common practice, no source). Which strings a strum takes is not asked.
pub fn literal_repeats(who: &str, takes: &[Take]) -> Row {
    let mut told: BTreeMap<(Role, String), (usize, usize)> = BTreeMap::new();
    for take in takes {
        let groove: Vec<usize> = (0..take.sheet.bars.len())
            .filter(|&bar| take.sheet.bars[bar].kind == BarKind::Groove)
            .collect();
        for part in &take.parts {
            let bars: BTreeMap<usize, Vec<_>> =
                part.strokes.iter().fold(BTreeMap::new(), |mut bars, stroke| {
                    let at = stroke.at - take.sheet.bars[stroke.bar].start.get();
                    let way = stroke.way();
                    let pitch = (way == Way::Single).then(|| stroke.lowest());
                    bars.entry(stroke.bar).or_insert_with(Vec::new).push((at, way, pitch));
                    bars
                });
            let (seen, again) = told.entry((part.role, take.style.name.clone())).or_default();
            for window in groove.chunks(32) {
                let fours: Vec<Vec<_>> = window
                    .chunks(4)
                    .map(|four| four.iter().map(|bar| bars.get(bar)).collect())
                    .collect();
                // Where somebody leads, or sits out, there is nothing to repeat.
                let played = |four: &Vec<Option<&Vec<_>>>| four.iter().all(Option::is_some);
                for (index, four) in fours.iter().enumerate().filter(|(_, four)| played(four)) {
                    *seen += 1;
                    *again += usize::from(fours[..index].contains(four));
                }
            }
        }
    }
    let of: Vec<(String, f64, usize)> = told
        .into_iter()
        .filter(|(_, (seen, _))| *seen >= 40)
        .map(|((role, style), (seen, again))| {
            (format!("{role} in {style}"), 100.0 * again as f64 / seen as f64, seen)
        })
        .collect();
    let name = format!("{who}: four bars that were played before, within 32");
    pooled(&name, " %", Bound::AtMost(50.0), 5000, &of)
}

type Line = Range<usize>;

fn rhythm(stroke: &Stroke) -> Way {
    stroke.way()
}

/// What each role does in a line, and where.
type Seen<T> = Vec<(Role, Vec<(i64, T)>)>;

fn alike<T: PartialEq>(
    name: &str,
    enough: usize,
    takes: &[Take],
    stretches: impl Fn(&Take) -> Vec<Vec<Line>>,
    see: impl Fn(&Stroke) -> T,
) -> Row {
    worst(name, " %", Bound::AtMost(50.0), enough, takes, |take| {
        let heard = |line: &Line| -> Seen<T> {
            let from = take.sheet.bars[line.start].start.get();
            let part = |part: &Played| {
                let first = part.strokes.partition_point(|stroke| stroke.bar < line.start);
                let inside = part.strokes[first..].iter().take_while(|s| s.bar < line.end);
                (part.role, inside.map(|stroke| (stroke.at - from, see(stroke))).collect())
            };
            take.parts.iter().map(part).collect()
        };
        let read = |lines: Vec<Line>| {
            let heard: Vec<Seen<T>> = lines.iter().map(heard).collect();
            let same: Vec<usize> =
                (1..lines.len()).filter(|&line| heard[line] == heard[line - 1]).collect();
            let bar = &take.sheet.bars[lines[same.first().copied().unwrap_or(0)].start];
            let (same, pairs) = (same.len(), lines.len() - 1);
            let what = format!("{same} of {pairs} lines");
            let value = 100.0 * same as f64 / pairs as f64;
            Reading { value, looked: pairs, bar: bar.number, what }
        };
        stretches(take).into_iter().filter(|lines| lines.len() > 1).map(read).collect()
    })
}

/// The chart's lines in each pass of the form of so many bars at least. The ending is none.
fn passes(sheet: &Arrangement, bars: usize) -> Vec<Vec<Line>> {
    let mut passes = vec![Vec::new(); sheet.passes.len()];
    for (index, bar) in sheet.bars.iter().enumerate() {
        let lines: &mut Vec<Line> = &mut passes[bar.pass];
        match lines.last_mut() {
            Some(line) if bar.turn > 0 => line.end = index + 1,
            _ => lines.push(index..index + 1),
        }
    }
    let passes = passes.into_iter().zip(&sheet.passes).filter(|(_, pass)| !pass.is_ending);
    let long = |lines: &Vec<Line>| lines.iter().map(Range::len).sum::<usize>() >= bars;
    passes.map(|(lines, _)| lines).filter(long).collect()
}
