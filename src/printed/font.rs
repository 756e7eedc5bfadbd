//! The type of the printed pages, as a PDF brings it along: which letters it has, and how they are drawn.

use ttf_parser::{Face, GlyphId};

/// The files, regular and bold: with Latin, Greek and Cyrillic letters and the signs of charts, so that the sharps,
/// flats and titles that the fourteen standard fonts of PDF lack are there.
pub(super) const FILES: [&[u8]; 2] = [
    include_bytes!("font/DejaVuSansCondensed.ttf"),
    include_bytes!("font/DejaVuSansCondensed-Bold.ttf"),
];

/// Both weights, ready to be put into a PDF.
pub(super) struct Faces {
    faces: [Option<Face<'static>>; 2],
}

impl Faces {
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
            Some(f64::from(face.glyph_hor_advance(GlyphId(glyph))?) * 1000.0 / units)
        });
        width.unwrap_or_default()
    }
}

/// The letters of a text that a PDF's own type does not have, each once: they are shown as boxes there.
pub fn unknown_letters(text: &str) -> Vec<char> {
    let faces = Faces::new();
    let mut unknown: Vec<char> = Vec::new();
    for letter in text.chars().filter(|letter| faces.glyph(*letter, false) == 0) {
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
        let faces = Faces::new();
        for bold in [false, true] {
            assert!(faces.face(bold).is_some());
            for letter in "ABCDEFGmajdimsusN.C0123456789/♯♭×◇‹–éřŁøЖλ".chars() {
                assert_ne!(faces.glyph(letter, bold), 0, "{letter}");
            }
        }
        assert_eq!(unknown_letters("Häher 海の海 Ж"), ['海', 'の']);
    }
}
