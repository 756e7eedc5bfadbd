use std::sync::Arc;
use std::sync::atomic::{AtomicU8, Ordering};

/// The volume of the built-in sound, in percent: shared by whoever turns it and whoever plays.
#[derive(Clone, Debug)]
pub struct Volume(Arc<AtomicU8>);

/// Frames a second divided by this is the time a change takes to two thirds: 7 ms, so that it is all
/// but there after 20 ms and makes no click.
const GLIDES_A_SECOND: f32 = 140.0;

/// Nearer than this to where it goes, a gain is there: -100 dB.
const ARRIVED: f32 = 1e-5;

impl Volume {
    /// The loudest: the level that files are exported at.
    pub const FULL: u8 = 100;

    /// A volume of that many percent; above [`Self::FULL`] counts as that.
    pub fn new(percent: u8) -> Self {
        Self(Arc::new(AtomicU8::new(percent.min(Self::FULL))))
    }

    /// Percent.
    pub fn percent(&self) -> u8 {
        self.0.load(Ordering::Relaxed)
    }

    /// Sets it.
    pub fn set(&self, percent: u8) {
        self.0.store(percent.min(Self::FULL), Ordering::Relaxed);
    }

    /// Turns it up or down, within 0 and [`Self::FULL`], and gives what it is then.
    pub fn turn(&self, by: i8) -> u8 {
        let turned = self.percent().saturating_add_signed(by).min(Self::FULL);
        self.set(turned);
        turned
    }

    /// The gain: 40·log10 decibels of the share, as MIDI's volume is reckoned, so that half is a
    /// quarter as strong and sounds about half as loud.
    fn gain(&self) -> f32 {
        let share = f32::from(self.percent()) / f32::from(Self::FULL);
        share * share
    }
}

impl Default for Volume {
    fn default() -> Self {
        Self::new(Self::FULL)
    }
}

/// What brings sound to a volume without a click.
#[derive(Debug)]
pub(super) struct VolumeGlide {
    volume: Volume,
    gain: f32,
    share: f32,
}

impl VolumeGlide {
    /// Already there.
    pub fn new(volume: Volume, rate: u32) -> Self {
        let gain = volume.gain();
        let share = (GLIDES_A_SECOND / rate.max(1) as f32).min(1.0);
        Self { volume, gain, share }
    }

    /// Brings the next frames of both sides to the volume.
    pub fn apply(&mut self, left: &mut [f32], right: &mut [f32]) {
        let wanted = self.volume.gain();
        for (left, right) in left.iter_mut().zip(right) {
            self.gain += self.share * (wanted - self.gain);
            if (wanted - self.gain).abs() < ARRIVED {
                self.gain = wanted;
            }
            *left *= self.gain;
            *right *= self.gain;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn turns_smoothly_within_its_bounds() {
        let volume = Volume::new(200);
        assert_eq!(volume.percent(), 100);
        assert_eq!((volume.turn(5), volume.turn(-50), volume.turn(-100)), (100, 50, 0));
        volume.set(100);
        let mut glide = VolumeGlide::new(volume.clone(), 48_000);
        let (mut left, mut right) = ([1.0; 100], [1.0; 100]);
        glide.apply(&mut left, &mut right);
        assert_eq!(left, [1.0; 100], "full is not touched");
        assert_eq!(volume.turn(-50), 50);
        let (mut left, mut right) = ([1.0; 4_000], [0.5; 4_000]);
        glide.apply(&mut left, &mut right);
        assert!(left.windows(2).all(|pair| pair[0] >= pair[1] && pair[0] - pair[1] < 0.003));
        assert!((left[960] - 0.25).abs() < 0.05 && left[3_999] == 0.25 && right[3_999] == 0.125);
        volume.set(0);
        glide.apply(&mut left, &mut right);
        glide.apply(&mut left, &mut right);
        assert_eq!((left[3_999], right[3_999]), (0.0, 0.0));
    }
}
