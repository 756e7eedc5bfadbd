//! The net that tells strokes and slurs from all else, run by adds, multiplies and comparisons in one fixed order: the
//! same on every machine.
//!
//! Its weights were learnt by `tests/outside/ear/train.py` from takes that are made of single notes of many instruments
//! (`takes.py` there), and written by `weights.py`. Its shape is told in `net.py` there, with where it comes from.

use std::sync::LazyLock;

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

/// Channels out that are summed at once, and frames: as many sums as a processor's registers hold.
const LANES: usize = 8;
const AT_ONCE: usize = 4;

/// A layer over time.
struct Time {
    parts: Vec<Part>,
}

/// [`LANES`] channels out: for each of three frames and each channel in their weights, and what is added.
struct Part {
    weights: [Vec<[f32; LANES]>; 3],
    bias: [f32; LANES],
}

/// A row of bands with `BESIDE` zeros on either side.
fn padded<const BESIDE: usize, const N: usize>(bands: impl Iterator<Item = f32>) -> [f32; N] {
    let mut row = [0.0; N];
    row.iter_mut().skip(BESIDE).zip(bands).for_each(|(into, x)| *into = x);
    row
}

/// Sums that are made at once: as many as a processor's registers hold.
const TILE: usize = 16;

/// Bands in whole tiles.
const fn tiled(bands: usize) -> usize {
    bands.next_multiple_of(TILE)
}

/// For each band what stands at its place and to the right of it in each row, by the row's weights, `K` of them.
fn slide<'a, const K: usize, const N: usize>(
    rows: impl Iterator<Item = Option<&'a [f32]>> + Clone,
    weights: &[f32],
    bias: f32,
) -> [f32; N] {
    let mut sums = [bias; N];
    let (weights, _) = weights.as_chunks::<K>();
    let (tiles, _) = sums.as_chunks_mut::<TILE>();
    for (tile, from) in tiles.iter_mut().zip((0..).step_by(TILE)) {
        let mut sums = [bias; TILE];
        for (row, weights) in rows.clone().zip(weights) {
            let Some(row) = row else { continue };
            for (place, weight) in (from..).zip(weights) {
                let Some(beside) = row.get(place..).and_then(|row| row.first_chunk::<TILE>())
                else {
                    continue;
                };
                sums.iter_mut().zip(beside).for_each(|(sum, x)| *sum += x * weight);
            }
        }
        *tile = sums;
    }
    sums
}

/// Of every two sums the larger, and nothing below 0.
fn larger(sums: &[f32]) -> impl Iterator<Item = f32> {
    sums.chunks_exact(2).map(|two| two.iter().fold(0.0, |most: f32, sum| most.max(*sum)))
}

/// Unpacked once: a band that is listened to asks for it twice a second.
pub(super) static NET: LazyLock<Net> = LazyLock::new(Net::new);

impl Net {
    fn new() -> Self {
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
        let rows: Vec<[f32; tiled(LONG) + 4]> =
            frames.iter().map(|frame| padded::<2, _>(frame.iter().take(LONG).copied())).collect();
        let firsts: Vec<[[f32; tiled(HALF) + 2]; FIRST]> = (0..frames.len())
            .map(|n| {
                let rows = beside(&rows, n).map(|row| row.map(|row| &row[..]));
                self.first.map(|weights, bias| {
                    let sums: [f32; tiled(LONG)] = slide::<5, _>(rows.into_iter(), weights, bias);
                    padded::<1, _>(larger(&sums).take(HALF))
                })
            })
            .collect();
        let gathered = |(n, frame): (usize, &Frame)| {
            let rows = beside(&firsts, n);
            let seconds = self.second.map(|weights, bias| {
                // By channel, and in each by frame.
                let rows = (0..FIRST).flat_map(|channel| {
                    rows.map(|rows| rows.and_then(|rows| rows.get(channel)).map(|row| &row[..]))
                });
                let sums: [f32; tiled(HALF)] = slide::<3, _>(rows, weights, bias);
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
        let taps: [Vec<[f32; WIDE]>; 3] = std::array::from_fn(|_| reader.rows(channels));
        let bias: [f32; WIDE] = reader.row();
        let lanes = |row: &[f32; WIDE], part: usize| -> [f32; LANES] {
            let (parts, _) = row.as_chunks::<LANES>();
            parts.get(part).copied().unwrap_or_default()
        };
        let part = |part: usize| Part {
            weights: taps.each_ref().map(|tap| tap.iter().map(|row| lanes(row, part)).collect()),
            bias: lanes(&bias, part),
        };
        Self { parts: (0..WIDE / LANES).map(part).collect() }
    }

    /// Each frame from itself and those `gap` before and after it.
    fn run<const IN: usize>(&self, frames: &[[f32; IN]], gap: usize, into: &mut [[f32; WIDE]]) {
        // By channel, so that a weight is fetched once for some frames.
        let mut taps = [[[0.0; AT_ONCE]; IN]; 3];
        for (n, into) in into.chunks_mut(AT_ONCE).enumerate() {
            for (tap, channels) in taps.iter_mut().enumerate() {
                for place in 0..AT_ONCE {
                    let at = (n * AT_ONCE + place + tap * gap).checked_sub(gap);
                    let frame = at.and_then(|at| frames.get(at)).unwrap_or(&[0.0; IN]);
                    for (channel, x) in channels.iter_mut().zip(frame) {
                        channel.iter_mut().skip(place).take(1).for_each(|into| *into = *x);
                    }
                }
            }
            for (part, place) in self.parts.iter().zip((0..).step_by(LANES)) {
                for (into, sums) in into.iter_mut().zip(part.sums(&taps)) {
                    into.iter_mut().skip(place).zip(sums).for_each(|(into, sum)| *into = sum);
                }
            }
        }
    }
}

impl Part {
    fn sums<const IN: usize>(&self, taps: &[[[f32; AT_ONCE]; IN]; 3]) -> [[f32; LANES]; AT_ONCE] {
        let mut sums = [self.bias; AT_ONCE];
        for (channels, weights) in taps.iter().zip(&self.weights) {
            for (xs, weights) in channels.iter().zip(weights) {
                for (sums, x) in sums.iter_mut().zip(xs) {
                    sums.iter_mut().zip(weights).for_each(|(sum, weight)| *sum += x * weight);
                }
            }
        }
        sums
    }
}

/// What stands at a place and on both sides of it, where there is any.
fn beside<T>(rows: &[T], n: usize) -> [Option<&T>; 3] {
    [n.checked_sub(1).and_then(|n| rows.get(n)), rows.get(n), rows.get(n + 1)]
}

#[cfg(test)]
mod tests {
    use super::super::weights::{layer, rows};
    use super::*;

    #[test]
    fn every_weight_is_read_and_none_is_missing() {
        let bank = FIRST * 16 + SECOND * (FIRST * 9 + 1);
        let over_time = |channels| 3 * rows(channels, WIDE) + 4 * WIDE;
        let over_time = over_time(GATHERED) + GAPS.len() * over_time(WIDE);
        assert_eq!(WEIGHTS.len(), 4 * bank + over_time + layer(WIDE, 2));
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
