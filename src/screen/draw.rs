use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::bars::{draw_line, draw_next_line};
use super::cells::{Look, clear};
use super::chords::{draw_coming, draw_now, draw_shapes};
use super::form_row::draw_form;
use super::layout::{FULL, Wants, layout};
use super::panels;
use super::tab::draw_tab;
use super::task::{draw_detail, draw_task};
use super::view::View;

/// Draws a view into an area of any size.
pub fn draw(view: &View, look: Look, area: Rect, buffer: &mut Buffer) {
    let area = area.intersection(buffer.area);
    clear(area, buffer);
    let places = layout(area, wants(view));
    if area.width < FULL.0 || area.height < FULL.1 {
        panels::draw_little(view, look, &places, buffer);
        return;
    }
    panels::draw_header(view, look, &places, buffer);
    draw_form(view, look, places.form, places.all_big, buffer);
    draw_now(view, places.now, buffer);
    draw_coming(view, places.next, places.count, buffer);
    draw_shapes(view, &places, buffer);
    draw_tab(view, places.tab, buffer);
    draw_line(view, look, places.bars, places.big, buffer);
    draw_next_line(view, places.next_line, places.big_next_line, buffer);
    panels::draw_chairs(view, look, places.chairs, places.big, buffer);
    panels::draw_singer(view, look, places.singer, places.big, buffer);
    panels::draw_heard(view, &places, buffer);
    draw_task(view, places.task, places.detail.height > 0, buffer);
    draw_detail(view, places.detail, places.all_big, buffer);
    panels::draw_notice(view, look, &places, buffer);
}

/// What the view has to show beside what every view has.
pub(super) fn wants(view: &View) -> Wants {
    Wants {
        tab: view.tab.is_some(),
        stops: view.stops,
        shape: view.banjo.is_some(),
        heard: view.heard.is_some(),
    }
}
