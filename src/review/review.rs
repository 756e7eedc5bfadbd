use serde::{Deserialize, Serialize};

use crate::coverage::{BeatPart, Job, Singing};
use crate::take::Source;

/// A take held against the song and what the band left open in it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Review {
    /// The song's title.
    pub title: String,
    /// The key it sounded in.
    pub key: String,
    /// The meter.
    pub meter: String,
    /// The tempo in beats a minute, practice speed included.
    pub tempo: f64,
    /// The practice speed in percent.
    pub speed: f64,
    /// The roles whose chairs were open, by their words.
    pub open: Vec<String>,
    /// How the take was heard.
    pub source: Source,
    /// Where the song's first beat lies in the take, in seconds; negative if it was over before.
    pub begins: f64,
    /// How surely the take was laid over the song, 0 to 1.
    pub sure: f64,
    /// What early and late are told against.
    pub against: TimingReference,
    /// How the player swings, where there is enough to tell.
    pub swing: Option<SwingReview>,
    /// What was found of how the take was recorded where it is not as it was said.
    pub remarks: Vec<String>,
    /// The whole take.
    pub whole: Figures,
    /// Each pass of the form that was played.
    pub passes: Vec<PassReview>,
    /// Each bar of the song that the take reaches.
    pub bars: Vec<BarReview>,
    /// Each stroke within the song.
    pub hits: Vec<HitReview>,
    /// All that was noticed, what matters most first.
    pub findings: Vec<Finding>,
    /// The one thing to work on next.
    pub advice: Advice,
}

/// The share of two eighths that the first one takes: 0.5 is even.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SwingReview {
    /// The player's.
    pub yours: f64,
    /// The song's.
    pub song: f64,
}

/// What early and late are told against.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum TimingReference {
    /// The band: where its first beat lies in the take is known.
    Band,
    /// The band as it fits the take best, since nothing says where it began. So the mean of the whole take
    /// is 0 by its making, and says nothing.
    Fit,
    /// The player's own beat: it went off from the band's by more than anybody plays beside one.
    Own,
}

/// Figures of a pass or of the whole.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Figures {
    /// Strokes.
    pub hits: usize,
    /// Slots that the band left open and the player's job was to fill.
    pub open: usize,
    /// Those of them where the player played.
    pub covered: usize,
    /// How early and late.
    pub timing: Timing,
    /// With which notes.
    pub tones: Tones,
    /// How busy.
    pub busy: Busy,
}

/// How early and late, in milliseconds after the grid as the band plays it, its swing included; negative
/// is early. [`TimingReference`] says how the grid lies.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Timing {
    /// The mean.
    pub mean: f64,
    /// The standard deviation about the trend.
    pub spread: f64,
    /// The band's own about its own grid, for comparison.
    pub band_spread: f64,
    /// How much faster than the band the player's own beat goes, in percent: positive rushes, negative
    /// drags.
    pub rushing: f64,
}

/// Strokes by what sounded.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Tones {
    /// Of the chord alone.
    pub chord: usize,
    /// The added sixth among them.
    pub sixth: usize,
    /// Of the next chord, in the beat before it begins; or a lead-in to it.
    pub anticipation: usize,
    /// Neither.
    pub outside: usize,
    /// Not made out.
    pub unknown: usize,
}

/// Strokes a bar.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Busy {
    /// While the singer sings; `None` if nobody does.
    pub sung: Option<f64>,
    /// While the singer pauses.
    pub pauses: Option<f64>,
    /// While nobody sings.
    pub others: Option<f64>,
}

/// A pass of the form.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PassReview {
    /// As the form names it.
    pub label: String,
    /// Its first and last bar, by the numbers that the screen shows.
    pub bars: (usize, usize),
    /// Its figures.
    pub figures: Figures,
}

/// A bar.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BarReview {
    /// Its number, as the screen shows it.
    pub number: usize,
    /// Its chords, as named.
    pub chords: Vec<String>,
    /// What was left for the player to do.
    pub job: Job,
    /// What the singer did.
    pub singing: Singing,
    /// Open slots of the job.
    pub open: usize,
    /// Those where the player played.
    pub covered: usize,
    /// Strokes in it.
    pub hits: usize,
}

/// A stroke.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HitReview {
    /// When, in seconds from the song's first beat.
    pub at: f64,
    /// The number of its bar.
    pub bar: usize,
    /// Where in the bar, 0 to 1.
    pub place: f64,
    /// The part of the beat that it was played for.
    pub part: BeatPart,
    /// Milliseconds after the grid as the band plays it; negative is early. [`TimingReference`] says how the grid
    /// lies.
    pub late: f64,
    /// True if it fills a slot that was open.
    pub fills: bool,
    /// What it is to the chord.
    pub tone: Tone,
}

