use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use super::growing::{GrowingTake, aside};
use super::microphone::Ears;
use crate::cli::failure::{Failure, tell};
use crate::cli::files::{native, write_whole};
use crate::cli::options::{HANDS, milliseconds};
use crate::live::{Ear, Tape, ear};
use crate::sink::smf;
use crate::take::{Hit, Recorded};

/// How a player is heard while the band plays.
#[derive(Debug, clap::Args)]
pub(in crate::cli) struct Listen {
    /// Hear you play at the MIDI input with this in its name, and review it at the end
    #[arg(long, value_name = "NAME", help_heading = HANDS, conflicts_with = "listen_mic")]
    pub listen: Option<String>,
    /// Hear you play through the microphone with this in its name, or the default one, and review it at the end
    #[arg(long, value_name = "DEVICE", help_heading = HANDS, num_args = 0..=1, default_missing_value = "")]
    pub listen_mic: Option<String>,
    /// How late --listen-mic hears you, in place of what `openchair latency` has measured
    #[arg(long, value_name = "MS", help_heading = HANDS, requires = "listen_mic", allow_negative_numbers = true, value_parser = milliseconds)]
    pub latency: Option<f64>,
    /// Keep what --listen hears as a MIDI file that lies on the song's bars, or what --listen-mic hears as a .wav; a take
    /// that is there already stays, and this one gets a number
    #[arg(long, value_name = "FILE", help_heading = HANDS)]
    pub record: Option<PathBuf>,
    /// Don't keep the figures of the take for `openchair progress`
    #[arg(long, help_heading = HANDS)]
    pub no_log: bool,
}

impl Listen {
    /// True if a player is heard in whatever way.
    pub(in crate::cli) const fn is_asked(&self) -> bool {
        self.listen.is_some() || self.listen_mic.is_some()
    }

