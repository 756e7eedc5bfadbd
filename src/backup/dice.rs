use crate::arrange::{Arrangement, Bar};

/// What tells a line of the chart from all others: the same whenever it comes round, so that it is played alike and
/// can be learned (the mixing of the section's name is FNV-1a, Fowler, Noll & Vo 1991).
pub(super) fn line_of(song: &Arrangement, bar: &Bar) -> u64 {
    let section = song.passes.get(bar.pass).map_or("", |pass| pass.section());
    let name = section.bytes().fold(0xCBF2_9CE4_8422_2325_u64, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01B3)
    });
    name ^ bar.line as u64
}

/// A number for one choice among many, always the same for the same seed and place (the mixing is SplitMix64's
/// finaliser, Steele, Lea & Flood 2014).
pub(super) fn dice(seed: u64, place: [u64; 3]) -> u64 {
    place.into_iter().fold(seed, |sum, part| {
        let mut z = (sum ^ part).wrapping_add(0x9E37_79B9_7F4A_7C15);
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    })
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
