//! How late each microphone hears, as it was measured: one small file in the user's data folder.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use etcetera::BaseStrategy;
use etcetera::base_strategy::choose_native_strategy;
use serde::{Deserialize, Serialize};

use super::write::write_whole;
use crate::cli::failure::Failure;

/// Far more than all the microphones of anybody take.
const MOST_BYTES: u64 = 1 << 20;

/// What was measured of a microphone.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(in crate::cli) struct Latency {
    /// The delay.
    pub milliseconds: f64,
    /// How far the clicks lay apart, in milliseconds.
    pub spread: f64,
    /// The sound device that played them.
    pub through: String,
}

/// All microphones that were measured, by their names.
#[derive(Debug)]
pub(in crate::cli) struct Latencies {
    path: PathBuf,
    all: BTreeMap<String, Latency>,
}

impl Latencies {
    /// Those of the user.
    ///
    /// # Errors
    /// There is no folder for them, or the file can't be read.
    pub(in crate::cli) fn read() -> Result<Self, Failure> {
        let folders = choose_native_strategy().map_err(Failure::failed)?;
        Self::at(&folders.data_dir().join("openchair").join("latency.json"))
    }

    fn at(path: &Path) -> Result<Self, Failure> {
        let shown = path.display();
        let mut text = String::new();
        match File::open(path).and_then(|file| file.take(MOST_BYTES).read_to_string(&mut text)) {
            Ok(_) => {}
            Err(error) if error.kind() == io::ErrorKind::NotFound => text.push_str("{}"),
            Err(error) => return Err(Failure::failed(format!("can't read {shown}: {error}"))),
        }
        let all: BTreeMap<String, Latency> = serde_json::from_str(&text).map_err(|why| {
            Failure::failed(format!(
                "{shown} is damaged ({why}); delete it, and measure again with openchair latency"
            ))
        })?;
        // Whatever was written into it by hand stays a delay.
        let sane = |latency: &Latency| latency.milliseconds.abs() < 10_000.0;
        let all = all.into_iter().filter(|(_, latency)| sane(latency)).collect();
        Ok(Self { path: path.to_owned(), all })
    }

    /// What was measured of a microphone.
    pub(in crate::cli) fn of(&self, microphone: &str) -> Option<&Latency> {
        self.all.get(microphone)
    }

    /// Keeps what was measured, in place of what was before.
    pub(in crate::cli) fn keep(
        &mut self,
        microphone: &str,
        latency: Latency,
    ) -> Result<(), Failure> {
        self.all.insert(microphone.to_owned(), latency);
        let text = serde_json::to_string_pretty(&self.all).map_err(Failure::failed)?;
        let folder = self.path.parent().unwrap_or(Path::new("."));
        fs::create_dir_all(folder).map_err(|error| {
            Failure::failed(format!("can't make {}: {error}", folder.display()))
        })?;
        write_whole(&self.path, format!("{text}\n").as_bytes())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_kept_is_read() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("not/yet/latency.json");
        let mut all = Latencies::at(&path).unwrap();
        assert_eq!(all.of("Desk"), None);
        let latency =
            |milliseconds| Latency { milliseconds, spread: 0.5, through: "Speakers".to_owned() };
        all.keep("Desk", latency(30.5)).unwrap();
        all.keep("Stand", latency(12.0)).unwrap();
        all.keep("Desk", latency(31.5)).unwrap();
        let again = Latencies::at(&path).unwrap();
        assert_eq!(
            (again.of("Desk"), again.of("Stand")),
            (Some(&latency(31.5)), Some(&latency(12.0)))
        );
        fs::write(&path, "{ \"Desk\": 3 }").unwrap();
        let Err(Failure::Failed(why)) = Latencies::at(&path) else { panic!() };
        assert!(why.contains("is damaged") && why.contains("openchair latency"), "{why}");
    }
}
