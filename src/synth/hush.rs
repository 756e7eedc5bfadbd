/// A straight fall of one note to silence.
#[derive(Clone, Copy, Debug)]
pub(super) struct Hush {
    /// Frames of the next block before it begins.
    wait: usize,
    frames: u32,
    left: u32,
}

impl Hush {
    /// Takes what sounds to silence in `frames`, from `wait` frames into the next block on, or sooner
    /// if a hush is under way that ends sooner.
    pub fn begin(under_way: &mut Option<Self>, wait: usize, frames: u32) {
        let frames = frames.max(1);
        match under_way {
            Some(hush) if hush.left <= frames => {}
            Some(hush) => {
                // From the gain it has, so that there is no step.
                let share = hush.left as f32 / hush.frames as f32;
                let whole = (frames as f32 / share).min(1e9);
                *hush = Self { wait, frames: whole as u32, left: frames };
            }
            hush @ None => *hush = Some(Self { wait, frames, left: frames }),
        }
    }

    /// The block of a note that begins `wait` frames into it: the hush waits so much less.
    pub fn enter(&mut self, wait: usize) {
        self.wait = self.wait.saturating_sub(wait);
    }

    /// The gain of the next frame.
    pub fn next(&mut self) -> f32 {
        if self.wait > 0 {
            self.wait -= 1;
        } else {
            self.left = self.left.saturating_sub(1);
        }
        self.left as f32 / self.frames as f32
    }

    /// True once there is silence.
    pub const fn is_over(self) -> bool {
        self.left == 0
    }
}
