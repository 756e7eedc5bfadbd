use super::attack::attack;
use super::closer::{AROUND, CLOSER, Near};
use super::features::{FRAMES, Features};
use super::flashes::Flashes;
use super::net::{NET, REACH, Told};
use super::notes::{Begun, Ear};
use super::peaks::peaks;
use super::resample::RATE;

/// How likely the first net must hold it that a stroke or a slur begins, for it to be looked at closer; and how likely it
/// must be then.
const MAYBE: f32 = 0.35;
const LIKELY: f32 = 0.5;

/// Where the first net holds a beginning for so likely, and a slur for so much less likely than a stroke, it is believed: of
/// 200 such places under all conditions one is no stroke. They are two thirds of all, and looking closer takes its
/// time.
const SURE: f32 = 0.9;
const NO_SLUR: f32 = 0.05;

/// Where a slur is this much less likely than a stroke, it is told still: there are more strokes than slurs to learn from, and
/// a slur that is told as a stroke does more harm. On voices that were learnt from, as many strokes are told rightly.
const AS_A_SLUR: f32 = 2.0;

/// Seconds by which strokes are apart at least; what is nearer is one stroke.
const APART: f64 = 0.025;

/// Frames that are heard at once: half a minute, so that an hour takes no more memory than a minute.
const AT_ONCE: usize = 3_000;

/// What began.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Kind {
    /// A string, or several at once, that were struck.
    Stroke,
    /// A note that a string which sounded already went on with: a slide, a hammer-on, a pull-off.
    Slur,
}

/// Seconds from the beginning of a recording in which a stroke has too little before it to be told from what goes on, and
/// seconds of silence that are put before it then.
const EDGE: f64 = 0.03;
const SILENCE: f64 = 0.1;

/// A stroke at the edge is one only if there is less before it: if the first of these times, in seconds, is so much softer
/// than all of the second. Of places by chance in what rings of a guitar or a banjo hardly one is, and what was trimmed
/// three milliseconds or more before a stroke nearly always.
const RISES: (f64, f64, f32) = (0.006, 0.045, 0.6);

/// When each stroke and slur began, in samples, by time, in a sound at [`RATE`] whose loud places are as loud as `loud`.
pub(super) fn begun(sound: &[f32], loud: f32) -> Vec<(f64, Kind)> {
    let mut begun = found(sound, loud);
    let edge = EDGE * f64::from(RATE);
    if !rises(sound) {
        // What was cut within what rings begins at once, as a stroke does.
        begun.retain(|(at, _)| *at >= edge);
    } else if begun.first().is_none_or(|(at, _)| *at >= 2.0 * edge)
        && let Some(first) = at_the_edge(sound, loud)
    {
        begun.insert(0, (first, Kind::Stroke));
    }
    begun
}

const fn samples(seconds: f64) -> usize {
    (seconds * RATE as f64) as usize
}

/// True if a recording is softer in its first moment than soon after.
fn rises(sound: &[f32]) -> bool {
    let top =
        |seconds| sound.iter().take(samples(seconds)).fold(0.0_f32, |top, x| top.max(x.abs()));
    top(RISES.0) < RISES.2 * top(RISES.1)
}

/// The stroke that a trimmed recording begins with.
fn at_the_edge(sound: &[f32], loud: f32) -> Option<f64> {
    let mut head = vec![0.0; samples(SILENCE)];
    // Enough for what looks around a stroke.
    head.extend(sound.iter().take(samples(1.0)));
    let (at, kind) = found(&head, loud).into_iter().next()?;
    let at = at - samples(SILENCE) as f64;
    (kind == Kind::Stroke && at < samples(EDGE) as f64).then_some(at.max(0.0))
}

fn found(sound: &[f32], loud: f32) -> Vec<(f64, Kind)> {
    let told = told(sound, loud);
    let either: Vec<f32> = told.iter().map(|[stroke, slur]| stroke + slur).collect();
    let maybe = peaks(&either, MAYBE);
    let places: Vec<f64> = maybe.iter().map(|seconds| seconds * f64::from(RATE)).collect();
    let (mut ear, mut flashes) = (Ear::new(sound), Flashes::new(loud));
    let mut begun = Vec::new();
    for ((seconds, place), around) in
        maybe.iter().zip(&places).zip(Begun::all(&places, sound.len()))
    {
        let near = near(&told, (seconds * f64::from(FRAMES)).round() as usize);
        let first = first(&near);
        let [stroke, slur] = if sure(first) {
            first
        } else {
            let (spectra, lasted) = ear.spectra(&around);
            let flashes = flashes.around(sound, around.at);
            let second = CLOSER.run(&spectra, lasted, &near, &flashes, sound, around.at);
            // Both are heard, and count alike: either may be misled by an instrument that it never heard.
            [first[0] + second[0], first[1] + second[1]].map(|sum| sum / 2.0)
        };
        if stroke + slur < LIKELY {
            continue;
        }
        begun.push(if AS_A_SLUR * slur > stroke {
            (*place, Kind::Slur)
        } else {
            (attack(sound, RATE, *place as usize), Kind::Stroke)
        });
    }
    begun.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    begun.dedup_by(|later, earlier| later.0 - earlier.0 < APART * f64::from(RATE));
    begun
}

/// What the first net holds a place for: how likely it is a beginning by what was told there, which of both by what was
/// told around it.
fn first(near: &Near) -> Told {
    let here: f32 = near.iter().filter_map(|told| told.get(AROUND)).sum();
    let sums = near.map(|told| told.into_iter().sum::<f32>());
    let both = sums.iter().sum::<f32>().max(1e-9);
    sums.map(|sum| here * sum / both)
}

/// Whether that is a stroke beyond doubt.
fn sure([stroke, slur]: Told) -> bool {
    stroke + slur > SURE && slur < NO_SLUR * stroke
}

/// What the first net told around a frame: nothing beyond the ends.
fn near(told: &[Told], frame: usize) -> Near {
    let mut near: Near = Default::default();
    let [strokes, slurs] = &mut near;
    for (off, (stroke, slur)) in strokes.iter_mut().zip(slurs).enumerate() {
        let told = (frame + off).checked_sub(AROUND).and_then(|at| told.get(at));
        [*stroke, *slur] = told.copied().unwrap_or_default();
    }
    near
}

/// What the net tells of each frame, stretch by stretch.
fn told(sound: &[f32], loud: f32) -> Vec<Told> {
    let mut features = Features::new(loud);
    let count = Features::count(sound.len());
    let mut all = Vec::with_capacity(count);
    for from in (0..count).step_by(AT_ONCE) {
        let to = (from + AT_ONCE).min(count);
        let start = from.saturating_sub(REACH);
        let frames = features.frames(sound, start, (to + REACH).min(count));
        let told = NET.run(&frames);
        all.extend(told.get(from - start..to - start).unwrap_or_default());
    }
    all
}
