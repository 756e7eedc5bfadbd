use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

use super::cells::{bold, cells, faint, put};
use super::view::View;

/// Rows of a bar at least: a row of chords and five strings.
const LEAST: u16 = 6;

/// The coming bar's tab under its number. A bar with more notes than there is room for is not shown: half of it
/// would be read as all of it.
pub(super) fn draw_tab(view: &View, area: Rect, buffer: &mut Buffer) {
    let Some(tab) = view.tab.as_ref().filter(|_| area.height >= LEAST) else { return };
    let row = |at: u16| Rect { y: area.y + at, height: 1, ..area };
    let mut rows = tab.rows.as_slice();
    // The number stands above where there is a row for it.
    let head = u16::from(usize::from(area.height) > rows.len().min(8));
    if head > 0 && !tab.bar.is_empty() {
        put(&format!("next: {}", tab.bar), row(0), bold(), buffer);
    }
    if rows.iter().any(|text| cells(text) > area.width) {
        put("(no room for its tab)", row(head), faint(), buffer);
        return;
    }
    rows = rows.get(..usize::from(area.height - head).min(rows.len())).unwrap_or_default();
    for (at, text) in (head..).zip(rows) {
        put(text, row(at), Style::new(), buffer);
    }
}
