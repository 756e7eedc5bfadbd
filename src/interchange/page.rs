//! How the bars of a section stand on a lead sheet.

use crate::chart::{ChartBar, Layout, Tune};

/// A phrase a line, with repeats and endings where nothing sounds on over them: a tie on paper goes to the next note of
/// the page.
pub(super) fn page(bars: &[ChartBar]) -> Layout {
    let sounds_on =
        |bar: &ChartBar| bar.melody.first().is_some_and(|share| share.value == Tune::Hold);
    Layout::of(bars, !bars.iter().any(sounds_on))
}
