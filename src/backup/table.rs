use std::sync::LazyLock;

use serde::Deserialize;
use thiserror::Error;

use super::words::read_bar;
use crate::coverage::Job;
use crate::style::Slot;
use crate::time::{Meter, Ticks};

/// The table that comes with the program.
static OURS: LazyLock<PatternTable> = LazyLock::new(|| {
    // A test reads it all, so it is never empty.
    PatternTable::read(include_str!("patterns.toml")).unwrap_or_default()
});

/// What is wrong with a table.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
pub(super) enum TableError {
    /// It is no TOML, or has other keys.
    #[error("{0}")]
    Toml(String),
    #[error("there is no meter `{0}`")]
    Meter(String),
    #[error("`{word}` in `{bar}` is no word of a bar")]
    Word { bar: String, word: String },
    #[error("`{bar}` does not fill a bar of {meter}")]
    Length { bar: String, meter: Meter },
}

/// What is played for each job.
#[derive(Clone, Debug, Default)]
pub(super) struct PatternTable {
    bars: Vec<(Job, Row)>,
}

/// A bar.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Row {
    /// What players call it.
    pub name: String,
    pub meters: Vec<Meter>,
    /// True if it stands in for the others where they are too fast for the fingers.
    pub fast: bool,
    /// What happens in each slot.
    pub slots: Vec<Slot>,
    /// The same with the added sixth, slot for slot.
    pub sixth: Vec<Slot>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct File {
    roll: Vec<Written>,
    boom: Vec<Written>,
    vamp: Vec<Written>,
    boom_vamp: Vec<Written>,
    sparse: Vec<Written>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    meters: Vec<String>,
    name: String,
    #[serde(rename = "source")]
    _source: Option<String>,
    #[serde(default)]
    fast: bool,
    bar: String,
    sixth: Option<String>,
}

impl PatternTable {
    /// The one that comes with the program.
    pub(super) fn ours() -> &'static Self {
        &OURS
    }

    fn read(text: &str) -> Result<Self, TableError> {
        let file: File =
            toml::from_str(text).map_err(|error| TableError::Toml(error.to_string()))?;
        let jobs = [
            (Job::Roll, file.roll),
            (Job::Boom, file.boom),
            (Job::Vamp, file.vamp),
            (Job::BoomVamp, file.boom_vamp),
            (Job::Sparse, file.sparse),
        ];
        let mut table = Self::default();
        for (job, rows) in jobs {
            for row in rows {
                table.bars.push((job, row.read()?));
            }
        }
        Ok(table)
    }

    /// The bars for a job in a meter. Where the slots are too fast for most of them, those that are not.
    pub(super) fn bars(&self, job: Job, meter: Meter, fast: bool) -> Vec<&Row> {
        let job = played_as(job);
        let fits = |(own, row): &&(Job, Row)| *own == job && row.meters.contains(&meter);
        let all: Vec<&Row> = self.bars.iter().filter(fits).map(|(_, row)| row).collect();
        let wanted: Vec<&Row> = all.iter().filter(|row| row.fast == fast).copied().collect();
        if wanted.is_empty() { all } else { wanted }
    }
}

impl Written {
    fn read(self) -> Result<Row, TableError> {
        let slots = |bar: &str| {
            read_bar(bar).map_err(|word| TableError::Word { bar: bar.to_owned(), word })
        };
        let plain = slots(&self.bar)?;
        let sixth = self.sixth.as_deref().map_or_else(|| Ok(plain.clone()), slots)?;
        let mut meters = Vec::with_capacity(self.meters.len());
        for name in self.meters {
            let Some(meter) = Meter::parse(&name) else { return Err(TableError::Meter(name)) };
            let fills =
                |slots: &[Slot]| slots.len() as i64 * slot(meter).get() == meter.bar().get();
            if !fills(&plain) || sixth.len() != plain.len() {
                return Err(TableError::Length { bar: self.bar, meter });
            }
            meters.push(meter);
        }
        Ok(Row { name: self.name, meters, fast: self.fast, slots: plain, sixth })
    }
}

/// Whose bars are played for a job: a roll is the same roll however loud it is, and goes on around a fill.
pub(super) const fn played_as(job: Job) -> Job {
    match job {
        Job::RollSoft | Job::RollWith | Job::Fill | Job::Lead => Job::Roll,
        job => job,
    }
}

/// The length of a slot: eighths, but sixteenths in 2/4, whose bar is half as long.
pub(super) const fn slot(meter: Meter) -> Ticks {
    crate::coverage::BeatPart::grid(meter)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_has_bars_for_every_job_in_every_meter() {
        let table = PatternTable::read(include_str!("patterns.toml")).unwrap();
        for meter in Meter::ALL {
            for fast in [false, true] {
                for job in Job::ALL.into_iter().filter(|job| *job != Job::Rest) {
                    assert!(!table.bars(job, meter, fast).is_empty(), "{job} {meter}");
                }
            }
            assert!(table.bars(Job::Roll, meter, false).len() > 1, "{meter}");
        }
        assert!(table.bars(Job::Rest, Meter::FourFour, false).is_empty());
    }

    #[test]
    fn what_is_wrong_is_named() {
        let with = |roll: &str| {
            let others = "boom = []\nvamp = []\nboom-vamp = []\nsparse = []\n";
            let row = format!("{others}[[roll]]\nname = 'a'\n{roll}\n");
            PatternTable::read(&row).map_err(|error| error.to_string()).err()
        };
        assert_eq!(with("meters = ['4/4']\nbar = '3 2 1 5 3 2 1 5'"), None);
        let wrong = with("meters = ['4/4']\nbar = '3 2 1 5 3 2 1 7'").unwrap();
        assert_eq!(wrong, "`7` in `3 2 1 5 3 2 1 7` is no word of a bar");
        let short = with("meters = ['3/4']\nbar = '3 2 1 5'").unwrap();
        assert_eq!(short, "`3 2 1 5` does not fill a bar of 3/4");
        assert_eq!(with("meters = ['5/4']\nbar = '3'").unwrap(), "there is no meter `5/4`");
        assert!(with("meters = []\nbar = '3'\nsixt = '3'").is_some());
    }
}
