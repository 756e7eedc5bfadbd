//! The part as data.

use serde::Serialize;

use super::{ChordFact, Tablature};
use crate::backup::Level;
use crate::chart::Role;
use crate::coverage::Job;
use crate::perform::{Ends, Slur, SlurKind};
use crate::theory::MidiNote;
use crate::theory::fretboard::banjo::Finger;
use crate::time::{Meter, Ticks};

#[derive(Serialize)]
struct Song<'a> {
    title: &'a str,
    key: String,
    meter: &'a str,
    /// Of the meter's beat.
    beats_per_minute: f64,
    /// The share of a pair that its first takes.
    swing: f64,
    /// The open strings, first to fifth, as they sound with the capo.
    tuning: [u8; 5],
    capo: u8,
    /// Where the short string is held down.
    fifth_string_fret: Option<u8>,
    level: Level,
    chords: Vec<ChordData>,
    passes: Vec<Pass<'a>>,
    bars: Vec<BarData<'a>>,
}

#[derive(Serialize)]
struct ChordData {
    chord: String,
    shape: String,
    bars: usize,
    fifth_string: FifthString,
    /// True where the player needs closed positions, or leaves the short string out.
    needs_closed: bool,
    /// Frets from the fourth string to the first.
    low: [Option<u8>; 4],
    closed: Vec<Closed>,
}

#[derive(Serialize)]
struct FifthString {
    rings: bool,
    drones: bool,
    says: String,
}

#[derive(Serialize)]
struct Closed {
    inversion: &'static str,
    frets: [Option<u8>; 4],
    fingers: [Option<u8>; 4],
    pitches: [Option<u8>; 4],
}

#[derive(Serialize)]
struct Pass<'a> {
    label: &'a str,
    out: Vec<Role>,
    jobs: &'a [Job],
}

#[derive(Serialize)]
struct BarData<'a> {
    /// Nothing for a bar of the kickoff.
    number: Option<usize>,
    pass: &'a str,
    meter: &'a str,
    job: Job,
    #[serde(skip_serializing_if = "Option::is_none")]
    lick: Option<&'a str>,
    chords: Vec<Chord>,
    picks: Vec<Pick>,
}

#[derive(Serialize)]
struct Chord {
    beat: f64,
    chord: Option<String>,
}

#[derive(Serialize)]
struct Pick {
    beat: f64,
    string: u8,
    fret: u8,
    /// Nothing where the left hand makes it sound.
    finger: Option<char>,
    #[serde(skip_serializing_if = "Option::is_none")]
    slur: Option<SlurData>,
    pitch: u8,
    ends: &'static str,
    /// True where the left hand lets go at once.
    #[serde(skip_serializing_if = "is_false")]
    choked: bool,
}

#[derive(Serialize)]
struct SlurData {
    kind: &'static str,
    from: u8,
}

impl SlurData {
    const fn new(slur: Slur) -> Self {
        let kind = match slur.kind {
            SlurKind::Slide => "slide",
            SlurKind::Hammer => "hammer",
            SlurKind::Pull => "pull",
        };
        Self { kind, from: slur.from }
    }
}

#[allow(clippy::trivially_copy_pass_by_ref)] // As serde asks.
const fn is_false(value: &bool) -> bool {
    !*value
}

/// The part as JSON: the song, its chords, and bar for bar what is picked. Beats count from 1, in the meter's
/// own beat; pitches are MIDI's.
///
/// # Errors
/// None that memory does not give.
pub fn json(tab: &Tablature) -> serde_json::Result<String> {
    let open = |string: u8| crate::theory::fretboard::banjo::sounding(string, 0, tab.capo).get();
    let song = Song {
        title: &tab.title,
        key: tab.key.to_string(),
        meter: tab.meter.as_str(),
        beats_per_minute: tab.tempo.beats_per_minute(tab.meter),
        swing: tab.swing.share(),
        tuning: [1, 2, 3, 4, 5].map(open),
        capo: tab.capo,
        fifth_string_fret: tab.spike(),
        level: tab.level,
        chords: tab.chords.iter().map(ChordData::new).collect(),
        passes: tab
            .passes
            .iter()
            .map(|pass| Pass {
                label: &pass.label,
                out: pass.open.iter().collect(),
                jobs: &pass.jobs,
            })
            .collect(),
        bars: bars(tab),
    };
    serde_json::to_string_pretty(&song)
}

fn bars(tab: &Tablature) -> Vec<BarData<'_>> {
    let bars = tab.bars.iter().map(|bar| BarData {
        number: Some(bar.number).filter(|number| *number > 0),
        pass: tab.passes.get(bar.pass).map_or("", |pass| &pass.label),
        meter: bar.meter.as_str(),
        job: bar.job,
        lick: bar.lick.as_deref(),
        chords: bar
            .chords
            .iter()
            .map(|mark| Chord {
                beat: beat(mark.at, bar.meter.gait(tab.meter)),
                chord: mark.chord.map(|chord| chord.to_string()),
            })
            .collect(),
        picks: bar
            .strokes
            .iter()
            .flat_map(|stroke| stroke.picks.iter().map(move |pick| (stroke.at, pick)))
            .map(|(at, pick)| Pick {
                beat: beat(at, bar.meter.gait(tab.meter)),
                string: pick.string,
                fret: pick.fret,
                finger: pick.finger().map(Finger::letter),
                slur: pick.slur().map(SlurData::new),
                pitch: pick.pitch.get(),
                ends: ends(pick.ends),
                choked: pick.is_choked(),
            })
            .collect(),
    });
    bars.collect()
}

fn beat(at: Ticks, meter: Meter) -> f64 {
    1.0 + at.get() as f64 / meter.beat().get() as f64
}

const fn ends(ends: Ends) -> &'static str {
    match ends {
        Ends::Rings => "rings",
        Ends::Passes => "passes",
        Ends::Vamped => "vamped",
        Ends::Choked => "choked",
        Ends::Last => "last",
    }
}

impl ChordData {
    fn new(fact: &ChordFact) -> Self {
        let closed = fact.closed.iter().map(|shape| Closed {
            inversion: shape.inversion(fact.chord.quality).as_str(),
            frets: shape.frets,
            fingers: shape.left_hand(),
            pitches: shape.notes().map(|note| note.map(MidiNote::get)),
        });
        Self {
            chord: fact.chord.to_string(),
            shape: fact.shape.clone(),
            bars: fact.bars,
            fifth_string: FifthString { rings: fact.rings, drones: fact.drones, says: fact.says() },
            needs_closed: !fact.rings && !fact.drones,
            low: fact.low.frets,
            closed: closed.collect(),
        }
    }
}
