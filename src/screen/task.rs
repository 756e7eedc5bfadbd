use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

use super::big::{Dot, can_write, write, write_at_foot};
use super::cells::{bold, columns, put, split, words};
use super::job::{TaskWords, when};
use super::layout::part;
use super::view::View;

/// What the player has to do, in a word as large as the area; at the right what comes, in the smallest of the
/// big letters where that leaves room for it, or plain where nothing is `told` below.
pub(super) fn draw_task(view: &View, area: Rect, told: bool, buffer: &mut Buffer) {
    let Some(task) = &view.task else { return };
    if area.height < Dot::SMALL.rows() {
        draw_detail(view, area, None, buffer);
        return;
    }
    let (_, area) = split(area, 1);
    let word = &task.now.short;
    let dot = Dot::fitting(word, area.width, area.height).filter(|_| can_write(word));
    let took = match dot {
        Some(dot) => {
            write(word, dot, area, bold(), buffer);
            dot.columns(word)
        }
        None => words(word, None, area, bold(), buffer),
    };
    let Some((bars, coming)) = &task.coming else { return };
    let (_, rest) = split(area, took.saturating_add(3));
    let text = format!("{}: {}", when(*bars), coming.short);
    let fits = Dot::SMALL.columns(&text) <= rest.width && can_write(&text);
    let dot = Some(Dot::SMALL).filter(|_| fits);
    let (_, rest) = split(rest, rest.width.saturating_sub(columns(&text, dot)));
    match dot {
        Some(dot) => write_at_foot(&text, dot, rest, Style::new(), buffer),
        None if !told && columns(&text, None) <= rest.width => {
            let y = rest.bottom().saturating_sub(1);
            put(&text, Rect { y, height: 1, ..rest }, Style::new(), buffer);
        }
        None => {}
    }
}

/// What the player has to do, and at the right what comes: in as many words as there is room for.
pub(super) fn draw_detail(view: &View, area: Rect, dot: Option<Dot>, buffer: &mut Buffer) {
    let Some(task) = &view.task else { return };
    // What comes has its place whether there is something or not, so that nothing moves when there is.
    const COMING: u16 = 46;
    let right = part(area.width, COMING);
    let (left, right) = split(area, area.width - right);
    let (_, left) = split(left, 1);
    let left = Rect { width: left.width.saturating_sub(1), ..left };
    let fit = |area: Rect, ways: [String; 3]| {
        let last = ways.iter().find(|words| columns(words, dot) <= area.width);
        last.cloned().unwrap_or_else(|| ways.into_iter().last().unwrap_or_default())
    };
    let TaskWords { short, full } = &task.now;
    let now = fit(left, [format!("you: {full}"), format!("you: {short}"), short.clone()]);
    words(&now, dot, left, bold(), buffer);
    if let Some((bars, TaskWords { short, full })) = &task.coming {
        // Big letters have no arrow.
        let arrow = if dot.is_some() { "" } else { "→ " };
        let when = format!("{arrow}{}", when(*bars));
        let ways = [full, short].map(|words| format!("{when}: {words}"));
        let [full, in_short] = ways;
        let coming = fit(right, [full, in_short, format!("{arrow}{short}")]);
        words(&coming, dot, right, Style::new(), buffer);
    }
}
