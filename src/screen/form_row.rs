use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

use super::big::Dot;
use super::cells::{Look, Stress, bold, columns, put, split, words};
use super::view::View;

/// The passes with the present one lit, or the drill; at the right the loop.
pub(super) fn draw_form(
    view: &View,
    look: Look,
    area: Rect,
    dot: Option<Dot>,
    buffer: &mut Buffer,
) {
    let mut area = area;
    if let Some(looping) = &view.looping {
        let took = columns(looping, dot).min(area.width / 2);
        let (left, right) = split(area, area.width - took);
        words(looping, dot, right, bold(), buffer);
        area = Rect { width: left.width.saturating_sub(2), ..left };
    }
    match &view.drill {
        Some(drill) => {
            words(drill, dot, area, bold(), buffer);
        }
        None => {
            let more = view.unnamed.1 > 0;
            draw_names(&view.form, view.pass, more, look, area, dot, buffer);
        }
    }
}

/// A name, its row and its columns.
struct Placed<'a> {
    at: usize,
    name: &'a str,
    row: u16,
    left: u16,
    wide: u16,
}

/// The names of the passes about the present one; `more` if there are others after them.
fn draw_names(
    names: &[String],
    present: usize,
    more: bool,
    look: Look,
    area: Rect,
    dot: Option<Dot>,
    buffer: &mut Buffer,
) {
    let high = dot.map_or(1, Dot::rows);
    if area.height < high || area.width < 4 {
        return;
    }
    let mut page = page_from(names, 0, area, dot);
    // A page begins with the last of the one before: what comes next is always to be seen, where two fit.
    while let Some(last) = page.last().map(|placed| placed.at)
        && last + 1 < names.len()
        && (last < present || last == present && page.len() > 1)
    {
        page = page_from(names, if page.len() > 1 { last } else { last + 1 }, area, dot);
    }
    for Placed { at, name, row, left, wide } in &page {
        let place = Rect::new(area.x + left, area.y + row * high, *wide, high);
        let style = if *at == present { look.stressed(Stress::Here) } else { Style::new() };
        let inner = Rect { x: place.x + 1, width: place.width.saturating_sub(2), ..place };
        if *at == present {
            buffer.set_style(place.intersection(buffer.area), style);
            let middle = place.y + (high - 1) / 2;
            put("[", Rect::new(place.x, middle, 1, 1), style, buffer);
            put("]", Rect::new(place.right() - 1, middle, 1, 1), style, buffer);
        }
        words(name, dot, inner, style, buffer);
    }
    let more = more || page.last().is_some_and(|last| last.at + 1 < names.len());
    if more {
        let corner = Rect::new(area.right() - 1, area.bottom() - 1, 1, 1);
        put("…", corner, Style::new(), buffer);
    }
}

/// The names from one on, as many as fit into the rows.
fn page_from(names: &[String], from: usize, area: Rect, dot: Option<Dot>) -> Vec<Placed<'_>> {
    let rows = area.height / dot.map_or(1, Dot::rows);
    // The last column is for the sign that there are more.
    let width = area.width - 1;
    let (mut row, mut left) = (0, 0);
    let mut page = Vec::new();
    for (at, name) in names.iter().enumerate().skip(from) {
        let wide = columns(name, dot).saturating_add(2).min(width);
        if left + wide > width {
            (row, left) = (row + 1, 0);
        }
        if row >= rows {
            break;
        }
        page.push(Placed { at, name, row, left, wide });
        left += wide;
    }
    page
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_present_pass_is_lit_and_the_next_one_named() {
        let names: Vec<String> = (0..40).map(|at| format!("part{at}: voice")).collect();
        // In the narrowest there is room for one.
        for (width, height) in [(20, 1), (58, 1), (78, 2), (116, 2)] {
            let area = Rect::new(0, 0, width, height);
            for pass in 0..names.len() {
                let mut buffer = Buffer::empty(area);
                draw_names(&names, pass, false, Look { colour: false }, area, None, &mut buffer);
                let text: String = buffer.content.iter().map(|cell| cell.symbol()).collect();
                assert!(text.contains(&format!("[part{pass}: voice]")), "{text}");
                let next = names.get(pass + 1);
                let shown = next.is_none_or(|next| text.contains(next.as_str()));
                assert!(shown || width == 20, "{pass}: {text}");
            }
        }
    }
}
