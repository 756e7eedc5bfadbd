use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

use super::letters::{HEIGHT, Letter, letter};

/// How large a dot of the big text is. A cell of a terminal is about twice as high as it is wide, so
/// a dot of two halves across and one half down looks square.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Dot {
    /// In half cells, at least 1.
    pub(super) across: u16,
    /// In half cells, at least 1.
    pub(super) down: u16,
    /// How many of them lie between two letters.
    pub(super) gap: u8,
}

impl Dot {
    /// The smallest that can be read: a letter is three cells wide and four high.
    pub(super) const SMALL: Self = Self::new(1, 1);
    /// The same, a little further apart: words on a ground of their own need it.
    pub(super) const APART: Self = Self { gap: 2, ..Self::new(1, 1) };
    /// As high, and twice as wide.
    pub(super) const WIDE: Self = Self::new(2, 1);

    /// So many halves across and down, and a dot between letters.
    pub(super) const fn new(across: u16, down: u16) -> Self {
        Self { across, down, gap: 1 }
    }

    /// Cells from the top of a letter to its foot.
    pub(super) const fn rows(self) -> u16 {
        (HEIGHT as u16 * self.down).div_ceil(2)
    }

    /// Cells from the left of a text to its right.
    pub(super) fn columns(self, text: &str) -> u16 {
        let halves = self.dots(text).saturating_mul(usize::from(self.across));
        u16::try_from(halves.div_ceil(2)).unwrap_or(u16::MAX)
    }

    /// Dots from left to right.
    fn dots(self, text: &str) -> usize {
        let gap = usize::from(self.gap);
        let widths = text.chars().map(|sign| letter(sign).map_or(0, |letter| letter.width + gap));
        widths.sum::<usize>().saturating_sub(gap)
    }

    /// The largest dot with which all of `text` fits into an area, no wider than square; at least
    /// `narrowest` halves across for each half down (so 1 lets letters be half as wide as high).
    pub(super) fn fitting(text: &str, columns: u16, rows: u16) -> Option<Self> {
        // An odd number of halves needs quarter blocks, which some fonts lack or draw with seams; so
        // where an even one is nearly as wide, that is taken.
        let fits = |down: u16, across: u16| {
            let dot = Self::new(across, down);
            (dot.rows() <= rows && dot.columns(text) <= columns).then_some(dot)
        };
        let highest = (rows * 2) / HEIGHT as u16;
        (1..=highest).rev().find_map(|down| {
            let widest = (down..=down * 2).rev().find(|&across| fits(down, across).is_some())?;
            let even = widest & !1;
            fits(down, if even >= down && even > 0 { even } else { widest })
        })
    }
}

/// True if every sign of a text has its letter.
pub(super) fn can_write(text: &str) -> bool {
    text.chars().all(|sign| letter(sign).is_some())
}

/// Writes big text into an area from its upper left corner; what does not fit is cut off.
pub(super) fn write(text: &str, dot: Dot, area: Rect, style: Style, buffer: &mut Buffer) {
    ink(text, dot, 0, area, style, buffer);
}

/// The same with the letters' feet on the area's last row, where half a row would be left over.
pub(super) fn write_at_foot(text: &str, dot: Dot, area: Rect, style: Style, buffer: &mut Buffer) {
    let rows = dot.rows().min(area.height);
    let area = Rect { y: area.bottom() - rows, height: rows, ..area };
    let over = (dot.rows() * 2).saturating_sub(dot.down * HEIGHT as u16);
    ink(text, dot, over, area, style, buffer);
}

/// Writes letters that begin some half rows below the area's top.
fn ink(text: &str, dot: Dot, drop: u16, area: Rect, style: Style, buffer: &mut Buffer) {
    let area = area.intersection(buffer.area);
    let letters: Vec<(usize, Letter)> = text
        .chars()
        .filter_map(letter)
        .scan(0, |at, letter| {
            let left = *at;
            *at += letter.width + usize::from(dot.gap);
            Some((left, letter))
        })
        .collect();
    let inked = |x: u16, y: u16| {
        let Some(y) = y.checked_sub(drop) else { return false };
        let (column, row) = (usize::from(x / dot.across), usize::from(y / dot.down));
        let upto = letters.partition_point(|(left, _)| *left <= column);
        let letter = upto.checked_sub(1).and_then(|at| letters.get(at));
        letter.is_some_and(|(left, letter)| letter.dot(column - left, row))
    };
    for row in 0..dot.rows().min(area.height) {
        for column in 0..dot.columns(text).min(area.width) {
            let quarter = |dx, dy| usize::from(inked(column * 2 + dx, row * 2 + dy));
            let bits = quarter(0, 0) | quarter(1, 0) << 1 | quarter(0, 1) << 2 | quarter(1, 1) << 3;
            if let Some(cell) = buffer.cell_mut((area.x + column, area.y + row)) {
                cell.set_char(QUARTERS.get(bits).copied().unwrap_or(' ')).set_style(style);
            }
        }
    }
}

/// Block elements (Unicode 2580 to 259F) by which quarters are inked: upper left 1, upper right 2,
/// lower left 4, lower right 8.
const QUARTERS: [char; 16] =
    [' ', '▘', '▝', '▀', '▖', '▌', '▞', '▛', '▗', '▚', '▐', '▜', '▄', '▙', '▟', '█'];

#[cfg(test)]
mod tests {
    use super::*;

    fn drawn(text: &str, dot: Dot) -> Vec<String> {
        let area = Rect::new(0, 0, dot.columns(text), dot.rows());
        let mut buffer = Buffer::empty(area);
        write(text, dot, area, Style::new(), &mut buffer);
        let row = |y| (0..area.width).map(|x| buffer[(x, y)].symbol()).collect::<String>();
        (0..area.height).map(|y| row(y).trim_end().to_owned()).collect()
    }

    #[test]
    fn dots_become_blocks() {
        assert_eq!(
            drawn("Bb", Dot::new(2, 1)),
            ["█▀▀▀▄ █", "█▄▄▄▀ █▄▀▀▄", "█   █ █▄  █", "▀▀▀▀  ▀ ▀▀"]
        );
        assert_eq!(drawn("7", Dot::SMALL), ["▀▀▌", " ▐", " ▌", " ▘"]);
        assert_eq!(drawn("l", Dot::new(4, 2)).len(), 7);
    }

    #[test]
    fn a_text_is_as_large_as_fits_and_never_flat() {
        let fit = |text, columns, rows| Dot::fitting(text, columns, rows);
        assert_eq!(fit("G", 33, 7), Some(Dot::new(4, 2)));
        assert_eq!(fit("Am7b5", 33, 7), Some(Dot::new(2, 2)));
        assert_eq!(fit("F#m7b5/C", 24, 7), Some(Dot::new(1, 1)));
        assert_eq!(fit("F#m7b5/C", 20, 7), None);
        assert_eq!(fit("G", 10, 3), None);
        assert_eq!(fit("G", 10, 0), None);
    }
}
