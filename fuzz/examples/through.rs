//! Hands every file of a folder to one doorway, or several folders to theirs, without the fuzzer: what is kept of earlier
//! hours, for its coverage (`.ci/fuzz-figures`), or what broke it, to see whether it still does.
//!
//!     through DOORWAY FILE_OR_FOLDER...
//!
//! Prints how many files, how many bytes, and the longest time that one took, in milliseconds.

use std::error::Error;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use doorways::{DOORWAYS, Doorway};

fn main() -> Result<(), Box<dyn Error>> {
    let mut asked = std::env::args().skip(1);
    let name = asked.next().ok_or("through DOORWAY FILE_OR_FOLDER...")?;
    let doorway = DOORWAYS.iter().find(|(doorway, _)| *doorway == name);
    let (_, doorway): &Doorway = doorway.ok_or_else(|| {
        let all: Vec<&str> = DOORWAYS.iter().map(|(name, _)| *name).collect();
        format!("there is no doorway {name}: {}", all.join(", "))
    })?;
    let (mut count, mut size, mut longest) = (0_usize, 0, Duration::ZERO);
    for path in asked {
        for file in files(Path::new(&path))? {
            let bytes = fs::read(&file)?;
            let began = Instant::now();
            // Known even if nothing comes after it.
            let whose = Told(&file);
            doorway(&bytes);
            drop(whose);
            longest = longest.max(began.elapsed());
            count += 1;
            size += bytes.len();
        }
    }
    println!("{count} {size} {}", longest.as_millis());
    Ok(())
}

/// Says which file it was, if it is dropped by a panic.
struct Told<'a>(&'a Path);

impl Drop for Told<'_> {
    fn drop(&mut self) {
        if std::thread::panicking() {
            eprintln!("through: broken by {}", self.0.display());
        }
    }
}

fn files(path: &Path) -> Result<Vec<PathBuf>, std::io::Error> {
    if path.is_file() {
        return Ok(vec![path.to_owned()]);
    }
    let entries = fs::read_dir(path)?.map(|entry| entry.map(|entry| entry.path()));
    let mut files = entries.collect::<Result<Vec<_>, _>>()?;
    files.retain(|file| file.is_file());
    files.sort();
    Ok(files)
}
