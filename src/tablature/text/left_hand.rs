//! What the left hand does, in the trade's letters.

use crate::perform::{Pick, SlurKind};
use crate::tablature::Tablature;

/// What stands after each fret of a chord that the hand chokes.
pub(super) const CHOKED: &str = "x";

/// What stands before the fret that a slur goes to.
pub(super) const fn letter(kind: SlurKind) -> &'static str {
    match kind {
        SlurKind::Slide => "s",
        SlurKind::Hammer => "h",
        SlurKind::Pull => "p",
    }
}

/// What the letters mean that are used; `None` if none is.
pub(super) fn legend(tab: &Tablature) -> Option<String> {
    let picks = || tab.bars.iter().flat_map(|bar| &bar.strokes).flat_map(|stroke| &stroke.picks);
    let slurs =
        [(SlurKind::Slide, "slide"), (SlurKind::Hammer, "hammer-on"), (SlurKind::Pull, "pull-off")];
    let used = slurs
        .into_iter()
        .filter(|(kind, _)| picks().filter_map(Pick::slur).any(|slur| slur.kind == *kind));
    let mut words: Vec<String> =
        used.map(|(kind, word)| format!("{} {word}", letter(kind))).collect();
    if picks().any(Pick::is_choked) {
        words.push(format!("{CHOKED} choked, a hand laid on the strings at once"));
    }
    (!words.is_empty()).then(|| format!("Left hand: {}.", words.join(", ")))
}
