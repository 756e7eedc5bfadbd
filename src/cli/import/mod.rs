//! Tunes of other formats, written as song files.

mod found;
mod name;

use std::collections::HashSet;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::ValueEnum;

use super::failure::{Failure, tell};
use super::files::{FileShelf, to_stdout, write_whole};
use crate::interchange::{
    Format, Given, Remark, Stray, Tune, find_chords, has_no_chords, read_tunes, song_file,
};
use crate::rehearsal::{StylesRead, check_with_own_style};
use crate::text::{Problems, Source, report};
use found::{Read, collect, read};
use name::file_name;

#[derive(Debug, clap::Args)]
pub(super) struct Import {
    /// Files of tunes, or folders of them: ABC, MusicXML, .mxl, chord sheets and MIDI files of openchair's own
    #[arg(required = true, value_name = "FILE")]
    pub files: Vec<PathBuf>,
    /// Write a song file for each tune into this folder; without it the songs are shown and nothing is written
    #[arg(short, long, value_name = "FOLDER")]
    pub output: Option<PathBuf>,
    /// The voice or part that is the tune, where a file has several; else the first that has notes
    #[arg(long, value_name = "NAME")]
    pub voice: Option<String>,
    /// How many bars each chord lasts in chord sheets without bar lines
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=8))]
    pub bars_per_chord: Option<u32>,
    /// Where a tune's chords come from that the file gives none for
    #[arg(long, value_enum, default_value_t = Chords::Given)]
    pub chords: Chords,
    /// The kind of file, where its name does not say
    #[arg(long, value_enum)]
    pub format: Option<Kind>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Chords {
    /// From nowhere: the band is silent until you write some
    Given,
    /// From the tune; the song file says how sure each is, and what else would do
    Find,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Kind {
    /// ABC
    Abc,
    /// MusicXML
    Musicxml,
    /// MusicXML, compressed
    Mxl,
    /// A chord sheet in plain text
    Sheet,
    /// A MIDI file as `openchair export` writes it
    Mid,
}

impl Kind {
    const fn format(self) -> Format {
        match self {
            Self::Abc => Format::Abc,
            Self::Musicxml => Format::MusicXml,
            Self::Mxl => Format::Mxl,
            Self::Sheet => Format::Sheet,
            Self::Mid => Format::Midi,
        }
    }
}

/// How far it has come.
#[derive(Default)]
struct Done {
    /// How many songs came out.
    songs: usize,
    /// How many tunes or files did not.
    failed: usize,
    /// The song files that were written, or would have been.
    taken: HashSet<PathBuf>,
    /// The styles that they are in.
    styles: StylesRead,
}

/// Reads every file; songs go to the folder, or are shown.
pub(super) fn run(asked: &Import) -> Result<ExitCode, Failure> {
    let files = collect(&asked.files)?;
    if let Some(folder) = &asked.output {
        std::fs::create_dir_all(folder).map_err(|error| {
            Failure::failed(format!("can't make the folder {}: {error}", folder.display()))
        })?;
    }
    let mut done = Done::default();
    for path in &files {
        match read(path, asked.format.map(Kind::format)) {
            Ok(read) => import(asked, &read, &mut done)?,
            Err(why) => {
                tell(why);
                done.failed += 1;
            }
        }
    }
    let songs = |n: usize| if n == 1 { "1 song".to_owned() } else { format!("{n} songs") };
    let left = match done.failed {
        0 => String::new(),
        failed => format!("; {failed} could not be imported"),
    };
    match &asked.output {
        Some(folder) => tell(format!("{} in {}{left}", songs(done.songs), folder.display())),
        None => tell(format!("{} shown{left}; -o FOLDER writes them", songs(done.songs))),
    }
    Ok(ExitCode::from(u8::from(done.failed > 0 || done.songs == 0)))
}

fn import(asked: &Import, file: &Read, done: &mut Done) -> Result<(), Failure> {
    let given = Given { voice: asked.voice.as_deref(), bars_per_chord: asked.bars_per_chord };
    let tunes = match read_tunes(&file.name, &file.bytes, file.format, given) {
        Ok(tunes) => tunes,
        Err(wrong) => {
            done.failed += 1;
            tell(wrong);
            return Ok(());
        }
    };
    let lines = Lines::of(&tunes.source);
    for Stray { at, words } in &tunes.strays {
        done.failed += 1;
        tell(format!("{}: {words}", lines.place(*at)));
    }
    if tunes.tunes.is_empty() && tunes.strays.is_empty() {
        done.failed += 1;
        tell(format!("{}: there is no tune in it", file.name));
    }
    for tune in &tunes.tunes {
        match one(asked, &lines, tune, done) {
            Ok(()) => done.songs += 1,
            Err(Failure::Failed(why)) => {
                done.failed += 1;
                tell(why);
            }
            Err(other) => return Err(other),
        }
    }
    Ok(())
}

/// Writes or shows a tune, and says what could not be kept.
fn one(asked: &Import, lines: &Lines, tune: &Tune, done: &mut Done) -> Result<(), Failure> {
    let source = lines.source;
    let whose = |at: usize| format!("{}: {}", lines.place(at), tune.title);
    let (song, remarks) =
        tune.song().map_err(|why| Failure::failed(format!("{}: {why}", whose(tune.at))))?;
    let mut said: Vec<Remark> = remarks.all().to_vec();
    let mut say = |words: String| said.push(Remark { words, at: tune.at, bars: Vec::new() });
    let silent = has_no_chords(&song);
    let found = (silent && asked.chords == Chords::Find).then(|| find_chords(&song)).flatten();
    let (song, sure) = match found {
        Some((with_chords, found)) => {
            say(found.sentence());
            if let Some(words) = found.home_sentence(&song) {
                say(words);
            }
            (with_chords, found.remarks(&song))
        }
        None => {
            if silent {
                let seek = "; `--chords find` finds some for a tune";
                let seek = if asked.chords == Chords::Find { "" } else { seek };
                say(format!("no chords are given, and so the band is silent{seek}"));
            }
            (song, String::new())
        }
    };
    let from = Path::new(&source.name)
        .file_name()
        .map_or_else(|| source.name.clone(), |name| name.to_string_lossy().into_owned());
    let text = song_file(&song, &from, &said) + &sure;
    let folder = asked.output.clone().unwrap_or_default();
    let path = file_name(&folder, &song.title, &mut done.taken, asked.output.is_some());
    check(&path, &text, &whose(tune.at), &mut done.styles)?;
    for remark in &said {
        tell(format!("{}: {}", whose(remark.at), remark.sentence()));
    }
    match &asked.output {
        Some(_) => write_whole(&path, text.as_bytes()),
        None => to_stdout(format!("{text}\n").as_bytes()),
    }
}

/// What is written is read back as `openchair check` would.
fn check(path: &Path, text: &str, whose: &str, styles: &mut StylesRead) -> Result<(), Failure> {
    let name = path.display().to_string();
    let source =
        Source::new(name, text).map_err(|why| Failure::failed(format!("{whose}: {why}")))?;
    let mut problems = Problems::new();
    let _ = check_with_own_style(&source, &FileShelf::of_song(path), styles, &mut problems);
    if problems.is_empty() {
        return Ok(());
    }
    Err(Failure::failed(format!(
        "{whose}: the song would have mistakes\n{}",
        report(&source, &problems, false)
    )))
}

/// Where the lines of a file begin: it may hold thousands of tunes, each with much to say.
struct Lines<'a> {
    source: &'a Source,
    starts: Vec<usize>,
}

impl<'a> Lines<'a> {
    fn of(source: &'a Source) -> Self {
        let ends = source.text.match_indices('\n').map(|(at, _)| at + 1);
        Self { source, starts: std::iter::once(0).chain(ends).collect() }
    }

    /// `heron.abc:12`.
    fn place(&self, at: usize) -> String {
        format!("{}:{}", self.source.name, self.starts.partition_point(|start| *start <= at))
    }
}
