use std::path::{Path, PathBuf};

use crate::cli::failure::{Failure, tell};
use crate::cli::files::write_whole;
use crate::cli::options::HANDS;
use crate::live::{Ear, Tape, ear};
use crate::sink::smf;
use crate::take::Recorded;

/// How a player is heard while the band plays.
#[derive(Debug, clap::Args)]
pub(in crate::cli) struct Listen {
    /// Hear you play at the MIDI input with this in its name, and review it at the end
    #[arg(long, value_name = "NAME", help_heading = HANDS)]
    pub listen: Option<String>,
    /// Keep what --listen hears as a MIDI file that lies on the song's bars
    #[arg(long, value_name = "FILE.mid", help_heading = HANDS)]
    pub record: Option<PathBuf>,
}

impl Listen {
    /// What the options ask for that cannot be, before anything sounds.
    pub(in crate::cli) fn check(&self, song: &Path) -> Result<(), Failure> {
        let Some(path) = &self.record else { return Ok(()) };
        let shown = path.display();
        if self.listen.is_none() {
            return Err(Failure::usage(format!(
                "--record {shown}: it keeps what is heard at a MIDI input; add --listen NAME \
                 (openchair ports lists them)"
            )));
        }
        let ending = path.extension().unwrap_or_default().to_string_lossy().to_lowercase();
        if !matches!(ending.as_str(), "mid" | "midi") {
            return Err(Failure::usage(format!("--record {shown}: the name must end in .mid")));
        }
        if matches!((path.canonicalize(), song.canonicalize()), (Ok(a), Ok(b)) if a == b) {
            return Err(Failure::usage(format!(
                "--record {shown}: this is the song itself; give the take another name"
            )));
        }
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
        if folder.is_some_and(|folder| !folder.is_dir()) {
            return Err(Failure::failed(format!(
                "--record {shown}: there is no such folder; make it first"
            )));
        }
        Ok(())
    }

    /// Whoever keeps what will be heard, and the ear to hear it with.
    pub(super) fn begin(&self, title: &str) -> Option<(Listening<'_>, Ear)> {
        let wanted = self.listen.as_deref()?;
        let (ear, hearing) = ear();
        let tape = Tape::new(title.to_owned(), hearing);
        let record = self.record.as_deref();
        Some((Listening { wanted, record, tape, kept: None }, ear))
    }
}

/// Keeps what is heard of a player. However it goes, a panic included, the recording is written.
pub(super) struct Listening<'a> {
    /// The input, by part of its name.
    pub wanted: &'a str,
    /// What is heard.
    pub tape: Tape,
    record: Option<&'a Path>,
    kept: Option<Recorded>,
}

impl Listening<'_> {
    /// Writes the recording, if one was asked for, and says what became of it. Gives it, unless nothing was
    /// heard.
    pub(super) fn keep(&mut self) -> Result<Option<&Recorded>, Failure> {
        let missed = self.tape.missed();
        if missed > 0 {
            tell(format!(
                "{missed} messages of your instrument came while the machine was held up, and are lost"
            ));
        }
        let recorded = self.kept.insert(self.tape.recorded());
        if recorded.played.is_empty() {
            let left = match self.record {
                Some(path) => format!("; {} was not written", path.display()),
                None => String::new(),
            };
            tell(format!("nothing was heard at {}{left}", self.wanted));
            return Ok(None);
        }
        if let Some(path) = self.record {
            write(recorded, path)?;
        }
        Ok(Some(recorded))
    }
}

impl Drop for Listening<'_> {
    fn drop(&mut self) {
        if self.kept.is_none() && self.tape.has_heard() {
            // On the way out of something worse, which is what will be told.
            let _ = self.keep();
        }
    }
}

/// Writes the file; where that can't be, another where it can, for a take can't be played again.
fn write(recorded: &Recorded, path: &Path) -> Result<(), Failure> {
    let bytes = smf::recorded_to_bytes(recorded).map_err(Failure::failed)?;
    let Err(failure) = write_whole(path, &bytes) else {
        tell(format!("your take is in {}", path.display()));
        return Ok(());
    };
    let aside = std::env::temp_dir().join(format!("openchair-take-{}.mid", std::process::id()));
    match (failure, write_whole(&aside, &bytes)) {
        (Failure::Failed(why), Ok(())) => {
            Err(Failure::failed(format!("{why}; your take is in {} instead", aside.display())))
        }
        (failure, _) => Err(failure),
    }
}
