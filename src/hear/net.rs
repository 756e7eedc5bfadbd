//! The net that tells strokes and slurs from all else, run by adds, multiplies and comparisons in one fixed order: the
//! same on every machine.
//!
//! Its weights were learnt by `tests/outside/ear/train.py` from takes that are made of single notes of many instruments
//! (`takes.py` there), and written by `weights.py`. Its shape is told in `net.py` there, with where it comes from.

use super::features::{Frame, LONG, SHORT};
use super::weights::{Reader, weigh};

/// Channels of the two layers that look at bands beside each other, and of those over time.
const FIRST: usize = 6;
const SECOND: usize = 10;
const WIDE: usize = 40;

/// Frames between the three that each layer over time looks at.
const GAPS: [usize; 6] = [1, 2, 4, 8, 16, 4];

/// Bands after the first layer, of whose every two the larger is kept, and after the second.
const HALF: usize = LONG / 2;
const QUARTER: usize = HALF / 2;

/// What the layers over time are given of a frame.
const GATHERED: usize = SECOND * QUARTER + SHORT;

/// Frames on either side of one on which depends what is told of it: one for each layer before those over time, and
/// the gaps.
pub(super) const REACH: usize = 38;

static WEIGHTS: &[u8] = include_bytes!("weights.bin");

/// The net's weights.
pub(super) struct Net {
    first: Bank<FIRST, 15>,
    second: Bank<SECOND, { FIRST * 9 }>,
    gather: Time,
    layers: Vec<Time>,
    told: Vec<[f32; 2]>,
    told_bias: [f32; 2],
}

/// What is told of a frame: how likely a stroke, and how likely a slur, begins there. With that neither does they
/// add up to 1.
pub(super) type Told = [f32; 2];

/// A layer over bands: for each channel out its weights and what is added.
struct Bank<const OUT: usize, const IN: usize> {
    weights: [[f32; IN]; OUT],
    bias: [f32; OUT],
}

/// A layer over time: for each of three frames and each channel in, the weights of all channels out.
struct Time {
    weights: [Vec<[f32; WIDE]>; 3],
    bias: [f32; WIDE],
}

/// A row of bands with `BESIDE` zeros on either side.
fn padded<const BESIDE: usize, const N: usize>(bands: impl Iterator<Item = f32>) -> [f32; N] {
    let mut row = [0.0; N];
    row.iter_mut().skip(BESIDE).zip(bands).for_each(|(into, x)| *into = x);
    row
}

/// Adds to each sum what stands at its place and to the right of it, by the weights.
fn slide<const N: usize>(row: &[f32], weights: &[f32], sums: &mut [f32; N]) {
    for (place, weight) in weights.iter().enumerate() {
        let from = row.get(place..).unwrap_or_default();
        sums.iter_mut().zip(from).for_each(|(sum, x)| *sum += x * weight);
    }
}

/// Of every two sums the larger, and nothing below 0.
fn larger(sums: &[f32]) -> impl Iterator<Item = f32> {
    sums.chunks_exact(2).map(|two| two.iter().fold(0.0, |most: f32, sum| most.max(*sum)))
}

impl Net {
    pub fn new() -> Self {
        let mut reader = Reader::new(WEIGHTS);
        Self {
            first: Bank::read(&mut reader),
            second: Bank::read(&mut reader),
            gather: Time::read(&mut reader, GATHERED),
            layers: GAPS.iter().map(|_| Time::read(&mut reader, WIDE)).collect(),
            told: reader.rows(WIDE),
            told_bias: reader.row(),
        }
    }

    /// What is told of each frame. Beyond the first and the last there is silence; where the sound goes on there, what
    /// is told of the [`REACH`] frames at that end does not count.
    pub fn run(&self, frames: &[Frame]) -> Vec<Told> {
        let mut now = vec![[0.0; WIDE]; frames.len()];
        self.gather.run(&self.bands(frames), 1, &mut now);
        now.iter_mut().for_each(|row| *row = row.map(|x| x.max(0.0)));
        let mut next = now.clone();
        for (layer, gap) in self.layers.iter().zip(GAPS) {
            layer.run(&now, gap, &mut next);
            for (row, new) in now.iter_mut().zip(&next) {
                row.iter_mut().zip(new).for_each(|(old, new)| *old += new.max(0.0));
            }
        }
        now.iter().map(|row| self.told(row)).collect()
    }

