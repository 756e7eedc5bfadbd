use crate::arrange::{Arrangement, Bar};
use crate::hash::{fnv1a, split_mix};

/// What tells a line of the chart from all others: the same whenever it comes round, so that it is played alike and
/// can be learned.
pub(super) fn line_of(song: &Arrangement, bar: &Bar) -> u64 {
    let section = song.passes.get(bar.pass).map_or("", |pass| pass.section());
    fnv1a(section) ^ bar.line as u64
}

/// A number for one choice among many, always the same for the same seed and place.
pub(super) fn dice(seed: u64, place: [u64; 3]) -> u64 {
    place.into_iter().fold(seed, |sum, part| split_mix(sum ^ part, 1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_number_comes_up_about_as_often() {
        let mut thrown = [0_u32; 6];
        for line in 0..60 {
            for turn in 0..100 {
                thrown[(dice(1, [5, line, turn]) % 6) as usize] += 1;
            }
        }
        assert!(thrown.iter().all(|count| (900..1100).contains(count)), "{thrown:?}");
        assert_ne!(dice(1, [0, 0, 0]), dice(2, [0, 0, 0]));
    }
}
