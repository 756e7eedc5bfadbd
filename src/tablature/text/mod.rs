//! Tablature as text: five lines, the first string on top.

mod canvas;
mod head;
mod layout;
mod left_hand;
mod system;

use super::Tablature;
pub(super) use head::wrapped;
use layout::{BarLayout, layouts, systems};

/// The narrowest page that is written for: one bar of sixteenths hardly fits into less.
const NARROWEST: usize = 40;

/// The part as text, no line longer than `width` characters (40 at least) unless a single bar or word needs
/// more. Lines end in `\n`.
pub fn text(tab: &Tablature, width: usize) -> String {
    let width = width.max(NARROWEST);
    let mut out = head::head(tab, width);
    let layouts = layouts(tab);
    for bars in systems(tab, &layouts, width) {
        out.push('\n');
        if tab.opens_pass(bars.start)
            && let Some(pass) = tab.bars.get(bars.start).and_then(|bar| tab.passes.get(bar.pass))
        {
            let says = tab.heading(pass);
            let line = if says.is_empty() {
                pass.label.clone()
            } else {
                format!("{} — {says}", pass.label)
            };
            out.push_str(&wrapped(&line, width, "    "));
            out.push('\n');
        }
        out.push_str(&system::system(tab, &layouts, bars));
    }
    out
}

/// Each bar alone, to be shown by itself: its chords, the five strings, the counts and the fingers, a line each.
pub fn bars_as_text(tab: &Tablature) -> Vec<String> {
    // Alone, a bar needs no room for another.
    let layouts: Vec<BarLayout> =
        tab.bars.iter().map(|bar| BarLayout::of(bar, tab.meter)).collect();
    (0..tab.bars.len()).map(|index| system::alone(tab, &layouts, index)).collect()
}
