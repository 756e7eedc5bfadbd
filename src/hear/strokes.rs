use super::attack::attack;
use super::features::{FRAMES, Features};
use super::net::{Net, REACH, Told};
use super::peaks::peaks;
use super::resample::RATE;

/// How likely it must be that a stroke or a slur begins.
const LIKELY: f32 = 0.55;

/// A slur is told where it is likelier than a stroke by this.
const SLURRED: f32 = 1.0;

/// Frames on either side that count for which of both it is.
const AROUND: usize = 3;

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

/// When each stroke and slur began, in samples, by time, in a sound at [`RATE`] whose loud places are as loud as `loud`.
pub(super) fn begun(sound: &[f32], loud: f32) -> Vec<(f64, Kind)> {
    let told = told(sound, loud);
    let either: Vec<f32> = told.iter().map(|[stroke, slur]| stroke + slur).collect();
    let mut begun = Vec::new();
    for seconds in peaks(&either, LIKELY) {
        let frame = (seconds * f64::from(FRAMES)).round() as usize;
        let around = told.get(frame.saturating_sub(AROUND)..told.len().min(frame + AROUND + 1));
        let around = around.unwrap_or_default().iter();
        let (stroke, slur) =
            around.fold((0.0, 0.0), |sums, told| (sums.0 + told[0], sums.1 + told[1]));
        let at = seconds * f64::from(RATE);
        begun.push(if slur > SLURRED * stroke {
            (at, Kind::Slur)
        } else {
            (attack(sound, RATE, at as usize), Kind::Stroke)
        });
    }
    begun.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    begun.dedup_by(|later, earlier| later.0 - earlier.0 < APART * f64::from(RATE));
    begun
}

/// What the net tells of each frame, stretch by stretch.
fn told(sound: &[f32], loud: f32) -> Vec<Told> {
    let net = Net::new();
    let mut features = Features::new(loud);
    let count = Features::count(sound.len());
    let mut all = Vec::with_capacity(count);
    for from in (0..count).step_by(AT_ONCE) {
        let to = (from + AT_ONCE).min(count);
        let start = from.saturating_sub(REACH);
        let frames = features.frames(sound, start, (to + REACH).min(count));
        let told = net.run(&frames);
        all.extend(told.get(from - start..to - start).unwrap_or_default());
    }
    all
}
