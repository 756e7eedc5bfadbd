//! The files of a lesson: each song, part of a song and chord change at each speed.

use super::SoundKind;
use super::folder::LessonFolder;
use crate::chart::RoleSet;
use crate::cli::failure::{Failure, tell};
use crate::cli::files::{midi, write_whole};
use crate::cli::voices::{Kind, save};
use crate::lesson::{Practice, Track};
use crate::live::Control;
use crate::practice::Change;
use crate::rehearsal::{Ready, Rehearsal, Rendition, Voices};

/// Writes them.
pub(super) struct Tracks<'a> {
    folder: &'a LessonFolder,
    /// Sound files beside the MIDI files, if any.
    sound: Option<SoundKind>,
    /// Says when the player wants it to end.
    control: &'a Control,
}

impl<'a> Tracks<'a> {
    pub(super) const fn new(
        folder: &'a LessonFolder,
        sound: Option<SoundKind>,
        control: &'a Control,
    ) -> Self {
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
        let voices = ready.rehearsal.voices();
        let mut songs = Practice::default();
        for &speed in &item.speeds {
            let rehearsal = at_speed(&ready.rehearsal, speed);
            let mut band = played(&rehearsal)?;
            let file = format!("{base}-{}", in_a_file_name(&speed.to_string()));
            songs.tracks.push(self.track(&file, &percent(speed), &band, &voices)?);
            if item.with_banjo.is_some() {
                rehearsal.fill_chair(&mut band, RoleSet::EMPTY).map_err(Failure::failed)?;
                let (file, name) =
                    (format!("{file}-banjo"), format!("{} with the banjo", percent(speed)));
                songs.tracks.push(self.track(&file, &name, &band, &voices)?);
            }
        }
        let mut drills = Vec::new();
        for change in &ready.changes {
            let mut tracks = Vec::new();
            let drill = ready.rehearsal.drill(&ready.played, change, item.change_bars);
            let base = format!("{name}-{}", in_a_file_name(&change.to_string()));
            for &speed in &item.speeds {
                let band = played(&at_speed(&drill, speed))?;
                let file = format!("{base}-{}", in_a_file_name(&speed.to_string()));
                tracks.push(self.track(&file, &percent(speed), &band, &voices)?);
            }
            drills.push(Practice { name: named(change), tracks });
        }
        Ok((songs, drills))
    }

    fn track(
        &self,
        file: &str,
        name: &str,
        band: &Rendition,
        voices: &Voices,
    ) -> Result<Track, Failure> {
        let (song, performance) = (&band.arrangement, &band.performance);
        if self.control.is_stopping() {
            return Err(Failure::failed("stopped: nothing was written"));
        }
        let midi_file = format!("{file}.mid");
        write_whole(&self.folder.file(&midi_file), &midi(performance)?)?;
        let sound = self.sound.map(|kind| match kind {
            SoundKind::Wav => (format!("{file}.wav"), Kind::Wav),
            SoundKind::Flac => (format!("{file}.flac"), Kind::Flac),
        });
        if let Some((sound, kind)) = &sound {
            tell(format!("  {sound}"));
            save(voices, performance, None, *kind, &self.folder.file(sound))?;
        }
        let sound = sound.map(|(file, _)| file);
        Ok(Track {
            name: name.to_owned(),
            tempo: song.tempo.beats_per_minute(song.meter),
            seconds: u64::try_from(performance.nanos(performance.end).0)
                .unwrap_or(0)
                .div_ceil(1_000_000_000),
            midi: midi_file,
            sound,
        })
    }
}

fn at_speed(rehearsal: &Rehearsal, speed: f64) -> Rehearsal {
    let mut rehearsal = rehearsal.clone();
    rehearsal.set_speed(speed);
    rehearsal
}

fn played(rehearsal: &Rehearsal) -> Result<Rendition, Failure> {
    let arrangement = rehearsal.arrangement().map_err(Failure::failed)?;
    rehearsal.perform(arrangement).map_err(Failure::failed)
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
