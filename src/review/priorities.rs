use std::sync::LazyLock;

use serde::Deserialize;

use super::Part;

/// The table as it is shipped.
const SHIPPED: &str = include_str!("priorities.toml");

/// What a teacher says of one part of the playing.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Priority {
    about: Part,
    weight: (f64, f64),
    /// At how many percent of the speed now it is worked on.
    pub speed: f64,
    /// True if it is worked on in the bars where it is worst.
    pub bars: bool,
    work: String,
    /// Why it stands where it stands. Told to who reads the table.
    #[serde(rename = "why")]
    _why: String,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct Table {
    part: Vec<Priority>,
}

static TABLE: LazyLock<Table> = LazyLock::new(|| toml::from_str(SHIPPED).unwrap_or_default());

/// What the table says of a part; a test holds that it has them all.
pub(super) fn priority(about: Part) -> Option<&'static Priority> {
    TABLE.part.iter().find(|priority| priority.about == about)
}

/// How much something matters of which there is so much: 0 for hardly any, 1 for as much as can be.
pub(super) fn weight(about: Part, how_much: f64) -> f64 {
    let (from, to) = priority(about).map_or((0.0, 0.0), |priority| priority.weight);
    from + (to - from) * how_much.clamp(0.0, 1.0)
}

impl Priority {
    /// What to do about it, with the bars to loop and the speed to do it at, where it is not the speed now.
    pub(super) fn work(&self, bars: Option<(usize, usize)>, speed: f64, now: f64) -> String {
        let at = if speed == now { String::new() } else { format!(" at {speed:.0} percent") };
        let round = match bars {
            Some((first, last)) if first == last => format!("Loop bar {first}{at}"),
            Some((first, last)) => format!("Loop bars {first} to {last}{at}"),
            None => format!("Play it{at}"),
        };
        self.work.replace("{loop}", &round).replace("{speed}", &format!("{speed:.0}"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_knows_every_part_and_is_in_order() {
        let table: Table = toml::from_str(SHIPPED).unwrap();
        for about in Part::ALL {
            let known = table.part.iter().filter(|priority| priority.about == about).count();
            assert_eq!(known, 1, "{about:?}");
        }
        assert_eq!(table.part.len(), Part::ALL.len());
        for Priority { about, weight: (from, to), speed, work, _why, .. } in &table.part {
            assert!(0.0 <= *from && from <= to && *to <= 1.0, "{about:?}");
            assert!((50.0..=100.0).contains(speed) && work.ends_with('.') && _why.ends_with('.'));
        }
    }

    /// Chords before time, time before feel, feel before fills (common practice, no source): a bad case of each before
    /// any of the next.
    #[test]
    fn chords_come_before_time_and_time_before_feel_and_feel_before_fills() {
        let order =
            [Part::Lost, Part::ChordsMissed, Part::Rushing, Part::Straight, Part::FillsEarly];
        for pair in order.windows(2) {
            assert!(weight(pair[0], 1.0) > weight(pair[1], 1.0), "{pair:?}");
        }
        assert!(weight(Part::LoudBehindSinger, 0.0) > weight(Part::Rushing, 1.0));
    }
}
