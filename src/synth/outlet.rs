use super::{Fade, Limiter, QUANTUM, Renderer};

/// What reckons the sound of a performance, block after block.
pub trait Blocks: Send {
    /// Fills the next block of each side. Takes no memory and no lock.
    fn block(&mut self, left: &mut [f32; QUANTUM], right: &mut [f32; QUANTUM]);
}

/// A renderer of blocks: takes [`QUANTUM`] frames at a time as they are reckoned, limits them, and
/// hands them out in pieces of any length, up to the end or the damping hand.
#[derive(Clone, Debug)]
pub struct Outlet<B> {
    blocks: B,
    sample_rate: u32,
    limiter: Limiter,
    fade: Fade,
    left: [f32; QUANTUM],
    right: [f32; QUANTUM],
    /// Frames of the block that have been handed out.
    read: usize,
    position: u64,
    total: u64,
    /// The first frame of a fade that ends with the last.
    fades_from: u64,
    primed: bool,
}

impl<B: Blocks> Outlet<B> {
    /// For that many frames in all.
    pub fn over(blocks: B, sample_rate: u32, total: u64) -> Self {
        Self {
            blocks,
            sample_rate,
            limiter: Limiter::new(sample_rate),
            fade: Fade::new(sample_rate),
            left: [0.0; QUANTUM],
            right: [0.0; QUANTUM],
            read: QUANTUM,
            position: 0,
            total,
            fades_from: total,
            primed: false,
        }
    }

    /// Fades from that frame on to the last.
    pub(super) fn fading_from(mut self, frame: u64) -> Self {
        self.fades_from = frame.min(self.total);
        self
    }
}

impl<B> Outlet<B> {
    /// What it takes its blocks from.
    pub(super) const fn blocks(&self) -> &B {
        &self.blocks
    }

    /// The same, to be told something.
    pub(super) const fn blocks_mut(&mut self) -> &mut B {
        &mut self.blocks
    }

    /// Limits no more.
    pub(super) const fn lift_limiter(&mut self) {
        self.limiter.lift();
    }

    /// How many frames will be reckoned in order to hand out that many.
    pub(super) const fn frames_for(&self, frames: usize) -> u64 {
        let missing = frames.saturating_sub(QUANTUM - self.read);
        let first = if self.primed || missing == 0 { 0 } else { 1 };
        ((missing.div_ceil(QUANTUM) + first) * QUANTUM) as u64
    }
}

impl<B: Blocks> Renderer for Outlet<B> {
    fn render(&mut self, left: &mut [f32], right: &mut [f32]) {
        let frames = left.len().min(right.len());
        let mut done = 0;
        while done < frames && !self.finished() {
            if self.read == QUANTUM {
                // The limiter holds one block back: reckoned one ahead, the first frame out is the
                // song's first.
                for _ in 0..if self.primed { 1 } else { 2 } {
                    self.blocks.block(&mut self.left, &mut self.right);
                    self.limiter.next(&mut self.left, &mut self.right);
                }
                self.primed = true;
                self.read = 0;
            }
            let to_end = usize::try_from(self.total - self.position).unwrap_or(usize::MAX);
            let count = (QUANTUM - self.read).min(frames - done).min(to_end);
            let (Some(left), Some(right)) =
                (left.get_mut(done..done + count), right.get_mut(done..done + count))
            else {
                break;
            };
            let from = self.read..self.read + count;
            left.copy_from_slice(self.left.get(from.clone()).unwrap_or_default());
            right.copy_from_slice(self.right.get(from).unwrap_or_default());
            if self.position + count as u64 > self.fades_from {
                let length = (self.total - self.fades_from) as f32;
                for ((left, right), frame) in left.iter_mut().zip(&mut *right).zip(self.position..)
                {
                    let left_over = (self.total - frame.max(self.fades_from)) as f32 / length;
                    *left *= left_over * left_over;
                    *right *= left_over * left_over;
                }
            }
            self.fade.apply(left, right);
            self.read += count;
            self.position += count as u64;
            done += count;
        }
        for side in [left, right] {
            side.iter_mut().skip(done).for_each(|frame| *frame = 0.0);
        }
    }

    fn sample_rate(&self) -> u32 {
        self.sample_rate
    }

    fn position_frames(&self) -> u64 {
        self.position
    }

    fn total_frames(&self) -> u64 {
        self.total
    }

    fn finished(&self) -> bool {
        self.position >= self.total || self.fade.is_over()
    }

    fn silence(&mut self) {
        self.fade.begin();
    }
}