    /// What the options ask for that cannot be, before anything sounds.
    pub(in crate::cli) fn check(&self, song: &Path) -> Result<(), Failure> {
        let Some(path) = &self.record else { return Ok(()) };
        let shown = path.display();
        if !self.is_asked() {
            return Err(Failure::usage(format!(
                "--record {shown}: it keeps what is heard at a MIDI input or a microphone; add --listen NAME or \
                 --listen-mic (openchair ports lists them)"
            )));
        }
        let ending = path.extension().unwrap_or_default().to_string_lossy().to_lowercase();
        let (fits, wanted) = match self.listen {
            Some(_) => (matches!(ending.as_str(), "mid" | "midi"), ".mid"),
            None => (ending == "wav", ".wav"),
        };
        if !fits {
            return Err(Failure::usage(format!("--record {shown}: the name must end in {wanted}")));
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

    /// Whoever keeps what will be heard, and the ear to hear it with if that is at a MIDI input. Opens the microphone,
    /// if it is to be heard.
    pub(super) fn begin(
        &self,
        title: &str,
        epoch: Instant,
    ) -> Result<Option<(Listening, Option<Ear>)>, Failure> {
        let record = self.record.as_deref().map(beside_what_is_there).transpose()?;
        let title = title.to_owned();
        if let Some(wanted) = &self.listen {
            let (ear, hearing) = ear();
            let tape = Tape::new(title, Some(hearing));
            let listening =
                Listening { wanted: wanted.clone(), record, tape, ears: None, kept: None };
            return Ok(Some((listening, Some(ear))));
        }
        let Some(asked) = &self.listen_mic else { return Ok(None) };
        let asked = Some(asked.as_str()).filter(|name| !name.is_empty());
        let ears = Ears::open(asked, self.latency, record.as_deref(), epoch)?;
        tell(format!("listening at {}", ears.name));
        let (wanted, tape) = (ears.name.clone(), Tape::new(title, None));
        Ok(Some((Listening { wanted, record, tape, ears: Some(ears), kept: None }, None)))
    }
}

/// Keeps what is heard of a player. However it goes, a panic included, the recording is written.
pub(super) struct Listening {
    /// The input, by part of its name, or the microphone's name.
    pub wanted: String,
    /// What is heard.
    pub tape: Tape,
    /// The microphone.
    pub ears: Option<Ears>,
    /// Where the recording goes, if one was asked for.
    pub record: Option<PathBuf>,
    kept: Option<Recorded>,
}

impl Listening {
    /// Writes the recording, if one was asked for, and says what became of it. Gives it, unless nothing was
    /// heard.
    pub(super) fn keep(&mut self) -> Result<Option<&Recorded>, Failure> {
        let missed = self.tape.missed();
        if missed > 0 {
            tell(format!(
                "{missed} messages of your instrument came while the machine was held up, and are lost"
            ));
        }
        let unheard = match self.ears.take() {
            Some(ears) => self.hear_all(ears)?,
            None => None,
        };
        let recorded = self.kept.insert(self.tape.recorded());
        if recorded.strokes() == 0 && recorded.played.is_empty() {
            let left = match self.record.as_ref().filter(|_| unheard.is_none()) {
                Some(path) => format!("; {} was not written", path.display()),
                None => String::new(),
            };
            let why = unheard.map_or_else(String::new, |why| format!(": {why}"));
            tell(format!("nothing was heard at {}{left}{why}", self.wanted));
            return Ok(None);
        }
        if let Some(path) = self.record.as_ref().filter(|_| recorded.hits.is_empty()) {
            let bytes = smf::recorded_to_bytes(recorded).map_err(Failure::failed)?;
            write(&bytes, path)?;
        }
        Ok(Some(recorded))
    }

    /// Writes what a microphone heard, if that was asked for, and hears all of it. Gives why nothing is heard, if so.
    fn hear_all(&mut self, ears: Ears) -> Result<Option<String>, Failure> {
        let (mut kept, latency) = ears.stop()?;
        // First what can't be had again.
        match kept.file.take().and_then(GrowingTake::finish) {
            Some(Ok(path)) => tell(format!("your take is in {}", path.display())),
            Some(Err(why)) => return Err(Failure::failed(why)),
            None => {}
        }
        self.tape.forget_strokes();
        match kept.strokes() {
            Ok(hits) => {
                for hit in hits {
                    self.tape.strike(Hit { at: crate::time::Nanos(hit.at.0 - latency.0), ..hit });
                }
                Ok(None)
            }
            Err(why) => Ok(Some(why.to_string())),
        }
    }
}

impl Drop for Listening {
    fn drop(&mut self) {
        if self.kept.is_none() && (self.tape.has_heard() || self.ears.is_some()) {
            // On the way out of something worse, which is what will be told.
            let _ = self.keep();
        }
    }
}

/// Where a take goes: to the name that was asked for, or, if a take has it already, to the next one that is free.
fn beside_what_is_there(path: &Path) -> Result<PathBuf, Failure> {
    /// More takes of one name than anyone plays.
    const MOST: u32 = 10_000;
    // A device or a pipe is written to as it is.
    if !path.is_file() {
        return Ok(path.to_owned());
    }
    let part = |part: Option<&OsStr>| part.unwrap_or_default().to_string_lossy().into_owned();
    let (stem, ending) = (part(path.file_stem()), part(path.extension()));
    let free = (2..MOST)
        .map(|number| native(path.with_file_name(format!("{stem}-{number}.{ending}"))))
        .find(|other| fs::symlink_metadata(other).is_err());
    let shown = path.display();
    let Some(free) = free else {
        return Err(Failure::failed(format!(
            "--record {shown}: there are too many takes of that name; give this one another"
        )));
    };
    tell(format!("{shown} is there already and stays; this take goes to {}", free.display()));
    Ok(free)
}

/// Keeps what was heard so far as a file, now and then: a machine that stops at once, or a program that is killed, leaves
/// it.
#[derive(Debug)]
pub(super) struct Meanwhile {
    path: PathBuf,
    kept: usize,
    next: Instant,
}

impl Meanwhile {
    /// How much of a take may be lost: about a line of a song.
    const APART: Duration = Duration::from_secs(10);

    /// To that file.
    pub(super) fn new(path: PathBuf) -> Self {
        Self { path, kept: 0, next: Instant::now() + Self::APART }
    }

    /// Writes it if it is time to, and something new was heard. What can't be written is told at the end.
    pub(super) fn keep(&mut self, tape: &Tape) {
        let now = Instant::now();
        if now < self.next || tape.count() == self.kept {
            return;
        }
        (self.next, self.kept) = (now + Self::APART, tape.count());
        if let Ok(bytes) = smf::recorded_to_bytes(&tape.recorded()) {
            let _ = write_whole(&self.path, &bytes);
        }
    }
}

/// Writes the file; where that can't be, another where it can, for a take can't be played again.
fn write(bytes: &[u8], path: &Path) -> Result<(), Failure> {
    let Err(failure) = write_whole(path, bytes) else {
        tell(format!("your take is in {}", path.display()));
        return Ok(());
    };
    let ending = path.extension().unwrap_or_default().to_string_lossy();
    let aside = aside(&ending);
    match (failure, write_whole(&aside, bytes)) {
        (Failure::Failed(why), Ok(())) => {
            Err(Failure::failed(format!("{why}; your take is in {} instead", aside.display())))
        }
        (failure, _) => Err(failure),
    }
}
