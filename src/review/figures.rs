use super::changes::{Backing, Changes};
use super::harmony::Harmony;
use super::late_changes::LateChanges;
use super::lay::Laid;
use super::place::{Placed, Placing};
use super::song_grid::{SongGrid, Spot};
use super::trend::{mean, median, spread};
use super::{
    Advice, BarReview, Busy, Figures, HitReview, Part, PassReview, Review, Timing, TimingReference,
    Tone, Tones,
};
use crate::arrange::{Arrangement, Bar};
use crate::coverage::{BarCoverage, Coverage, Job, Singing};
use crate::take::{Hit, Source};
use crate::theory::MidiNote;
use crate::time::Ticks;

/// A bar that the take reaches, with what belongs to it.
#[derive(Clone, Debug)]
pub(super) struct SheetBar<'a> {
    /// The bar.
    pub bar: &'a Bar,
    /// What is open in it.
    pub covered: &'a BarCoverage,
    /// Its strokes, in [`Sheet::strokes`].
    pub strokes: std::ops::Range<usize>,
    /// Places that were open for the player.
    pub open: usize,
    /// Those where the player played.
    pub filled: usize,
    /// How many places it has.
    pub places: usize,
    /// True if it is a bar of the form.
    pub counts: bool,
}

/// A stroke with all that is known of it.
#[derive(Clone, Copy, Debug)]
pub(super) struct SheetStroke<'a> {
    /// Where it is.
    pub placed: Placed,
    /// The place it was played for.
    pub spot: &'a Spot,
    /// Seconds from the take's first stroke.
    pub time: f64,
    /// What sounds.
    pub pitches: &'a [MidiNote],
    /// How hard it was.
    pub loud: u8,
    /// What it is to the chord.
    pub tone: Tone,
}

/// The take written out, bar for bar.
#[derive(Clone, Debug)]
pub(super) struct Sheet<'a> {
    /// The song.
    pub song: &'a Arrangement,
    /// What early and late are told against.
    pub against: TimingReference,
    /// The bars from the first that is played in to the last.
    pub bars: Vec<SheetBar<'a>>,
    /// The strokes within them.
    pub strokes: Vec<SheetStroke<'a>>,
    /// Which chord was played where.
    pub changes: Changes,
    /// Chords that come late as a habit.
    pub late: Option<LateChanges>,
    /// By how many seconds the player's second eighths come after the song's.
    pub swing: Option<f64>,
    /// By how many seconds the strokes of fills come after the player's own beat.
    pub fills: Vec<f64>,
    /// In which bars, by their place in [`Arrangement::bars`], how many seconds were lost, or won if below 0.
    pub lost: Vec<(usize, f64)>,
    /// Where the song's first beat lies in the take, in seconds from its first stroke.
    pub begins: f64,
}

