/// The odd number nearest to 2⁶⁴ divided by the golden ratio: steps of it come everywhere (Steele, Lea & Flood 2014,
/// "Fast splittable pseudorandom number generators", OOPSLA).
pub const GAMMA: u64 = 0x9E37_79B9_7F4A_7C15;

/// The finaliser of SplitMix64: neighbours come out unlike (Steele, Lea & Flood 2014; the constants are Stafford's
/// thirteenth variant, as in Vigna's `splitmix64.c`).
pub const fn mix(number: u64) -> u64 {
    let z = half_mix(number);
    z ^ (z >> 31)
}

/// The same without its last step, which is for the lower half: enough for whoever takes the upper half alone.
pub const fn half_mix(number: u64) -> u64 {
    let z = (number ^ (number >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB)
}

/// The number at a place, counted from 1, of the sequence that SplitMix64 gives for a seed. Place 0 is the seed itself,
/// mixed.
pub const fn split_mix(seed: u64, place: u64) -> u64 {
    mix(seed.wrapping_add(place.wrapping_mul(GAMMA)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_published_sequences_come_out() {
        // What `splitmix64.c` (Vigna 2015, public domain) gives for these seeds; from memory.
        let of = |seed| [1, 2, 3].map(|place| split_mix(seed, place));
        assert_eq!(of(0), [0xE220_A839_7B1D_CDAF, 0x6E78_9E6A_A1B9_65F4, 0x06C4_5D18_8009_454F]);
        assert_eq!(
            of(1_234_567),
            [6_457_827_717_110_365_317, 3_203_168_211_198_807_973, 9_817_491_932_198_370_423]
        );
    }

    #[test]
    fn half_of_it_differs_in_the_lower_half_and_one_bit() {
        for number in [0, 1, 77, u64::MAX, GAMMA] {
            assert!((mix(number) ^ half_mix(number)) >> 33 == 0, "{number}");
        }
    }
}
