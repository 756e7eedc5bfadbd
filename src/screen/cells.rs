//! Words in a buffer of cells, plain and big, and how they are stressed.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Color, Modifier, Style};

use super::big::{Dot, can_write, write};

/// How the terminal is to be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Look {
    /// Colours of the terminal's own sixteen, beside bold and reverse, never in their place.
    pub colour: bool,
}

/// What something wants to be noticed for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Stress {
    /// A chair is open.
    Open,
    /// The singer pauses: there is room.
    Room,
    /// The band waits.
    Waiting,
    /// Something is broken.
    Broken,
    /// Here.
    Here,
}

impl Look {
    /// Bold, and reversed by attribute or by colours that are read on any background.
    pub(super) fn stressed(self, stress: Stress) -> Style {
        let style = bold();
        let (front, back) = match stress {
            _ if !self.colour => return style.add_modifier(Modifier::REVERSED),
            Stress::Here => return style.add_modifier(Modifier::REVERSED),
            Stress::Open => (Color::Black, Color::Yellow),
            Stress::Room => (Color::Black, Color::Green),
            Stress::Waiting => (Color::Black, Color::Cyan),
            Stress::Broken => (Color::White, Color::Red),
        };
        style.fg(front).bg(back)
    }
}

pub(super) const fn bold() -> Style {
    Style::new().add_modifier(Modifier::BOLD)
}

pub(super) const fn faint() -> Style {
    Style::new().add_modifier(Modifier::DIM)
}

/// Blanks an area.
pub(super) fn clear(area: Rect, buffer: &mut Buffer) {
    for position in area.intersection(buffer.area).positions() {
        if let Some(cell) = buffer.cell_mut(position) {
            cell.reset();
        }
    }
}

/// An area of so many columns, and the rest of it.
pub(super) fn split(area: Rect, left: u16) -> (Rect, Rect) {
    let left = left.min(area.width);
    let right = Rect { x: area.x + left, width: area.width - left, ..area };
    (Rect { width: left, ..area }, right)
}

/// Writes text into the first row of an area, cut with `…` where it does not fit; says how many
/// cells it took.
pub(super) fn put(text: &str, area: Rect, style: Style, buffer: &mut Buffer) -> u16 {
    let area = area.intersection(buffer.area);
    if area.is_empty() {
        return 0;
    }
    let cut = cells(text) > area.width && area.width > 1;
    let room = if cut { area.width - 1 } else { area.width };
    let (end, _) = buffer.set_stringn(area.x, area.y, text, usize::from(room), style);
    if cut && let Some(cell) = buffer.cell_mut((end, area.y)) {
        cell.set_char('…').set_style(style);
        return end + 1 - area.x;
    }
    end - area.x
}

/// Cells that a text takes.
pub(super) fn cells(text: &str) -> u16 {
    u16::try_from(ratatui::text::Span::raw(text).width()).unwrap_or(u16::MAX)
}

/// Columns that [`words`] takes at most.
pub(super) fn columns(text: &str, dot: Option<Dot>) -> u16 {
    dot.filter(|_| can_write(text)).map_or_else(|| cells(text), |dot| dot.columns(text))
}

/// Writes words into an area: in big letters if there are such and they fit, else in plain ones in
/// its middle row. Says how many columns they took.
pub(super) fn words(
    text: &str,
    dot: Option<Dot>,
    area: Rect,
    style: Style,
    buffer: &mut Buffer,
) -> u16 {
    match dot.filter(|dot| can_write(text) && fits(*dot, text, area)) {
        Some(dot) => {
            write(text, dot, area, style, buffer);
            dot.columns(text)
        }
        None => {
            let middle = area.height.saturating_sub(1) / 2;
            let row = Rect { y: area.y + middle, height: area.height.min(1), ..area };
            put(text, row, style, buffer)
        }
    }
}

fn fits(dot: Dot, text: &str, area: Rect) -> bool {
    dot.rows() <= area.height && dot.columns(text) <= area.width
}

/// Words on a ground of their own style, with a cell of it at both sides; says how many columns.
pub(super) fn plate(
    text: &str,
    dot: Option<Dot>,
    area: Rect,
    style: Style,
    buffer: &mut Buffer,
) -> u16 {
    let wanted = columns(text, dot).saturating_add(2);
    let wanted = if wanted > area.width { cells(text).saturating_add(2) } else { wanted };
    let ground = Rect { width: wanted.min(area.width), ..area }.intersection(buffer.area);
    buffer.set_style(ground, style);
    let inner = Rect { x: ground.x + 1, width: ground.width.saturating_sub(2), ..ground };
    if inner.width > 0 {
        words(text, dot, inner, style, buffer);
    }
    ground.width
}
