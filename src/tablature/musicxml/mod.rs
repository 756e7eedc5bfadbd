//! Tablature as MusicXML 4.0 (W3C Music Notation Community Group), for notation programs to print.
//!
//! One part on a staff of five lines with a TAB clef. Pitches are those that sound; divisions are the
//! program's own ticks, so that nothing is rounded.

mod harmony;
mod measure;
mod values;

use std::io;

use super::slurs::Slurs;
use super::spelling::spelled;
use super::xml::{Element, document};
use super::{TabBar, Tablature};
use crate::backup::Level;
use crate::perform::Instrument;
use crate::theory::Mode;
use crate::theory::fretboard::banjo::{SHORT_STRING, sounding};
use crate::time::{Meter, Ticks};

const DOCTYPE: &str = "score-partwise PUBLIC \"-//Recordare//DTD MusicXML 4.0 Partwise//EN\" \
                       \"http://www.musicxml.org/dtds/partwise.dtd\"";

const PART: &str = "P1";
const PLAYER: &str = "P1-I1";

/// The part as a MusicXML document, to be heard on an instrument.
///
/// # Errors
/// None that memory does not give.
pub fn musicxml(tab: &Tablature, instrument: Instrument) -> io::Result<String> {
    let mut part = Element::new("part").with("id", PART);
    let slurs = Slurs::of(tab);
    for index in 0..tab.bars.len() {
        part.push(measure(tab, index, &slurs));
    }
    let root = Element::new("score-partwise")
        .with("version", "4.0")
        .and(Element::new("work").and(Element::text("work-title", &tab.title)))
        .and(identification(tab))
        .and(part_list(instrument))
        .and(part);
    document(&root, Some(DOCTYPE))
}

fn identification(tab: &Tablature) -> Element {
    let mut identification = Element::new("identification");
    if let Some(composer) = &tab.composer {
        identification.push(Element::text("creator", composer).with("type", "composer"));
    }
    let is_left_to_the_reader =
        |element| Element::new("supports").with("element", element).with("type", "no");
    identification.and(
        Element::new("encoding")
            .and(Element::text("software", concat!("openchair ", env!("CARGO_PKG_VERSION"))))
            .all(["accidental", "beam", "stem"].map(is_left_to_the_reader)),
    )
}

fn part_list(instrument: Instrument) -> Element {
    let player = Element::new("score-instrument")
        .with("id", PLAYER)
        .and(Element::text("instrument-name", "Banjo"))
        .and(Element::text("instrument-sound", "pluck.banjo"));
    // MusicXML counts channels and programs from 1.
    let midi = Element::new("midi-instrument")
        .with("id", PLAYER)
        .and(Element::text("midi-channel", 1))
        .and(Element::text("midi-program", u16::from(instrument.program) + 1));
    Element::new("part-list").and(
        Element::new("score-part")
            .with("id", PART)
            .and(Element::text("part-name", "Banjo"))
            .and(Element::text("part-abbreviation", "Bj."))
            .and(player)
            .and(midi),
    )
}

fn measure(tab: &Tablature, index: usize, slurs: &Slurs) -> Element {
    let Some(bar) = tab.bars.get(index) else { return Element::new("measure") };
    // A kickoff's bars have no number in the song.
    let mut measure = match bar.number {
        0 => Element::new("measure")
            .with("number", format!("X{}", index + 1))
            .with("implicit", "yes"),
        number => Element::new("measure").with("number", number),
    };
    let before = index.checked_sub(1).and_then(|before| tab.bars.get(before));
    let opens_pass = tab.opens_pass(index);
    if before.is_some() && (bar.opens_line || opens_pass) {
        measure.push(Element::new("print").with("new-system", "yes"));
    }
    if before.is_none_or(|before| before.meter != bar.meter) {
        measure.push(attributes(tab, bar, before.is_none()));
    }
    if before.is_none() {
        measure.push(tempo(tab));
        measure = measure.all(before_playing(tab));
    }
    if opens_pass && let Some(pass) = tab.passes.get(bar.pass) {
        measure.push(above(Element::text("rehearsal", &pass.label)));
        let says = tab.heading(pass);
        if !says.is_empty() {
            measure.push(beside("below", Element::text("words", says)));
        }
    } else if tab.level == Level::Full
        && before.is_some_and(|before| before.job_word() != bar.job_word())
    {
        // Below, where no chord symbol and no tempo is in the way.
        measure.push(beside("below", Element::text("words", bar.job_word())));
    }
    measure = measure.all(measure::music(tab, index, bar, slurs));
    let last = index + 1 == tab.bars.len();
    if last || tab.opens_pass(index + 1) {
        let style = if last { "light-heavy" } else { "light-light" };
        measure.push(
            Element::new("barline")
                .with("location", "right")
                .and(Element::text("bar-style", style)),
        );
    }
    measure
}

