//! How wide the letters of the printed pages' type are. A table of its own, a thirtieth of the type itself: a page for a
//! browser carries this alone, for the browser draws letters of its own.

/// Written by a test below from the type's files: the width of what stands for a letter that the type has not; then
/// for each letter it has, by its number, that number and its width; all little-endian in 16 bits, and each width
/// twice, regular and bold, in 2048ths of the size.
static TABLE: &[u8] = include_bytes!("font/widths.bin");

/// What a size is divided into.
const UNITS: f64 = 2048.0;

/// Both weights, ready to be measured.
pub(super) struct Fonts {
    unknown: [u16; 2],
    letters: Vec<(u16, [u16; 2])>,
}

impl Fonts {
    pub(super) fn new() -> Self {
        let mut numbers = TABLE.as_chunks::<2>().0.iter().map(|two| u16::from_le_bytes(*two));
        let mut next = || numbers.next();
        let unknown = [next().unwrap_or_default(), next().unwrap_or_default()];
        let letters = std::iter::from_fn(|| Some((next()?, [next()?, next()?]))).collect();
        Self { unknown, letters }
    }

    fn letter_width(&self, letter: char, bold: bool) -> f64 {
        let place = u16::try_from(u32::from(letter)).ok();
        let place =
            place.and_then(|number| self.letters.binary_search_by_key(&number, |(it, _)| *it).ok());
        let found = place.and_then(|place| self.letters.get(place));
        let [regular, heavy] = found.map_or(self.unknown, |(_, widths)| *widths);
        f64::from(if bold { heavy } else { regular }) * 1000.0 / UNITS
    }

    /// How wide words are at a size.
    pub(super) fn width(&self, words: &str, size: f64, bold: bool) -> f64 {
        words.chars().map(|letter| self.letter_width(letter, bold)).sum::<f64>() * size / 1000.0
    }
}

#[cfg(test)]
mod tests {
    use super::super::font::Faces;
    use super::*;

    fn width(faces: &Faces, letter: char, bold: bool) -> f64 {
        faces.glyph_width(faces.glyph(letter, bold), bold)
    }

    #[test]
    fn every_letter_is_as_wide_as_the_type_has_it() {
        let (fonts, faces) = (Fonts::new(), Faces::new());
        for letter in (0..=0xFFFF).filter_map(char::from_u32).chain(['𝄞']) {
            for bold in [false, true] {
                let wide = fonts.letter_width(letter, bold);
                assert_eq!(wide, width(&faces, letter, bold), "{letter:?}");
            }
        }
        assert!(fonts.letters.is_sorted());
        assert!(TABLE.len() < 6_000);
    }

    /// `cargo test --lib widths_are_written -- --ignored`, where the type is another.
    #[test]
    #[ignore = "it writes the table"]
    fn widths_are_written() {
        let faces = Faces::new();
        let units = |letter, bold| (width(&faces, letter, bold) * UNITS / 1000.0).round() as u16;
        let has = |letter: &char| [false, true].iter().any(|bold| faces.glyph(*letter, *bold) != 0);
        let mut numbers = [false, true].map(|bold| units('\u{FFFF}', bold)).to_vec();
        for letter in (0..=0xFFFF).filter_map(char::from_u32).filter(has) {
            numbers.extend([letter as u16, units(letter, false), units(letter, true)]);
        }
        let bytes: Vec<u8> = numbers.iter().flat_map(|number| number.to_le_bytes()).collect();
        let place = concat!(env!("CARGO_MANIFEST_DIR"), "/src/printed/font/widths.bin");
        std::fs::write(place, bytes).unwrap();
    }

    #[test]
    fn bold_is_wider_and_twice_the_size_twice_as_wide() {
        let fonts = Fonts::new();
        let plain = fonts.width("Lantern", 10.0, false);
        assert!((20.0..60.0).contains(&plain));
        assert!(fonts.width("Lantern", 10.0, true) > plain);
        assert!((fonts.width("Lantern", 20.0, false) - 2.0 * plain).abs() < 1e-9);
    }
}