impl<'a> Sheet<'a> {
    pub(super) fn new(
        song: &'a Arrangement,
        coverage: &'a Coverage,
        grid: &'a SongGrid,
        harmony: &Harmony<'_>,
        hits: &[&'a Hit],
        times: &[f64],
        placing: &Placing,
    ) -> Self {
        let strokes: Vec<SheetStroke<'a>> = placing
            .strokes
            .iter()
            .filter_map(|&placed| {
                let spot = grid.spots.get(placed.spot)?;
                let pitches = hits.get(placed.stroke).map_or(&[][..], |hit| hit.pitches.as_slice());
                let time = times.get(placed.stroke).copied()?;
                let tone = harmony.stroke(spot.at, pitches);
                let loud = hits.get(placed.stroke).map_or(1, |hit| hit.loud);
                Some(SheetStroke { placed, spot, time, pitches, loud, tone })
            })
            .collect();
        let reach = strokes.iter().map(|stroke| stroke.placed.spot).fold(
            None,
            |reach: Option<(usize, usize)>, spot| match reach {
                None => Some((spot, spot)),
                Some((first, last)) => Some((first.min(spot), last.max(spot))),
            },
        );
        let (first, last) = reach.unwrap_or((1, 0));
        let mut struck = vec![false; grid.spots.len()];
        for stroke in strokes.iter().filter(|stroke| stroke.placed.tells || !stroke.spot.steady) {
            if let Some(struck) = struck.get_mut(stroke.placed.spot) {
                *struck = true;
            }
        }
        let mut bars: Vec<SheetBar<'a>> = Vec::new();
        let reached = grid.spots.iter().zip(&struck).enumerate();
        for (index, (spot, &struck)) in reached {
            let known = song.bars.get(spot.bar).zip(coverage.bars.get(spot.bar));
            let Some((bar, covered)) = known else { continue };
            let within = (first..=last).contains(&index);
            if bars.last().is_none_or(|last| !std::ptr::eq(last.bar, bar)) {
                let counts = song.is_of_form(bar);
                let strokes = 0..0;
                bars.push(SheetBar {
                    bar,
                    covered,
                    strokes,
                    open: 0,
                    filled: 0,
                    places: 0,
                    counts,
                });
            }
            let Some(here) = bars.last_mut() else { continue };
            here.places += 1;
            here.open += usize::from(within && spot.open);
            here.filled += usize::from(within && spot.open && struck);
        }
        let mut next = 0;
        for (index, here) in bars.iter_mut().enumerate() {
            let from = next;
            while strokes.get(next).is_some_and(|stroke| stroke.spot.bar <= index) {
                next += 1;
            }
            here.strokes = from..next;
        }
        let in_reach = |bar: usize| {
            let spot = |index: usize| grid.spots.get(index).map(|spot| spot.bar);
            spot(first).is_some_and(|first| first <= bar)
                && spot(last).is_some_and(|last| bar <= last)
        };
        let bars: Vec<SheetBar<'a>> = bars
            .into_iter()
            .enumerate()
            .filter(|&(index, _)| in_reach(index))
            .map(|(_, bar)| bar)
            .collect();
        let bar_of =
            |&(spot, seconds): &(usize, f64)| grid.spots.get(spot).map(|spot| (spot.bar, seconds));
        let lost = placing.lost.iter().filter_map(bar_of).collect();
        let (against, begins) = (placing.against, placing.begins);
        let backs = |bar: &&SheetBar<'_>| bar.counts && bar.covered.job != Job::Lead;
        let backing = bars.iter().filter(backs).flat_map(|bar| {
            let (number, pass) = (bar.bar.number, bar.bar.pass);
            let own = strokes.get(bar.strokes.clone()).unwrap_or_default();
            own.iter().map(move |stroke| {
                let (at, pitches) = (stroke.spot.at, stroke.pitches);
                Backing { bar: number, pass, at, pitches }
            })
        });
        let late = LateChanges::of(song, harmony, backing.clone());
        let behind = late.as_ref().map_or(Ticks::ZERO, |late| late.behind);
        let changes = Changes::of(song, harmony, backing, behind);
        let (swing, fills) = (placing.swing, placing.fills.clone());
        Self { song, against, bars, strokes, changes, late, swing, fills, lost, begins }
    }

    /// True if the strokes between two lost beats go along with the chords no better than by chance.
    pub(super) fn goes_astray(&self, laid: &Laid) -> bool {
        /// The share of them that is outside the chord: a player who lost a beat plays right but for that.
        const ASTRAY: f64 = 0.15;
        let returns = laid.shifts.iter().skip(1).any(|(_, shift)| *shift == laid.base);
        returns
            && self.lost.windows(2).any(|pair| {
                let [(from, _), (to, _)] = pair else { return false };
                let within = self.strokes.iter().filter(|stroke| {
                    (from..to).contains(&&stroke.spot.bar) && stroke.tone != Tone::Unknown
                });
                let outside = within.clone().filter(|stroke| stroke.tone == Tone::Outside);
                outside.count() as f64 > ASTRAY * within.count() as f64
            })
    }

    /// True in the last beat before a chord on another root.
    pub(super) fn is_before_change(&self, at: Ticks) -> bool {
        Harmony::new(self.song).leads_on(at)
    }

    /// The strokes of a bar.
    pub(super) fn of(&self, bar: &SheetBar<'_>) -> &[SheetStroke<'a>] {
        self.strokes.get(bar.strokes.clone()).unwrap_or_default()
    }

    /// Figures of some bars, one after the other.
    pub(super) fn figures(&self, bars: &[SheetBar<'_>], band_spread: f64) -> Figures {
        let of: Vec<&SheetStroke<'_>> = bars.iter().flat_map(|bar| self.of(bar)).collect();
        let mut tones = Tones::default();
        for stroke in &of {
            *match stroke.tone {
                Tone::Chord => &mut tones.chord,
                Tone::Sixth => &mut tones.sixth,
                Tone::Anticipation => &mut tones.anticipation,
                Tone::Outside => &mut tones.outside,
                Tone::Unknown => &mut tones.unknown,
            } += 1;
        }
        let counted = || bars.iter().filter(|bar| bar.counts);
        let busy = |singing: Singing| {
            let strokes: Vec<f64> = counted()
                .filter(|bar| bar.covered.singing == singing && bar.covered.job != Job::Lead)
                .map(|bar| bar.strokes.len() as f64)
                .collect();
            (!strokes.is_empty()).then(|| mean(&strokes))
        };
        Figures {
            hits: of.len(),
            open: counted().map(|bar| bar.open).sum(),
            covered: counted().map(|bar| bar.filled).sum(),
            timing: timing(&of, band_spread),
            tones,
            busy: Busy {
                sung: busy(Singing::Sings),
                pauses: busy(Singing::Pauses),
                others: busy(Singing::Nobody),
            },
        }
    }

    /// All of it as a review, without what is found in it.
    pub(super) fn review(&self, band_spread: f64) -> Review {
        let song = self.song;
        let mut passes: Vec<PassReview> = Vec::new();
        for group in self.bars.chunk_by(|one, other| one.bar.pass == other.bar.pass) {
            let (Some(first), Some(last)) = (group.first(), group.last()) else { continue };
            let Some(pass) = song.passes.get(first.bar.pass) else { continue };
            if pass.is_of_form() {
                passes.push(PassReview {
                    label: pass.label.clone(),
                    bars: (first.bar.number, last.bar.number),
                    figures: self.figures(group, band_spread),
                });
            }
        }
        let numbered = self.bars.iter().filter(|bar| bar.bar.number > 0);
        Review {
            title: song.title.clone(),
            key: song.key.to_string(),
            meter: song.meter.to_string(),
            tempo: 0.0,
            speed: 100.0,
            open: song
                .band
                .iter()
                .filter(|&role| self.bars.iter().all(|bar| bar.covered.open.contains(role)))
                .map(|role| role.to_string())
                .collect(),
            source: Source::Midi,
            begins: self.begins,
            sure: 0.0,
            against: self.against,
            swing: None,
            remarks: Vec::new(),
            whole: self.figures(&self.bars, band_spread),
            passes,
            bars: numbered.map(|bar| self.bar(bar)).collect(),
            hits: self.strokes.iter().filter_map(|stroke| self.hit(stroke)).collect(),
            findings: Vec::new(),
            advice: Advice {
                about: Part::Steady,
                words: String::new(),
                bars: None,
                speed: 100.0,
                command: String::new(),
            },
        }
    }

    fn bar(&self, bar: &SheetBar<'_>) -> BarReview {
        let spans = self.song.spans.get(bar.bar.spans.clone()).unwrap_or_default();
        let name = |chord| self.song.chord(chord).map(ToString::to_string);
        BarReview {
            number: bar.bar.number,
            chords: spans
                .iter()
                .map(|span| span.chord.and_then(name).unwrap_or_else(|| "N.C.".to_owned()))
                .collect(),
            job: bar.covered.job,
            singing: bar.covered.singing,
            open: bar.open,
            covered: bar.filled,
            hits: bar.strokes.len(),
        }
    }

    fn hit(&self, stroke: &SheetStroke<'_>) -> Option<HitReview> {
        let bar = self.song.bars.get(stroke.spot.bar)?;
        let into = (stroke.spot.at - bar.start).get() as f64;
        Some(HitReview {
            at: stroke.time - self.begins,
            bar: bar.number,
            place: into / bar.meter.bar().get().max(1) as f64,
            part: stroke.spot.place,
            late: stroke.placed.late * 1e3,
            fills: stroke.spot.open && stroke.placed.tells,
            tone: stroke.tone,
        })
    }
}

/// How early and late some strokes are.
pub(super) fn timing(strokes: &[&SheetStroke<'_>], band_spread: f64) -> Timing {
    let of = |value: fn(&Placed) -> f64| -> Vec<f64> {
        let telling = strokes.iter().filter(|stroke| stroke.placed.tells);
        // A fill may be pushed, and is judged by itself.
        let telling = telling.filter(|stroke| stroke.spot.job != Job::Fill);
        telling.map(|stroke| value(&stroke.placed)).collect()
    };
    Timing {
        mean: mean(&of(|placed| placed.beside)) * 1e3,
        spread: spread(&of(|placed| placed.stray)) * 1e3,
        band_spread,
        rushing: -median(&of(|placed| placed.rate)) * 100.0,
    }
}