fn above(what: Element) -> Element {
    beside("above", what)
}

fn beside(place: &str, what: Element) -> Element {
    Element::new("direction").with("placement", place).and(Element::new("direction-type").and(what))
}

fn attributes(tab: &Tablature, bar: &TabBar, all: bool) -> Element {
    let mut attributes = Element::new("attributes");
    if all {
        attributes.push(Element::text("divisions", Ticks::PER_QUARTER));
        let mode = tab.key.mode;
        let (sharps, _) = tab.key.signature();
        attributes.push(
            Element::new("key")
                .and(Element::text("fifths", sharps))
                .and(Element::text("mode", Mode::name(mode))),
        );
    }
    let mut time = Element::new("time");
    if bar.meter == Meter::TwoTwo {
        time = time.with("symbol", "cut");
    }
    attributes.push(
        time.and(Element::text("beats", bar.meter.numerator()))
            .and(Element::text("beat-type", bar.meter.denominator())),
    );
    if all {
        attributes.push(
            Element::new("clef")
                .and(Element::text("sign", "TAB"))
                .and(Element::text("line", SHORT_STRING)),
        );
        attributes.push(staff(tab));
    }
    attributes
}

/// Five lines and what the strings on them sound open, from the lowest line up: the short string is the lowest
/// line, the first string the highest.
///
/// MusicXML has an element for a capo that would raise the strings, but not every reader heeds it, and one that
/// does not finds other frets and strings for the pitches. So the tuning is that behind the capo, and
/// [`before_playing`] says in words where it is.
fn staff(tab: &Tablature) -> Element {
    let mut staff = Element::new("staff-details").and(Element::text("staff-lines", SHORT_STRING));
    for (line, string) in (1..=SHORT_STRING).zip((1..=SHORT_STRING).rev()) {
        let (name, octave) = spelled(sounding(string, 0, tab.capo), None, tab.key);
        let mut tuning = Element::new("staff-tuning")
            .with("line", line)
            .and(Element::text("tuning-step", name.letter.as_char()));
        if name.accidental != 0 {
            tuning.push(Element::text("tuning-alter", name.accidental));
        }
        staff.push(tuning.and(Element::text("tuning-octave", octave)));
    }
    staff
}

/// What a player must know before the first note: the capo and the swing. In words: the element for swing came
/// with 4.0, and readers of 3.1 would take the whole score for a wrong one.
fn before_playing(tab: &Tablature) -> Option<Element> {
    let capo = tab.spike().map(|spike| {
        format!("Tuning gDGBD, capo {}, fifth string held down at fret {spike}", tab.capo)
    });
    let words: Vec<String> = capo.into_iter().chain(tab.swing_words()).collect();
    (!words.is_empty()).then(|| beside("below", Element::text("words", words.join(". "))))
}

/// The tempo in the meter's own beats, and as MusicXML plays it, in quarters.
fn tempo(tab: &Tablature) -> Element {
    let mut metronome = Element::new("metronome").with("parentheses", "no");
    metronome.push(Element::text(
        "beat-unit",
        if tab.meter == Meter::TwoTwo { "half" } else { "quarter" },
    ));
    if tab.meter == Meter::SixEight {
        metronome.push(Element::new("beat-unit-dot"));
    }
    let beats = tab.tempo.beats_per_minute(tab.meter);
    metronome.push(Element::text("per-minute", format!("{beats:.0}")));
    let quarters = 60e6 / f64::from(tab.tempo.micros_per_quarter());
    let sound = Element::new("sound").with("tempo", format!("{quarters:.2}"));
    above(metronome).and(sound)
}
