//! Bytes in letters that a script of a page may hold.

/// The first letter, and one of those after it that is left out: no script may hold it.
const FIRST: u8 = b'#';
const LEFT_OUT: u8 = b'<';
/// How many letters there are. Two of them tell 13 bits: a quarter more letters than bytes, and not a third as of 64
/// letters. With letters beyond these, and signs that are none, it would be a seventh; those not all that carries a page
/// leaves as they are.
const LETTERS: u32 = 91;
const BITS: u32 = 13;

/// Bytes in letters, the lowest bits first; `fromLetters` in `web/page/unpack.js` makes bytes of them again, and perhaps
/// a 0 after them.
pub(super) fn in_letters(bytes: &[u8]) -> String {
    let mut letters = String::with_capacity(bytes.len() + bytes.len() / 4 + 2);
    let (mut held, mut bits) = (0_u32, 0);
    for byte in bytes {
        held |= u32::from(*byte) << bits;
        bits += 8;
        if bits >= BITS {
            letters.extend(two(held % (1 << BITS)));
            held >>= BITS;
            bits -= BITS;
        }
    }
    if bits > 0 {
        letters.extend(two(held));
    }
    letters
}

/// The two letters of a number below 2^13.
fn two(number: u32) -> [char; 2] {
    [number / LETTERS, number % LETTERS].map(|place| {
        let letter = FIRST + u8::try_from(place).unwrap_or_default();
        char::from(letter + u8::from(letter >= LEFT_OUT))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// As the page does it.
    fn bytes(letters: &str) -> Vec<u8> {
        let places: Vec<u32> = letters
            .bytes()
            .map(|letter| u32::from(letter - FIRST - u8::from(letter > LEFT_OUT)))
            .collect();
        let bits: Vec<u8> = places
            .chunks(2)
            .map(|two| two[0] * LETTERS + two[1])
            .flat_map(|number| (0..BITS).map(move |bit| u8::from(number & (1 << bit) != 0)))
            .collect();
        bits.chunks_exact(8)
            .map(|eight| eight.iter().rev().fold(0, |byte, bit| byte << 1 | bit))
            .collect()
    }

    #[test]
    fn bytes_come_back_and_no_letter_means_anything_to_a_browser() {
        for length in 0..200_u32 {
            let some: Vec<u8> = (0..length).map(|n| (n * n * 7 + n * 13 + length) as u8).collect();
            let letters = in_letters(&some);
            assert!(letters.bytes().all(|it| (b'#'..=b'~').contains(&it) && it != b'<'));
            assert_eq!(bytes(&letters)[..some.len()], some);
            assert!(letters.len() <= (some.len() * 16).div_ceil(13) + 2);
        }
        let all = in_letters(&[255; 26]);
        assert_eq!(bytes(&all), [255; 26]);
    }
}
