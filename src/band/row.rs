use super::Lead;
use crate::time::Meter;

/// All that is data about a role. What is left is what its hands do (`perform`) and its sound (`synth`).
#[derive(Clone, Copy, Debug)]
pub struct Row {
    /// The word that songs, options, styles, pedals and track names use: also that of its variant, in small
    /// letters.
    pub word: &'static str,
    /// The lead that plays with the same hands: while that one is featured, the role falls out.
    pub lead: Option<Lead>,
    /// True for the chair of whoever is featured: what it plays is the tune or a break, on that instrument.
    pub is_leader: bool,
    /// Its MIDI channel, from 0, and what its random numbers hang on; so it stays what it is for good.
    pub channel: u8,
    /// The key that makes it sit out.
    pub key: char,
    /// What that key does, as the help says it.
    pub key_says: &'static str,
    /// What a style need not write.
    pub defaults: Defaults,
    /// Which of the keys about several strings mean something.
    pub stroke_keys: StrokeKeys,
    /// What its bars are written with.
    pub notation: Notation,
    /// A bar that it could play, to show in messages.
    pub examples: Examples,
    /// How it reads its bars.
    pub playing: Playing,
    /// Its turn at a pickup: of those who are free, the one with the least number plays it.
    pub pickup: u8,
    /// Whether it plays the shuffles of a kickoff.
    pub shuffles: Shuffles,
    /// Where its home note lies in a kickoff.
    pub home: Home,
    /// What it does while the line of a tag is played.
    pub in_tag: InTag,
    /// What it covers of the beat.
    pub covers: Covers,
}

/// How a role plays where a style says nothing. The ranges are those of the style's keys.
#[derive(Clone, Copy, Debug)]
pub struct Defaults {
    /// General MIDI program, from 0.
    pub program: u8,
    /// General MIDI volume, 0 to 127.
    pub volume: u8,
    /// 0 left, 64 middle, 127 right.
    pub pan: u8,
    /// The velocity of a ghost, 1 to 127.
    pub ghost: u8,
    /// Of a plain strike.
    pub normal: u8,
    /// Of an accent.
    pub accent: u8,
    /// Milliseconds from the first to the last string of a stroke.
    pub spread: f64,
    /// The share of its written length that a note sounds.
    pub length: f64,
    /// The longest that a stroke sounds, in milliseconds.
    pub clip: Option<f64>,
}

/// Which keys of a part that are about several strings change what the role plays.
#[derive(Clone, Copy, Debug)]
pub struct StrokeKeys {
    /// How long a stroke takes.
    pub spread: bool,
    /// How long it sounds.
    pub clip: bool,
    /// How many strings a down-stroke takes.
    pub down_strings: bool,
    /// How many an up-stroke takes, and how loud that is.
    pub up_strings: bool,
    /// Of those that change nothing, why: `KEY` and then this.
    pub why_not: &'static str,
}

impl StrokeKeys {
    /// True if that key changes what the role plays; `None` for a key that is not about strokes.
    pub fn has(&self, key: &str) -> Option<bool> {
        match key {
            "spread" => Some(self.spread),
            "clip" => Some(self.clip),
            "down_strings" => Some(self.down_strings),
            "up_strings" => Some(self.up_strings),
            _ => None,
        }
    }
}

/// What the bars of a role are written with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Notation {
    /// Single notes by their degrees, and walks.
    Notes,
    /// Strokes over the strings.
    Strokes,
    /// Both, and the G run.
    NotesAndStrokes,
    /// The strings of a banjo.
    BanjoStrings,
    /// Tones and chops of a bow.
    Bow,
    /// The notes of a break.
    Break,
}

/// A bar for each meter.
#[derive(Clone, Copy, Debug)]
pub struct Examples {
    /// For 4/4 and 2/2.
    pub four: &'static str,
    /// For 2/4.
    pub two: &'static str,
    /// For 3/4.
    pub three: &'static str,
    /// For 6/8.
    pub six: &'static str,
}

