//! A banjo's part that another than its style has thought out: bar by bar, or to the finger.

use std::rc::Rc;

use super::step::BanjoStep;
use super::{ROLE, sound};
use crate::arrange::Arrangement;
use crate::perform::Part;
use crate::perform::around::with_what_comes;
use crate::perform::cue::Cue;
use crate::perform::cues::cues_of;
use crate::perform::feel::Feel;
use crate::perform::levels::Levels;
use crate::perform::swing::Swing;
use crate::style::{Pattern, RoleStyle, Style};

/// Tells `player` all that a banjo does whose bars are given, one for each of the song's and more for the
/// bars that it is led back to; where there is none, it does nothing but what the chart asks of everybody.
pub fn banjo_cues(song: &Arrangement, bars: &[Pattern], player: impl FnMut(Cue)) {
    cues_of(song, ROLE, |index| bars.get(index), |_| false, player);
}

/// The part of a banjo whose steps are given, for a song played in a style: with the banjo's own sound, swing and
/// dynamics of that style. `None` if nothing sounds.
pub fn banjo_part(
    song: &Arrangement,
    style: &Style,
    steps: &[BanjoStep],
    seed: u64,
) -> Option<Part> {
    let plain = RoleStyle::plain(ROLE);
    let part = style.part(ROLE).unwrap_or(&plain);
    let around = with_what_comes(song);
    let swing = Swing::new(song.swing, &style.feel, song.meter, song.tempo);
    let levels = Rc::new(Levels::new(&around, &style.dynamics));
    let feel = Feel::new(ROLE, part, swing, song, song.form_start(), seed);
    let notes = sound(&around, part, feel.at_levels(&levels), steps);
    let instrument = part.instrument;
    (!notes.is_empty()).then(|| Part { role: ROLE, instrument, programs: Vec::new(), notes })
}
