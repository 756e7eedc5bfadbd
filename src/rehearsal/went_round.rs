//! Which part of the song a take went round, where nobody says so.

use std::ops::RangeInclusive;

use super::{Rehearsal, Rendition};
use crate::arrange::Arrangement;
use crate::chart::RoleSet;
use crate::practice::Stretch;
use crate::review::{fits, stays_on_one_chord};
use crate::take::Take;
use crate::time::Nanos;

/// By so much better a loop must fit than the song from its beginning to its end.
const BETTER: f64 = 0.2;

/// Where the whole song fits as well as this, no loop is looked for, unless the take is longer than the song by so much.
const WELL: f64 = 1.35;
const LONGER: f64 = 1.1;

/// A take of as many bars as the song, but for so many fewer or more, is the song from its beginning to its end, if it
/// fits at all: who forgets the bridge plays the verse over and over.
const THROUGH: (f64, f64) = (2.5, 1.0);
const SOMEHOW: f64 = 0.7;

/// So many lines of the chart are gone round together, but for whole sections.
const TOGETHER: usize = 2;

impl Rehearsal {
    /// The rehearsal of the loop that a take went round, and that in words; `None` where the whole song fits as well, the
    /// take stays on one chord, or something was asked for.
    pub fn went_round(&self, band: &Rendition, take: &Take) -> Option<(Self, String)> {
        if self.wishes().stretch.is_some() || take.hits.is_empty() {
            return None;
        }
        // Who never changes fits best where the song does not change either.
        if stays_on_one_chord(&band.arrangement, take) {
            return None;
        }
        let fit = |band: &Rendition| {
            let open = band.coverage(RoleSet::EMPTY);
            fits(&band.arrangement, &band.performance, &open, take).unwrap_or(-1.0)
        };
        let whole = &band.arrangement;
        let lasts = whole.tempo.nanos(whole.end - whole.start).seconds();
        let as_whole = fit(band);
        if as_whole > WELL && take.length.seconds() < LONGER * lasts {
            return None;
        }
        let (first, last) = take.hits.iter().fold((i64::MAX, i64::MIN), |(first, last), hit| {
            (first.min(hit.at.0), last.max(hit.at.0))
        });
        let plays = Nanos(last.saturating_sub(first)).seconds();
        let bar = whole.tempo.nanos(whole.meter.bar()).seconds();
        let through = (lasts - THROUGH.0 * bar..=lasts + THROUGH.1 * bar).contains(&plays);
        if through && as_whole > SOMEHOW {
            return None;
        }
        let mut best: Option<(f64, Self, String)> = None;
        for (bars, told) in loops(whole) {
            let stretch = Stretch::parse(&format!("{}-{}", bars.start(), bars.end())).ok();
            let mut round = self.clone();
            round.set_stretch(stretch);
            let rounds = round.rounds_of(take.length).ok().flatten();
            let Some(band) = rounds.and_then(|rounds| round.perform(rounds).ok()) else { continue };
            // A short loop fits by chance what a longer one does.
            let fit = fit(&band) - 0.02 / (bars.count().max(1) as f64);
            if fit > as_whole + BETTER && best.as_ref().is_none_or(|(most, ..)| fit > *most) {
                best = Some((fit, round, told));
            }
        }
        best.map(|(_, round, told)| (round, told))
    }
}

/// What players go round: the sections, each as it comes first, and the lines of them.
fn loops(whole: &Arrangement) -> Vec<(RangeInclusive<usize>, String)> {
    let mut out: Vec<(RangeInclusive<usize>, String)> = Vec::new();
    let mut seen: Vec<String> = Vec::new();
    let form: Vec<_> = whole.bars.iter().filter(|bar| whole.is_of_form(bar)).collect();
    for pass in form.chunk_by(|one, other| one.pass == other.pass) {
        let (Some(first), Some(last)) = (pass.first(), pass.last()) else { continue };
        let label = whole.passes.get(first.pass).map_or("", |pass| pass.label.as_str());
        let section = label.split(':').next().unwrap_or(label).to_owned();
        if seen.contains(&section) {
            continue;
        }
        out.push((
            first.number..=last.number,
            format!("the {section} (bars {} to {})", first.number, last.number),
        ));
        seen.push(section);
        let lines: Vec<_> = pass.chunk_by(|one, other| one.line == other.line).collect();
        for together in 1..=TOGETHER {
            for lines in lines.windows(together).filter(|some| some.len() < lines.len()) {
                let first = lines.first().and_then(|line| line.first());
                let last = lines.last().and_then(|line| line.last());
                let (Some(first), Some(last)) = (first, last) else { continue };
                let told = format!("bars {} to {}", first.number, last.number);
                out.push((first.number..=last.number, told));
            }
        }
    }
    out
}
