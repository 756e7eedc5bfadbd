use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

use super::cells::{bold, clear, put};
use crate::live::{Action, BINDINGS};

/// Cells for the keys of a line.
const KEYS: u16 = 15;
/// Cells for a line with its words.
const LINE: u16 = 60;

/// A line of the help: the keys, and what they do.
fn lines() -> impl Iterator<Item = (String, &'static str)> {
    BINDINGS.iter().map(|binding| (binding.key_words(), binding.says))
}

/// How many columns of lines, and lines in each.
fn grid(area: Rect) -> (usize, usize) {
    let columns = (area.width / LINE).max(1);
    (usize::from(columns), usize::from(area.height.saturating_sub(2)).max(1))
}

/// How many pages the help has on a screen of that size.
pub fn help_pages(area: Rect) -> usize {
    let (columns, rows) = grid(area);
    BINDINGS.len().div_ceil(columns * rows)
}

/// Draws a page of the help, from 0, over all else.
pub fn draw_help(page: usize, area: Rect, buffer: &mut Buffer) {
    clear(area, buffer);
    let (columns, rows) = grid(area);
    let pages = help_pages(area);
    let page = page.min(pages.saturating_sub(1));
    let which = if pages > 1 { format!("  {} of {pages}", page + 1) } else { String::new() };
    let again = Action::Help.key();
    let hint = if page + 1 < pages { "more" } else { "away" };
    let head = format!("Keys{which}   {again}: {hint}   Esc: away");
    put(&head, Rect { height: area.height.min(1), ..area }, bold(), buffer);
    let here = lines().skip(page * columns * rows).take(columns * rows);
    for (at, (keys, says)) in here.enumerate() {
        let (column, row) = ((at / rows) as u16, (at % rows) as u16);
        let (x, y) = (column * LINE, row + 1);
        if x >= area.width || y >= area.height {
            continue;
        }
        let line = Rect::new(area.x + x, area.y + y, (area.width - x).min(LINE), 1);
        let (left, right) = super::cells::split(line, KEYS);
        put(&keys, Rect { width: left.width.saturating_sub(1), ..left }, bold(), buffer);
        put(says, right, Style::new(), buffer);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn page(number: usize, width: u16, height: u16) -> String {
        let area = Rect::new(0, 0, width, height);
        let mut buffer = Buffer::empty(area);
        draw_help(number, area, &mut buffer);
        let row = |y| (0..width).map(|x| buffer[(x, y)].symbol()).collect::<String>();
        (0..height).map(|y| row(y).trim_end().to_owned() + "\n").collect()
    }

    #[test]
    fn every_key_is_told_whole_on_some_page() {
        for (width, height) in [(60, 16), (80, 24), (120, 40), (200, 60)] {
            let pages = help_pages(Rect::new(0, 0, width, height));
            let all: String = (0..pages).map(|number| page(number, width, height)).collect();
            for (keys, says) in lines() {
                let told = all.lines().any(|line| line.contains(&keys) && line.contains(says));
                assert!(told, "{width}x{height}: {keys} {says}\n{all}");
            }
        }
        assert_eq!(help_pages(Rect::new(0, 0, 120, 40)), 1);
    }
}
