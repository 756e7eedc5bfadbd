/// FNV-1a in 64 bits (Fowler, Noll & Vo 1991; offset basis and prime as in draft-eastlake-fnv): a number that tells texts apart.
pub fn fnv1a(bytes: impl AsRef<[u8]>) -> u64 {
    const OFFSET_BASIS: u64 = 0xCBF2_9CE4_8422_2325;
    const PRIME: u64 = 0x0000_0100_0000_01B3;
    let bytes = bytes.as_ref().iter();
    bytes.fold(OFFSET_BASIS, |hash, byte| (hash ^ u64::from(*byte)).wrapping_mul(PRIME))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_published_values_come_out() {
        // Test vectors of the FNV draft (Fowler, Noll, Vo & Eastlake, draft-eastlake-fnv); from memory.
        for (text, hash) in [
            ("", 0xCBF2_9CE4_8422_2325),
            ("a", 0xAF63_DC4C_8601_EC8C),
            ("foobar", 0x8594_4171_F739_67E8),
        ] {
            assert_eq!(fnv1a(text), hash, "{text}");
        }
    }
}