/// What a stroke is to the chord.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs)] // As in `Tones`.
pub enum Tone {
    Chord,
    Sixth,
    Anticipation,
    Outside,
    Unknown,
}

/// Something noticed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Finding {
    /// What it is about.
    pub about: Part,
    /// True if it is well done, false if there is work in it.
    pub good: bool,
    /// How much it matters, 0 to 1.
    pub weight: f64,
    /// In plain words.
    pub words: String,
    /// The first and last bar of each place where it shows, by the numbers that the screen shows; none where it is
    /// about all of it.
    pub bars: Vec<(usize, usize)>,
}

/// What a finding is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Part {
    /// The player's beat goes faster than the band's.
    Rushing,
    /// It goes slower.
    Dragging,
    /// All of it early by the same.
    Early,
    /// All of it late by the same.
    Late,
    /// Early and late by turns.
    Uneven,
    /// Early in the beat before a new chord.
    IntoChanges,
    /// Even eighths where the song swings.
    Straight,
    /// A harder swing than the song's.
    TooSwung,
    /// A beat was lost or won: from there on the bar lines are not the band's.
    Lost,
    /// Notes outside the chord.
    Chords,
    /// Chords that never came: the hand stayed where it was.
    ChordsMissed,
    /// Another chord than the song's.
    ChordWrong,
    /// The right chord, after its time.
    ChordLate,
    /// Too much behind the singer.
    Busy,
    /// Louder behind the singer than elsewhere.
    LoudBehindSinger,
    /// Downbeats that are softer than the rest.
    DownbeatsWeak,
    /// What leads into a new chord does not arrive at its root or third.
    LeadInsLost,
    /// Softer and softer.
    Fading,
    /// Open slots that were not filled.
    Uncovered,
    /// Nothing in the singer's pauses.
    NoFills,
    /// Fills that come before their time.
    FillsEarly,
    /// Fills that come after it.
    FillsLate,
    /// What is heard is the band.
    BandHeard,
    /// No player is heard.
    NobodyHeard,
    /// Nothing is wrong.
    Steady,
}

impl Part {
    /// All there are.
    pub const ALL: [Self; 25] = [
        Self::NobodyHeard,
        Self::BandHeard,
        Self::Lost,
        Self::ChordsMissed,
        Self::ChordWrong,
        Self::Chords,
        Self::ChordLate,
        Self::LoudBehindSinger,
        Self::Rushing,
        Self::Dragging,
        Self::Early,
        Self::Late,
        Self::Uneven,
        Self::IntoChanges,
        Self::Straight,
        Self::TooSwung,
        Self::Uncovered,
        Self::Busy,
        Self::FillsEarly,
        Self::FillsLate,
        Self::NoFills,
        Self::DownbeatsWeak,
        Self::LeadInsLost,
        Self::Fading,
        Self::Steady,
    ];

    /// What it is, in a word or two of the trade.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Rushing => "rushing",
            Self::Dragging => "dragging",
            Self::Early => "ahead of the beat",
            Self::Late => "behind the beat",
            Self::Uneven => "an even hand",
            Self::IntoChanges => "rushing into changes",
            Self::Straight => "swing",
            Self::TooSwung => "too much swing",
            Self::Lost => "the bar",
            Self::Chords => "the chords",
            Self::ChordsMissed => "chords missed",
            Self::ChordWrong => "wrong chords",
            Self::ChordLate => "late changes",
            Self::Busy => "less behind the singer",
            Self::LoudBehindSinger => "softer behind the singer",
            Self::DownbeatsWeak => "weak downbeats",
            Self::LeadInsLost => "lead-ins that arrive",
            Self::Fading => "fading",
            Self::Uncovered => "the open chair",
            Self::NoFills => "fills",
            Self::FillsEarly => "fills too soon",
            Self::FillsLate => "fills too late",
            Self::BandHeard => "the recording: the band in it",
            Self::NobodyHeard => "the recording: nobody heard",
            Self::Steady => "nothing: it stands",
        }
    }
}

/// The one thing to work on.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Advice {
    /// What it is about.
    pub about: Part,
    /// In plain words.
    pub words: String,
    /// The first and last bar to loop, if there are such.
    pub bars: Option<(usize, usize)>,
    /// The practice speed for it, in percent of the song's own tempo.
    pub speed: f64,
    /// The command to do so, ready to run.
    pub command: String,
}