    /// The layers over bands, and beside what they find the short window's.
    fn bands(&self, frames: &[Frame]) -> Vec<[f32; GATHERED]> {
        let rows: Vec<[f32; LONG + 4]> =
            frames.iter().map(|frame| padded::<2, _>(frame.iter().take(LONG).copied())).collect();
        let firsts: Vec<[[f32; HALF + 2]; FIRST]> = (0..frames.len())
            .map(|n| {
                let rows = beside(&rows, n);
                self.first.map(|weights, bias| {
                    let mut sums = [bias; LONG];
                    for (row, weights) in rows.iter().zip(weights.chunks_exact(5)) {
                        row.inspect(|row| slide(*row, weights, &mut sums));
                    }
                    padded::<1, _>(larger(&sums))
                })
            })
            .collect();
        let gathered = |(n, frame): (usize, &Frame)| {
            let rows = beside(&firsts, n);
            let seconds = self.second.map(|weights, bias| {
                let mut sums = [bias; HALF];
                // By channel, and in each by frame.
                for (channel, weights) in weights.chunks_exact(9).enumerate() {
                    for (rows, weights) in rows.iter().zip(weights.chunks_exact(3)) {
                        let row = rows.and_then(|rows| rows.get(channel));
                        row.inspect(|row| slide(*row, weights, &mut sums));
                    }
                }
                padded::<0, QUARTER>(larger(&sums))
            });
            padded::<0, _>(seconds.iter().flatten().chain(frame.iter().skip(LONG)).copied())
        };
        frames.iter().enumerate().map(gathered).collect()
    }

    fn told(&self, row: &[f32; WIDE]) -> Told {
        let mut sums = self.told_bias;
        for (x, weights) in row.iter().zip(&self.told) {
            weigh(*x, weights, &mut sums);
        }
        // The logarithm of how much likelier each is than neither.
        let [stroke, slur] = sums.map(|sum| libm::expf(sum.min(50.0)));
        [stroke, slur].map(|one| one / (1.0 + stroke + slur))
    }
}

impl<const OUT: usize, const IN: usize> Bank<OUT, IN> {
    fn read(reader: &mut Reader) -> Self {
        Self { weights: std::array::from_fn(|_| reader.row()), bias: reader.row() }
    }

    /// For each channel out what is made of its weights and what is added.
    fn map<T>(&self, channel: impl Fn(&[f32; IN], f32) -> T) -> [T; OUT] {
        let mut biases = self.bias.iter();
        self.weights
            .each_ref()
            .map(|weights| channel(weights, biases.next().copied().unwrap_or_default()))
    }
}

impl Time {
    fn read(reader: &mut Reader, channels: usize) -> Self {
        Self { weights: std::array::from_fn(|_| reader.rows(channels)), bias: reader.row() }
    }

    /// Each frame from itself and those `gap` before and after it.
    fn run<const IN: usize>(&self, frames: &[[f32; IN]], gap: usize, into: &mut [[f32; WIDE]]) {
        for (n, into) in into.iter_mut().enumerate() {
            let mut sums = self.bias;
            for (tap, weights) in self.weights.iter().enumerate() {
                let at = (n + tap * gap).checked_sub(gap);
                let Some(frame) = at.and_then(|at| frames.get(at)) else { continue };
                for (x, weights) in frame.iter().zip(weights) {
                    weigh(*x, weights, &mut sums);
                }
            }
            *into = sums;
        }
    }
}

/// What stands at a place and on both sides of it, where there is any.
fn beside<T>(rows: &[T], n: usize) -> [Option<&T>; 3] {
    [n.checked_sub(1).and_then(|n| rows.get(n)), rows.get(n), rows.get(n + 1)]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_weight_is_read_and_none_is_missing() {
        let bank = FIRST * 16 + SECOND * (FIRST * 9 + 1);
        let over_time = (3 * GATHERED + 1) * WIDE + GAPS.len() * (3 * WIDE + 1) * WIDE;
        assert_eq!(WEIGHTS.len(), 4 * (bank + over_time + 2 * WIDE + 2));
        assert_eq!(REACH, 3 + GAPS.iter().sum::<usize>());
    }

    #[test]
    fn stretches_make_no_difference() {
        let frames: Vec<Frame> = (0..300)
            .map(|n| std::array::from_fn(|band| ((n * 31 + band * 17) % 64) as f32 / 32.0))
            .collect();
        let net = Net::new();
        let whole = net.run(&frames);
        let part = net.run(&frames[100 - REACH..200 + REACH]);
        assert_eq!(part[REACH..100 + REACH], whole[100..200]);
        assert!(
            whole
                .iter()
                .all(|[stroke, slur]| *stroke >= 0.0 && *slur >= 0.0 && stroke + slur <= 1.0)
        );
    }
}
