//! The files of a lesson: each song, part of a song and chord change at each speed.

use super::export::midi;
use super::failure::{Failure, tell};
use super::lesson_folder::LessonFolder;
use super::lesson_ready::{Ready, SEED};
use super::open_chair::{OpenChair, With};
use super::output::write_whole;
use super::voices::Voices;
use crate::arrange::{Arrangement, Plan, arrange};
use crate::chart::Song;
use crate::lesson::{Practice, Track};
use crate::live::Control;
use crate::perform::{Performance, perform};
use crate::practice::{Change, drill};

/// Writes them.
pub(super) struct Tracks<'a> {
    folder: &'a LessonFolder,
    /// True for sound files beside the MIDI files.
    sound: bool,
    /// Says when the player wants it to end.
    control: &'a Control,
}

impl<'a> Tracks<'a> {
    pub(super) const fn new(folder: &'a LessonFolder, sound: bool, control: &'a Control) -> Self {
        Self { folder, sound, control }
    }

    /// Those of one thing to practise: what is played along to, and its changes.
    pub(super) fn write(
        &mut self,
        number: usize,
        ready: &Ready,
    ) -> Result<(Practice, Vec<Practice>), Failure> {
        let item = &ready.item;
        let name = format!("{number:02}-{}", in_a_file_name(&ready.stem));
        let part = item.stretch.as_ref().map(|stretch| in_a_file_name(&stretch.value.to_string()));
        let base = part.map_or_else(|| name.clone(), |part| format!("{name}-{part}"));
        let mut songs = Practice::default();
        for &speed in &item.speeds {
            let song = arranged(ready, speed)?;
            let file = format!("{base}-{}", in_a_file_name(&speed.to_string()));
            let performance = perform(&song, &ready.style, SEED).map_err(Failure::failed)?;
            songs.tracks.push(self.track(&file, &percent(speed), &song, &performance, ready)?);
            if item.with_banjo.is_some() {
                let mut full = performance;
                let chair = OpenChair { with: Some(With::Banjo), level: Some(item.level) };
                chair.fill(&song, &ready.style, &mut full, SEED)?;
                let (file, name) =
                    (format!("{file}-banjo"), format!("{} with the banjo", percent(speed)));
                songs.tracks.push(self.track(&file, &name, &song, &full, ready)?);
            }
        }
        let mut drills = Vec::new();
        for change in &ready.changes {
            let mut tracks = Vec::new();
            let song = drill(&ready.song, &ready.played, change, item.change_bars);
            let base = format!("{name}-{}", in_a_file_name(&change.to_string()));
            for &speed in &item.speeds {
                let round = drilled(ready, &song, speed)?;
                let performance = perform(&round, &ready.style, SEED).map_err(Failure::failed)?;
                let file = format!("{base}-{}", in_a_file_name(&speed.to_string()));
                tracks.push(self.track(&file, &percent(speed), &round, &performance, ready)?);
            }
            drills.push(Practice { name: named(change), tracks });
        }
        Ok((songs, drills))
    }

    fn track(
        &self,
        file: &str,
        name: &str,
        song: &Arrangement,
        performance: &Performance,
        ready: &Ready,
    ) -> Result<Track, Failure> {
        if self.control.is_stopping() {
            return Err(Failure::failed("stopped: nothing was written"));
        }
        let midi_file = format!("{file}.mid");
        write_whole(&self.folder.file(&midi_file), &midi(performance)?)?;
        let wav = self.sound.then(|| format!("{file}.wav"));
        if let Some(wav) = &wav {
            tell(format!("  {wav}"));
            let voices = Voices::of(&ready.song, &ready.style, ready.item.band, SEED);
            voices.save(performance, None, &self.folder.file(wav))?;
        }
        Ok(Track {
            name: name.to_owned(),
            tempo: song.tempo.beats_per_minute(song.meter),
            seconds: u64::try_from(performance.nanos(performance.end).0)
                .unwrap_or(0)
                .div_ceil(1_000_000_000),
            midi: midi_file,
            wav,
        })
    }
}

/// The song or its part at a speed, with a count-in.
fn arranged(ready: &Ready, speed: f64) -> Result<Arrangement, Failure> {
    let plan = Plan { speed, ..ready.plan.clone() };
    let song = arrange(&ready.song, &plan).map_err(Failure::failed)?;
    let rounds = ready.item.rounds.get() as usize;
    let mut song = match &ready.bars {
        None => song,
        Some(bars) => ended(song.excerpt(bars.clone(), rounds), &ready.song)?,
    };
    ready.chairs.lay_out(&mut song);
    Ok(song.counted_in(ready.item.count_in))
}

/// A change at a speed, with a count-in. Who sits out in one section plays: a change is of no section.
fn drilled(ready: &Ready, song: &Song, speed: f64) -> Result<Arrangement, Failure> {
    let mut plan = Plan { key: None, speed, ..ready.plan.clone() };
    plan.sit_out.retain(|out| out.section.is_none());
    let song = arrange(song, &plan).map_err(Failure::failed)?;
    let (all, rounds) = (1..=song.bars.len(), ready.item.rounds.get() as usize);
    let mut round = ended(song.excerpt(all, rounds), &ready.song)?;
    ready.chairs.lay_out(&mut round);
    Ok(round.counted_in(ready.item.count_in))
}

/// What goes round ends after its last round, so that nothing leads on and nothing rings past the file's end.
fn ended(round: Option<Arrangement>, song: &Song) -> Result<Arrangement, Failure> {
    let round = round.ok_or_else(|| Failure::failed(format!("{} has no such bars", song.title)))?;
    Ok(Arrangement { round: None, ..round })
}

fn named(change: &Change) -> String {
    format!("{} to {}", change.from, change.to)
}

fn percent(speed: f64) -> String {
    format!("{speed} %")
}

/// Words as a file's name has them: small letters, figures and hyphens.
pub(super) fn in_a_file_name(words: &str) -> String {
    let mut name = String::new();
    for c in words.chars() {
        match c {
            '#' => name.push_str("-sharp"),
            c if c.is_ascii_alphanumeric() => name.push(c.to_ascii_lowercase()),
            _ if name.ends_with('-') => {}
            _ => name.push('-'),
        }
    }
    name.trim_matches('-').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_files_are_plain() {
        assert_eq!(in_a_file_name("F#m7b5 to B7"), "f-sharpm7b5-to-b7");
        assert_eq!(in_a_file_name(" Verse: 2 / \"x\""), "verse-2-x");
        assert_eq!(in_a_file_name("72.5"), "72-5");
        assert_eq!(in_a_file_name("…"), "");
    }
}
