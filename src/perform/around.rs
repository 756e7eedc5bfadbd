use std::borrow::Cow;

use crate::arrange::{Arrangement, Bar};
use crate::time::Ticks;

/// The arrangement as the players read it: where the last bar leads back to the first, that one stands
/// once more after the end, so that walks arrive, chords change and notes ring as in any other bar.
pub(crate) fn with_what_comes(song: &Arrangement) -> Cow<'_, Arrangement> {
    song.led_back().map_or(Cow::Borrowed(song), Cow::Owned)
}

/// Until when notes may ring: past the end of a round, at most through the first bar.
pub(super) fn rings_until(song: &Arrangement) -> Ticks {
    song.bars.last().map_or(song.end, Bar::end)
}
