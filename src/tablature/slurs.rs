use std::collections::HashMap;

use super::Tablature;
use crate::perform::SlurKind;
use crate::time::Ticks;

/// Where a string is picked or slurred: the bar's index, the place in it, the string.
type Place = (usize, Ticks, u8);

/// Which notes are joined by the left hand. What goes on from a note that is not written here is joined to none.
#[derive(Debug, Default)]
pub(super) struct Slurs {
    starts: HashMap<Place, SlurKind>,
    stops: HashMap<Place, SlurKind>,
}

impl Slurs {
    pub(super) fn of(tab: &Tablature) -> Self {
        let mut slurs = Self::default();
        // For each string where it was made to sound last, and at which fret.
        let mut last: HashMap<u8, (Place, u8)> = HashMap::new();
        for (index, bar) in tab.bars.iter().enumerate() {
            for stroke in &bar.strokes {
                for pick in &stroke.picks {
                    let here = (index, stroke.at, pick.string);
                    if let Some(slur) = pick.slur()
                        && let Some((from, _)) =
                            last.get(&pick.string).filter(|(_, fret)| *fret == slur.from)
                    {
                        slurs.starts.insert(*from, slur.kind);
                        slurs.stops.insert(here, slur.kind);
                    }
                    last.insert(pick.string, (here, pick.fret));
                }
            }
        }
        slurs
    }

    /// How the string that is made to sound there goes on.
    pub(super) fn begins(&self, bar: usize, at: Ticks, string: u8) -> Option<SlurKind> {
        self.starts.get(&(bar, at, string)).copied()
    }

    /// How the string came there.
    pub(super) fn ends(&self, bar: usize, at: Ticks, string: u8) -> Option<SlurKind> {
        self.stops.get(&(bar, at, string)).copied()
    }
}
