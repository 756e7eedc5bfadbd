use std::sync::OnceLock;

/// Dots from the top of a letter to its foot.
pub(super) const HEIGHT: usize = 7;

/// A letter of the big text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Letter {
    sign: char,
    /// Dots from left to right.
    pub(super) width: usize,
    /// Its rows from the top, the leftmost dot in the highest of `width` bits.
    rows: [u8; HEIGHT],
}

impl Letter {
    /// True if the dot is inked.
    pub(super) fn dot(&self, column: usize, row: usize) -> bool {
        let bit = self.width.checked_sub(column + 1);
        bit.is_some_and(|bit| self.rows.get(row).is_some_and(|row| row >> bit & 1 == 1))
    }
}

/// The letter for a sign, or `None` if there is none.
pub(super) fn letter(sign: char) -> Option<Letter> {
    static LETTERS: OnceLock<Vec<Letter>> = OnceLock::new();
    if sign == ' ' {
        return Some(Letter { sign, width: 3, rows: [0; HEIGHT] });
    }
    let letters = LETTERS.get_or_init(|| read(include_str!("letters.txt")));
    letters.iter().find(|letter| letter.sign == sign).copied()
}

/// Reads the table: bands of letters side by side, each with the line of their signs above them.
fn read(table: &str) -> Vec<Letter> {
    const PITCH: usize = 6;
    let mut letters = Vec::new();
    for band in table.split("\n\n").skip(1) {
        let mut lines = band.lines();
        let signs = lines.next().unwrap_or_default();
        let lines: Vec<&str> = lines.collect();
        for (at, sign) in signs.chars().enumerate().step_by(PITCH) {
            let mut rows = [0; HEIGHT];
            for (row, line) in rows.iter_mut().zip(&lines) {
                let dots = line.get(at..).unwrap_or_default().bytes().take(PITCH - 1);
                *row = dots.fold(0, |bits, dot| bits << 1 | u8::from(dot == b'#'));
            }
            let inked = rows.iter().fold(0, |all: u8, row| all | row);
            let right = inked.trailing_zeros().min(7);
            letters.push(Letter {
                sign,
                width: (8 - inked.leading_zeros()).saturating_sub(right) as usize,
                rows: rows.map(|row| row >> right),
            });
        }
    }
    letters
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::{Lead, Role};
    use crate::theory::Quality;

    #[test]
    fn every_chord_and_word_of_the_screen_has_its_letters() {
        let mut words: Vec<String> = Quality::all().map(|quality| quality.to_string()).collect();
        words.extend(
            ["ABCDEFG#b/N.C.", "0123456789", "¹²³⁴⁵⁶⁷⁹", "OPEN: sings pauses leads"]
                .map(str::to_owned),
        );
        words.extend(Role::ALL.iter().map(ToString::to_string));
        words.extend(Lead::ALL.iter().map(ToString::to_string));
        for sign in words.iter().flat_map(|word| word.chars()) {
            assert!(letter(sign).is_some(), "{sign:?}");
        }
        assert!(letter('é').is_none());
    }

    #[test]
    fn letters_are_as_drawn() {
        let b = letter('b').unwrap();
        let drawn: Vec<String> = (0..HEIGHT)
            .map(|row| (0..b.width).map(|at| if b.dot(at, row) { '#' } else { '.' }).collect())
            .collect();
        assert_eq!(drawn, ["#....", "#....", "#.##.", "##..#", "#...#", "##..#", "#.##."]);
        assert_eq!(letter('.').unwrap().width, 2);
        assert_eq!(letter('/').unwrap().width, 5);
        for sign in ('!'..='~').chain("¹²³⁴⁵⁶⁷⁹".chars()).filter_map(letter) {
            assert!((1..=5).contains(&sign.width) && sign.rows.iter().any(|row| *row > 0));
        }
    }

    #[test]
    fn no_two_letters_look_alike() {
        let all: Vec<Letter> = ('!'..='~').chain("¹²³⁴⁵⁶⁷⁹".chars()).filter_map(letter).collect();
        for (at, one) in all.iter().enumerate() {
            for other in &all[..at] {
                assert!(one.rows != other.rows, "{} {}", one.sign, other.sign);
            }
        }
    }
}