impl Examples {
    /// That of a meter.
    pub const fn of(&self, meter: Meter) -> &'static str {
        match meter {
            Meter::FourFour | Meter::TwoTwo => self.four,
            Meter::TwoFour => self.two,
            Meter::ThreeFour => self.three,
            Meter::SixEight => self.six,
        }
    }
}

/// How a role reads its bars.
#[derive(Clone, Copy, Debug)]
pub struct Playing {
    /// True if its first note of a chord is the root, whatever degree is written there.
    pub begins_on_roots: bool,
    /// Whether it plays a new chord where its bar has no note.
    pub new_chord: NewChord,
    /// True if it never stops for breath: any of its notes lets the chord be heard, and a step that is left out
    /// of a run is a root instead of a hole.
    pub rolls: bool,
    /// True if it looks ahead for the octave of a root: where a walk comes next, the one it goes better from.
    pub looks_ahead: bool,
    /// Who goes first where two would run.
    pub right: Right,
    /// The steps of a run that its hand can play in a second.
    pub steps_a_second: f64,
    /// True if lines of the chart that answer each other are played alike: a bar's chance is drawn by its place
    /// in them and not by its number.
    pub answers_lines: bool,
}

/// Whether a role plays a new chord where its bar has no note.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NewChord {
    /// Wherever one begins.
    Always,
    /// Where one begins on a beat.
    OnBeats,
    /// Only where the bar has a note.
    AsWritten,
}

/// Who goes first where two would run into the same chord.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Right {
    /// This one does, if the song has a chair for it. One role at most.
    OfWay,
    /// This one leaves the run to whoever has the right of way.
    GivesWay,
    /// It runs as written: it gets into nobody's way.
    Own,
}

/// Whether a role plays the shuffles of a kickoff.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shuffles {
    /// Alone if it is in the band, even if it leads; the one with the least number.
    Alone(u8),
    /// With all others who do so and are free, if nobody plays them alone.
    Together,
    /// Alone if nobody else does, and it is free; the one with the least number.
    AtLast(u8),
    /// Never.
    Never,
}

/// Where a role's home note lies: in the octave from here up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Home {
    /// Its lowest, as a MIDI number.
    pub lowest: u8,
    /// True if the guitar's capo lifts it.
    pub on_capo: bool,
}

/// What a role does while the line of a tag is played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum InTag {
    /// Plays it, on an instrument with room below every root.
    LowLine,
    /// Plays it, on a guitar's bass strings.
    Line,
    /// Strikes with its first note.
    Hit,
    /// Waits for the last chord.
    Waits,
}

/// How far a role's strokes do the work of each part of the beat, before their loudness is asked.
#[derive(Clone, Copy, Debug)]
pub struct Covers {
    /// A stroke of one string or two.
    pub note: BeatShares,
    /// Of more, left to ring.
    pub strum: BeatShares,
    /// One that is choked at once.
    pub chop: BeatShares,
    /// True of a bow: a short note on a single string is a chop.
    pub bites: bool,
}

impl Covers {
    /// Nothing of the beat.
    pub const NOTHING: Self = Self {
        note: BeatShares::NONE,
        strum: BeatShares::NONE,
        chop: BeatShares::NONE,
        bites: false,
    };

    /// True if its single notes are the boom.
    pub const fn booms(&self) -> bool {
        self.note.down == BeatShares::WHOLE
    }
}

/// Shares of the work that the player whose job it is would do, in thousandths.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BeatShares {
    /// Of the downbeats.
    pub down: u16,
    /// Of the backbeats.
    pub back: u16,
    /// Of what lies between.
    pub and: u16,
}

impl BeatShares {
    /// Nothing.
    pub const NONE: Self = Self::new(0, 0, 0);

    /// All that a part of the beat wants.
    pub const WHOLE: u16 = 1000;

    /// Of the downbeats, the backbeats and what lies between.
    pub const fn new(down: u16, back: u16, and: u16) -> Self {
        Self { down, back, and }
    }
}
