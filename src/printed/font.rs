//! The type of the printed pages: how wide its letters are, and which it has.

use ttf_parser::Face;

/// The files, regular and bold: with Latin, Greek and Cyrillic letters and the signs of charts, so that the sharps,
/// flats and titles that the fourteen standard fonts of PDF lack are there.
pub(super) const FILES: [&[u8]; 2] = [
    include_bytes!("font/DejaVuSansCondensed.ttf"),
    include_bytes!("font/DejaVuSansCondensed-Bold.ttf"),
];

/// Both weights, ready to be measured.
pub(super) struct Fonts {
    faces: [Option<Face<'static>>; 2],
}

/// What a letter is taken for that the font has not, in shares of its size.
const USUAL: f64 = 0.55;

impl Fonts {
    pub(super) fn new() -> Self {
        Self { faces: FILES.map(|file| Face::parse(file, 0).ok()) }
    }

    pub(super) const fn face(&self, bold: bool) -> Option<&Face<'static>> {
        let [regular, heavy] = &self.faces;
        if bold { heavy.as_ref() } else { regular.as_ref() }
    }

    /// The glyph of a letter; that for letters it has not is 0.
    pub(super) fn glyph(&self, letter: char, bold: bool) -> u16 {
        self.face(bold).and_then(|face| face.glyph_index(letter)).map_or(0, |glyph| glyph.0)
    }

    /// How wide a glyph is, in thousandths of the size.
    pub(super) fn glyph_width(&self, glyph: u16, bold: bool) -> f64 {
        let width = self.face(bold).and_then(|face| {
            let units = f64::from(face.units_per_em());
            let advance = face.glyph_hor_advance(ttf_parser::GlyphId(glyph))?;
            Some(f64::from(advance) * 1000.0 / units)
        });
        width.unwrap_or(USUAL * 1000.0)
    }

    /// How wide words are at a size.
    pub(super) fn width(&self, words: &str, size: f64, bold: bool) -> f64 {
        let letters = words.chars().map(|letter| self.glyph_width(self.glyph(letter, bold), bold));
        letters.sum::<f64>() * size / 1000.0
    }
}

/// The letters of a text that a PDF's own type does not have, each once: they are shown as boxes there.
pub fn unknown_letters(text: &str) -> Vec<char> {
    let fonts = Fonts::new();
    let mut unknown: Vec<char> = Vec::new();
    for letter in text.chars().filter(|letter| fonts.glyph(*letter, false) == 0) {
        if !unknown.contains(&letter) {
            unknown.push(letter);
        }
    }
    unknown
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_weights_have_what_charts_need() {
        let fonts = Fonts::new();
        for bold in [false, true] {
            assert!(fonts.face(bold).is_some());
            for letter in "ABCDEFGmajdimsusN.C0123456789/♯♭×◇‹–éřŁøЖλ".chars() {
                assert_ne!(fonts.glyph(letter, bold), 0, "{letter}");
            }
        }
        assert_eq!(unknown_letters("Häher 海の海 Ж"), ['海', 'の']);
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
