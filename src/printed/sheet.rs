use super::ChordText;
use crate::chart::Stop;
use crate::time::BarMeter;

/// How a chart is to be written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct How {
    /// Chords by name, by number, or both.
    pub chords: ChordsAs,
    /// The fret of a capo behind whose shapes the names are written, 0 to [`Capo::MAX`](crate::theory::Capo::MAX).
    pub capo: u8,
}

/// How chords are called.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum ChordsAs {
    /// `Am7`.
    #[default]
    Names,
    /// `2m7`, on the major scale of the home note.
    Numbers,
    /// The name, and its number under it.
    Both,
}

/// A song as a chart to print: its words, and what stands where in its bars.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ChartSheet {
    /// The song's title; nothing in it acts on what shows it.
    pub title: String,
    /// Who made it.
    pub composer: Option<String>,
    /// The key it sounds in: `B♭`, `F♯ minor`.
    pub key: String,
    /// Meter, tempo, capos and the like, a few words each.
    pub facts: Vec<String>,
    /// The passes of the form, in order.
    pub passes: Vec<PassRow>,
    /// The sections, each once, and the ending.
    pub parts: Vec<Part>,
    /// What the signs mean that stand in it, a few words each.
    pub signs: Vec<String>,
}

/// A pass of the form.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PassRow {
    /// Which it is, from 1; empty for what is none of the form's.
    pub number: String,
    /// Its section.
    pub section: String,
    /// Who leads: `voice`, `guitar break`.
    pub lead: String,
    /// `1–16`.
    pub bars: String,
    /// Whose chair is open.
    pub open: String,
    /// What is left to the player: `roll softly; fill 4, 7–8`.
    pub jobs: String,
}

/// A section.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Part {
    /// Its name, or what it is.
    pub name: String,
    /// When it is played, and how.
    pub note: String,
    /// Its lines, as they are written.
    pub rows: Vec<Row>,
    /// True if a voice leads in one of its passes.
    pub is_sung: bool,
    /// True if the band stops anywhere in it.
    pub has_stops: bool,
}

/// A line of bars.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Row {
    /// The number of its first bar, each time it is played within the section's first pass; none for a pickup.
    pub numbers: Vec<usize>,
    /// How far in it begins, in bars of the song's meter.
    pub indent: f64,
    /// Its bars.
    pub cells: Vec<Cell>,
    /// What closes it.
    pub close: BarSign,
}

/// What stands between bars.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum BarSign {
    /// A bar line.
    #[default]
    Line,
    /// `|:`
    RepeatFrom,
    /// `:|`
    RepeatTo,
    /// The end of a section.
    Double,
}

/// A bar.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Cell {
    /// What stands before it.
    pub open: BarSign,
    /// 1 or 2 where the first or second ending begins.
    pub ending: Option<u8>,
    /// Its meter, where it has one of its own.
    pub meter: Option<BarMeter>,
    /// True if it is no bar but what leads into the first.
    pub is_pickup: bool,
    /// How wide it is, in bars of the song's meter.
    pub width: f64,
    /// How many eighth notes it lasts, at least 1.
    pub eighths: u32,
    /// Its chords in order, the first at 0.
    pub chords: Vec<PlacedChord>,
    /// At which eighths a chord goes on for another beat, where the shares of the bar are not alike.
    pub slashes: Vec<u32>,
    /// From which eighth to which a singer sings.
    pub sung: Vec<(u32, u32)>,
    /// Where the band stops.
    pub stops: Vec<StopMark>,
}

/// A chord at its place in a bar.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlacedChord {
    /// The eighth on which it begins.
    pub at: u32,
    /// The eighth before which it ends.
    pub until: u32,
    /// As it is written.
    pub text: ChordText,
    /// Its number, to stand under it.
    pub under: Option<ChordText>,
    /// True if it goes on from the bar before.
    pub is_held: bool,
    /// True if it comes an eighth ahead of its beat and lasts over it.
    pub is_pushed: bool,
}

/// A stop.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StopMark {
    /// The eighth on which it stands.
    pub at: u32,
    /// What the band does.
    pub stop: Stop,
}
