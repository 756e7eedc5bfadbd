/// The damping of everything at once: a straight fall to silence.
#[derive(Clone, Copy, Debug)]
pub struct Fade {
    left: Option<u32>,
    frames: u32,
}

impl Fade {
    /// Not begun. It will take 30 ms.
    pub fn new(sample_rate: u32) -> Self {
        Self { left: None, frames: (sample_rate / 100 * 3).max(1) }
    }

    /// Begins, unless it has begun.
    pub fn begin(&mut self) {
        self.left.get_or_insert(self.frames);
    }

    /// True once there is only silence.
    pub fn is_over(self) -> bool {
        self.left == Some(0)
    }

    /// Fades the next frames.
    pub fn apply(&mut self, left: &mut [f32], right: &mut [f32]) {
        let Some(rest) = &mut self.left else { return };
        for (left, right) in left.iter_mut().zip(right) {
            *rest = rest.saturating_sub(1);
            let gain = *rest as f32 / self.frames as f32;
            *left *= gain;
            *right *= gain;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thirty_milliseconds_to_silence() {
        let mut fade = Fade::new(48_000);
        let (mut left, mut right) = ([1.0; 2_000], [1.0; 2_000]);
        fade.apply(&mut left, &mut right);
        assert_eq!(left, [1.0; 2_000]);
        fade.begin();
        fade.apply(&mut left[..700], &mut right[..700]);
        fade.begin();
        fade.apply(&mut left[700..], &mut right[700..]);
        assert!(left.windows(2).all(|pair| pair[1] <= pair[0] && pair[0] - pair[1] < 0.001));
        assert!(left[1_438] > 0.0 && left[1_439..].iter().all(|&x| x == 0.0));
        assert!(fade.is_over());
    }
}
