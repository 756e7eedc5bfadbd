//! An address as a QR code in a terminal.

use qrcode::{Color, EcLevel, QrCode};

/// The light edge that a reader wants about it, in modules. Four are the standard's (ISO/IEC 18004); two are read by every
/// telephone, and a code of them fits a terminal of 80 by 24.
const EDGE: usize = 2;

/// How it is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Ink {
    /// In half blocks, black on white whatever the terminal's colours are.
    Coloured,
    /// In half blocks, for a terminal that is dark.
    Blocks,
    /// In letters, for a terminal without blocks.
    Letters,
}

/// The lines of a code; `None` where the text is too long for one, or its lines for the terminal.
pub(super) fn lines(text: &str, ink: Ink, columns: usize) -> Option<Vec<String>> {
    let code = QrCode::with_error_correction_level(text, EcLevel::L).ok()?;
    let width = code.width();
    let colours = code.into_colors();
    let side = width + 2 * EDGE;
    let wide = if ink == Ink::Letters { 2 * side } else { side };
    if wide > columns {
        return None;
    }
    let is_dark = |row: usize, column: usize| {
        let place = |at: usize| at.checked_sub(EDGE).filter(|at| *at < width);
        let at = place(row).zip(place(column)).map(|(row, column)| row * width + column);
        at.and_then(|at| colours.get(at)) == Some(&Color::Dark)
    };
    if ink == Ink::Letters {
        let module = |row, column| if is_dark(row, column) { "  " } else { "##" };
        return Some((0..side).map(|row| (0..side).map(|at| module(row, at)).collect()).collect());
    }
    let half = |row: usize, column: usize| {
        // The last line may have no lower half; it is as the edge is.
        let dark = [is_dark(row, column), row + 1 < side && is_dark(row + 1, column)];
        let inked = if ink == Ink::Coloured { dark } else { dark.map(|dark| !dark) };
        match inked {
            [true, true] => '█',
            [true, false] => '▀',
            [false, true] => '▄',
            [false, false] => ' ',
        }
    };
    let line = |row: usize| -> String {
        let line: String = (0..side).map(|column| half(row, column)).collect();
        // Black (30) on bright white (107), and back: ECMA-48 and the bright colours that all terminals have.
        if ink == Ink::Coloured { format!("\u{1b}[30;107m{line}\u{1b}[0m") } else { line }
    };
    Some((0..side).step_by(2).map(line).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    const ADDRESS: &str = "http://192.168.178.100:45678/abcdefghijklmnop/";

    #[test]
    fn a_code_is_the_same_in_every_ink() {
        let dark = |ink: Ink| -> Vec<Vec<bool>> {
            let lines = lines(ADDRESS, ink, 200).unwrap();
            let strip = |line: &String| {
                line.replace("\u{1b}[30;107m", "").replace("\u{1b}[0m", "").chars().collect()
            };
            let lines: Vec<Vec<char>> = lines.iter().map(strip).collect();
            match ink {
                Ink::Letters => lines
                    .iter()
                    .map(|line| line.chunks(2).map(|module| module[0] == ' ').collect())
                    .collect(),
                _ => lines
                    .iter()
                    .flat_map(|line| {
                        let row = |upper: bool| -> Vec<bool> {
                            let inked = |c: &char| match c {
                                '█' => true,
                                '▀' => upper,
                                '▄' => !upper,
                                _ => false,
                            };
                            line.iter().map(|c| inked(c) == (ink == Ink::Coloured)).collect()
                        };
                        [row(true), row(false)]
                    })
                    .collect(),
            }
        };
        let letters = dark(Ink::Letters);
        let side = letters.len();
        for ink in [Ink::Coloured, Ink::Blocks] {
            assert_eq!(dark(ink)[..side], letters[..], "{ink:?}");
        }
        // The three corners' finders: seven dark modules in a row, within a light edge.
        for (row, column) in [(2, 2), (2, side - 9), (side - 9, 2)] {
            assert!((0..7).all(|at| letters[row][column + at] && letters[row + at][column]));
        }
        assert!(letters[0].iter().chain(&letters[1]).all(|dark| !dark));
    }

    #[test]
    fn it_fits_or_is_left_out() {
        assert!(lines(ADDRESS, Ink::Coloured, 80).unwrap().len() <= 22);
        assert_eq!(lines(ADDRESS, Ink::Coloured, 20), None);
        assert_eq!(lines(&"x".repeat(5000), Ink::Blocks, 10_000), None);
    }
}
