use std::sync::{Arc, LazyLock};

use super::fit::{FittedLick, covers, leads_on, places};
use super::lick::{Lick, Purpose};
use super::read::read_licks;
use crate::text::{Problems, Source};
use crate::theory::Chord;
use crate::time::Meter;

/// The files that come with the program.
const FILES: [(&str, &str); 5] = [
    ("licks/lead-ins.toml", include_str!("../../../licks/lead-ins.toml")),
    ("licks/fills.toml", include_str!("../../../licks/fills.toml")),
    ("licks/fills-up-the-neck.toml", include_str!("../../../licks/fills-up-the-neck.toml")),
    ("licks/threes-and-sixes.toml", include_str!("../../../licks/threes-and-sixes.toml")),
    (
        "licks/beginnings-and-endings.toml",
        include_str!("../../../licks/beginnings-and-endings.toml"),
    ),
];

static SHIPPED: LazyLock<LickBook> = LazyLock::new(|| {
    let licks = FILES.iter().flat_map(|(name, text)| {
        // A test reads them all, so nothing is lost here.
        let source = Source::new(*name, *text).ok();
        source.and_then(|source| read_licks(&source, &mut Problems::new())).unwrap_or_default()
    });
    LickBook { licks: licks.map(Arc::new).collect() }
});

/// All the licks that a player knows.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LickBook {
    licks: Vec<Arc<Lick>>,
}

/// What a lick is wanted for.
#[derive(Clone, Copy, Debug)]
pub(in crate::backup) struct Wanted<'a> {
    pub purpose: Purpose,
    pub meter: Meter,
    /// In the meter's own beat.
    pub beats_per_minute: f64,
    /// The chord that it stands on, and its root as fretted.
    pub chord: &'a Chord,
    pub root: u8,
}

impl LickBook {
    /// Those that come with the program.
    pub fn shipped() -> &'static Self {
        &SHIPPED
    }

    /// The same and others, which stand first.
    #[must_use]
    pub fn with(&self, others: impl IntoIterator<Item = Lick>) -> Self {
        let licks = others.into_iter().map(Arc::new).chain(self.licks.iter().cloned());
        Self { licks: licks.collect() }
    }

    /// All of them.
    pub fn licks(&self) -> impl Iterator<Item = &Lick> {
        self.licks.iter().map(AsRef::as_ref)
    }

    /// Those that may stand there, wherever on the neck they fit; with `to` those that lead to that chord, without
    /// it those that lead nowhere by themselves.
    pub(in crate::backup) fn fitting(
        &self,
        wanted: Wanted<'_>,
        to: Option<&Chord>,
    ) -> Vec<FittedLick> {
        let fits = |lick: &Lick| {
            let there = match to {
                Some(to) => leads_on(lick, wanted.chord, to),
                None => lick.to.is_none(),
            };
            lick.purpose == wanted.purpose
                && there
                && lick.meters.contains(&wanted.meter)
                && lick.tempo.contains(&wanted.beats_per_minute)
                && covers(lick.chord.quality, wanted.chord.quality)
        };
        let found = self.licks.iter().filter(|lick| fits(lick));
        let placed = found.flat_map(|lick| {
            places(lick, wanted.root).map(|up| FittedLick { lick: Arc::clone(lick), up })
        });
        placed.collect()
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;
    use crate::text::report;

    #[test]
    fn the_shipped_licks_are_sound_and_each_has_its_name() {
        let mut names = BTreeSet::new();
        for (name, text) in FILES {
            let source = Source::new(name, text).unwrap();
            let mut problems = Problems::new();
            let licks = read_licks(&source, &mut problems);
            let licks = licks.unwrap_or_else(|| panic!("{}", report(&source, &problems, false)));
            for lick in licks {
                assert!(names.insert(lick.name.clone()), "{} stands twice", lick.name);
            }
        }
        assert!(names.len() >= 60, "{}", names.len());
        assert_eq!(LickBook::shipped().licks().count(), names.len());
        for purpose in Purpose::ALL {
            let of = LickBook::shipped().licks().filter(|lick| lick.purpose == purpose).count();
            assert!(of >= 3, "{purpose}: {of}");
        }
    }
}
