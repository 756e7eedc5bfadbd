//! Strokes lie where the style says, wander as players do, and keep together.

use openchair::arrange::Looseness;
use openchair::perform::furthest_stray;

use super::row::{Bound, Reading, Row, share, worst};
use super::stroke::ROUNDING;
use super::take::{Played, Take};

/// So many strokes at least for a statistic of them to mean something.
const ENOUGH: usize = 40;

/// A stroke strays from its place on the swung grid, moved by the style's `lean`, by no more than its
/// `looseness` allows. Strokes on so fine a grid that this could not be told are left out.
pub fn on_the_grid(takes: &[Take]) -> Row {
    let name = "strokes where swing, lean and looseness of the style put them";
    share(name, Bound::AtLeast(100.0), 10_000, takes, |take, tally| {
        for part in &take.parts {
            let style = take.style_of(part.role);
            let loose = take.ticks(furthest_stray(Looseness::Band, &style)) + ROUNDING;
            for stroke in part.strokes.iter().filter(|stroke| stroke.room > loose) {
                tally.see(stroke.off.abs() <= loose, || {
                    let off = take.millis(stroke.off);
                    let what = format!("{} {off:+.1} ms off", part.role);
                    (take.sheet.bars[stroke.bar].number, what)
                });
            }
        }
    })
}

/// The correlation of each stroke's deviation with that of the stroke before, for each role: not below 0 by more than
/// chance makes it in a song, as human deviations from a beat have memory (Hennig et al. 2011, PLoS ONE 6(10) e26457);
/// [`memory`](super::players::memory) holds what it is over all songs.
pub fn memory(takes: &[Take]) -> Row {
    let name = "deviations of a role from the grid: correlation with the one before";
    worst(name, "", Bound::Above(-0.15), 5000, takes, |take| {
        let read = |part: &Played| {
            let off: Vec<f64> = part.strokes.iter().map(|stroke| stroke.off).collect();
            let mean = off.iter().sum::<f64>() / off.len() as f64;
            let variance: f64 = off.iter().map(|x| (x - mean).powi(2)).sum();
            let together: f64 = off.windows(2).map(|w| (w[0] - mean) * (w[1] - mean)).sum();
            let millis = take.millis((variance / off.len() as f64).sqrt());
            (off.len() >= ENOUGH).then(|| Reading {
                value: together / variance,
                looked: off.len(),
                bar: 1,
                what: format!("{}, which strays by {millis:.1} ms (SD)", part.role),
            })
        };
        take.parts.iter().filter_map(read).collect()
    })
}

/// How far apart two roles strike what is written at one place, in the mean of all such places: under
/// 19 ms, as listeners prefer it ("The Tight-interlocked Rhythm Section", J. New Music Research 46(4)
/// 2017, 329-341). The first string of a stroke counts.
pub fn asynchrony(takes: &[Take]) -> Row {
    let name = "two roles: how far apart they strike at one place, in the mean";
    worst(name, " ms", Bound::Below(19.0), 5000, takes, |take| {
        let mut readings = Vec::new();
        for (index, one) in take.parts.iter().enumerate() {
            for other in &take.parts[index + 1..] {
                let apart: Vec<(usize, f64)> = one
                    .strokes
                    .iter()
                    .filter_map(|stroke| {
                        let with = other.stroke_at(stroke.at)?;
                        let ticks = (with.start() - stroke.start()).abs() as f64;
                        Some((stroke.bar, take.millis(ticks)))
                    })
                    .collect();
                let furthest = apart.iter().max_by(|a, b| a.1.total_cmp(&b.1));
                let Some(&(bar, most)) = furthest.filter(|_| apart.len() >= ENOUGH) else {
                    continue;
                };
                readings.push(Reading {
                    value: apart.iter().map(|(_, millis)| millis).sum::<f64>() / apart.len() as f64,
                    looked: apart.len(),
                    bar: take.sheet.bars[bar].number,
                    what: format!("{} and {}, {most:.1} ms at most", one.role, other.role),
                });
            }
        }
        readings
    })
}
