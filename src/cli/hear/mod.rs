mod take_file;

use std::path::PathBuf;
use std::process::ExitCode;

use serde::Serialize;

use super::failure::Failure;
use super::files::say_to_stdout;
use crate::take::{Hit, Source};
use crate::theory::MidiNote;

pub(super) use take_file::{TakeFile, read_take};

#[derive(Debug, clap::Args)]
pub(super) struct Hear {
    /// What was recorded of the player alone: a sound file (.wav, .flac, .mp3, .ogg, .m4a) or a .mid file
    pub take: PathBuf,
    /// Give the strokes as JSON
    #[arg(long)]
    pub json: bool,
}

/// Lists what is heard in a take.
pub(super) fn run(asked: &Hear) -> Result<ExitCode, Failure> {
    let file = read_take(&asked.take)?;
    if let Some(why) = &file.unheard {
        return Err(Failure::failed(format!("{}: {why}", asked.take.display())));
    }
    let told = Told::new(&file);
    let text = if asked.json {
        serde_json::to_string_pretty(&told).map_err(Failure::failed)?
    } else {
        told.table()
    };
    say_to_stdout(&format!("{text}\n"))?;
    Ok(ExitCode::SUCCESS)
}

/// A take as it is told.
#[derive(Debug, Serialize)]
struct Told {
    /// How it was heard.
    source: Source,
    /// Its length.
    seconds: f64,
    /// How it was recorded; nothing for MIDI.
    sound: Option<ToldSound>,
    /// Its strokes, by time.
    strokes: Vec<StrokeData>,
    /// Slides, hammer-ons and pull-offs, by time; none for MIDI.
    slurs: Vec<StrokeData>,
}

/// How a take was recorded: levels in decibels below full scale, the tuning in cents above 440 Hz.
#[derive(Debug, Serialize)]
struct ToldSound {
    peak: f64,
    loud: f64,
    floor: f64,
    tuning: Option<f64>,
}

#[derive(Debug, Serialize)]
struct StrokeData {
    /// Seconds from the take's beginning.
    at: f64,
    /// How hard, 1 to 127.
    loud: u8,
    /// What sounds, as MIDI numbers; empty if it was not made out.
    pitches: Vec<u8>,
    /// The same by name: G3 is the banjo's third string.
    notes: Vec<String>,
}

impl StrokeData {
    fn new(hit: &Hit) -> Self {
        Self {
            at: hit.at.seconds(),
            loud: hit.loud,
            pitches: hit.pitches.iter().map(|pitch| pitch.get()).collect(),
            notes: hit.pitches.iter().map(|pitch| name(*pitch)).collect(),
        }
    }
}

/// A note's name with the number of its octave: 60 is C4, as in scientific pitch notation.
fn name(pitch: MidiNote) -> String {
    const NAMES: [&str; 12] = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"];
    let letter = NAMES.get(usize::from(pitch.pitch_class())).copied().unwrap_or_default();
    format!("{letter}{}", i32::from(pitch.get()) / 12 - 1)
}

impl Told {
    fn new(file: &TakeFile) -> Self {
        Self {
            source: file.take.source,
            seconds: file.take.length.seconds(),
            sound: file.heard.as_ref().map(|heard| ToldSound {
                peak: heard.peak,
                loud: heard.loud,
                floor: heard.floor,
                tuning: heard.tuning,
            }),
            strokes: file.take.hits.iter().map(StrokeData::new).collect(),
            slurs: file.heard.iter().flat_map(|heard| &heard.slurs).map(StrokeData::new).collect(),
        }
    }

    /// For people: a line for each stroke, and one about the whole.
    fn table(&self) -> String {
        let mut text = "   seconds  loud  notes\n".to_owned();
        let strokes = self.strokes.iter().map(|stroke| (stroke, ""));
        let slurs = self.slurs.iter().map(|slur| (slur, ", slurred"));
        let mut all: Vec<(&StrokeData, &str)> = strokes.chain(slurs).collect();
        all.sort_by(|a, b| a.0.at.total_cmp(&b.0.at));
        for (stroke, how) in all {
            let notes =
                if stroke.notes.is_empty() { "?".to_owned() } else { stroke.notes.join(" ") };
            text += &format!("{:10.3}  {:4}  {notes}{how}\n", stroke.at, stroke.loud);
        }
        let unclear = self.strokes.iter().filter(|stroke| stroke.notes.is_empty()).count();
        text += &format!("{} strokes", self.strokes.len());
        match self.slurs.len() {
            0 => {}
            1 => text += " and 1 slur",
            many => text += &format!(" and {many} slurs"),
        }
        text += &format!(" in {:.1} seconds", self.seconds);
        if unclear > 0 {
            text += &format!("; the notes of {unclear} were not made out (?)");
        }
        match self.sound.as_ref().and_then(|sound| sound.tuning) {
            Some(cents) if cents > 0.0 => text += &format!("; tuned {cents:.0} cents sharp"),
            Some(cents) if cents < 0.0 => text += &format!("; tuned {:.0} cents flat", -cents),
            _ => {}
        }
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strings_have_their_names() {
        // Open G tuning, g4 D3 G3 B3 D4 (common practice, no source), and middle C as MIDI 60.
        for (pitch, told) in
            [(67, "G4"), (50, "D3"), (55, "G3"), (59, "B3"), (62, "D4"), (60, "C4")]
        {
            assert_eq!(name(MidiNote::new(pitch).unwrap()), told);
        }
    }

    #[test]
    fn the_list_is_a_table() {
        let stroke = |at, pitches: &[u8]| StrokeData {
            at,
            loud: 90,
            pitches: pitches.to_vec(),
            notes: pitches.iter().map(|pitch| name(MidiNote::clamped((*pitch).into()))).collect(),
        };
        let sound = ToldSound { peak: -3.0, loud: -12.0, floor: -60.0, tuning: Some(-10.0) };
        let told = Told {
            source: Source::Sound,
            seconds: 3.0,
            sound: Some(sound),
            strokes: vec![stroke(0.5, &[55, 67]), stroke(1.0, &[])],
            slurs: vec![stroke(0.75, &[57])],
        };
        insta::assert_snapshot!(told.table(), @r"
           seconds  loud  notes
             0.500    90  G3 G4
             0.750    90  A3, slurred
             1.000    90  ?
        2 strokes and 1 slur in 3.0 seconds; the notes of 1 were not made out (?); tuned 10 cents flat
        ");
    }
}
