//! A measure: chord symbols, notes and rests that fill it to the tick.

use super::harmony::harmony;
use super::values::{Value, values};
use crate::perform::{Pick, SlurKind};
use crate::style::Loud;
use crate::tablature::slurs::Slurs;
use crate::tablature::spelling::spelled;
use crate::tablature::xml::Element;
use crate::tablature::{TabBar, TabColumn, Tablature};
use crate::theory::Chord;
use crate::time::{BarMeter, Ticks};

/// What the notes of a bar are: chords where they begin, and what is picked or silent.
pub(super) fn music(tab: &Tablature, index: usize, bar: &TabBar, slurs: &Slurs) -> Vec<Element> {
    let written = Written { tab, index, bar, slurs };
    let mut music = Vec::new();
    let mut at = Ticks::ZERO;
    let mut strokes = bar.strokes.iter().peekable();
    // The symbols in order; each is written before what begins last before it or with it.
    let mut marks = bar.chords.iter().filter(|mark| !mark.held).peekable();
    while at < bar.meter.bar() {
        let stroke = strokes.next_if(|stroke| stroke.at <= at);
        let next = strokes.peek().map_or(bar.meter.bar(), |next| next.at);
        let length = stroke.map_or(next - at, |stroke| stroke.length.min(next - at));
        // Nothing is shorter than a tick, so that the bar is always filled.
        let length = length.max(Ticks::new(1));
        while let Some(mark) = marks.next_if(|mark| mark.at < at + length) {
            music.push(harmony(mark.chord.as_ref(), (mark.at - at).get()));
        }
        match stroke {
            Some(stroke) => music.extend(written.picked(stroke, at, length)),
            None => music.extend(rests(at, length, bar.meter)),
        }
        at += length;
    }
    music
}

fn rests(at: Ticks, length: Ticks, meter: BarMeter) -> Vec<Element> {
    if length == meter.bar() {
        let rest = Element::new("rest").with("measure", "yes");
        return vec![
            Element::new("note")
                .and(rest)
                .and(Element::text("duration", length))
                .and(Element::text("voice", 1)),
        ];
    }
    let rest = |value: Value| {
        let note = Element::new("note").and(Element::new("rest"));
        timed(note.and(Element::text("duration", value.length)), value)
    };
    values(at, length, meter).into_iter().map(rest).collect()
}

/// Voice, type, dot and the like: what follows the duration and the ties.
fn timed(note: Element, value: Value) -> Element {
    let mut note = note.and(Element::text("voice", 1));
    if let Some(kind) = value.kind {
        note.push(Element::text("type", kind));
    }
    if value.dotted {
        note.push(Element::new("dot"));
    }
    if value.triplet {
        note.push(
            Element::new("time-modification")
                .and(Element::text("actual-notes", 3))
                .and(Element::text("normal-notes", 2)),
        );
    }
    note
}

/// A bar as it is written.
struct Written<'a> {
    tab: &'a Tablature,
    index: usize,
    bar: &'a TabBar,
    slurs: &'a Slurs,
}

impl Written<'_> {
    fn picked(&self, stroke: &TabColumn, at: Ticks, length: Ticks) -> Vec<Element> {
        let marks = self.bar.chords.iter();
        let chord = marks.rev().find(|mark| mark.at <= at).and_then(|mark| mark.chord.as_ref());
        let values = values(at, length, self.bar.meter);
        let last = values.len().saturating_sub(1);
        let mut notes = Vec::new();
        for (index, value) in values.iter().enumerate() {
            let tied = Tied { from: index > 0, on: index < last };
            for (of_stroke, pick) in stroke.picks.iter().enumerate() {
                let clipped = stroke.is_clipped();
                let joined = self.joined(stroke.at, pick.string, tied);
                let first = of_stroke == 0;
                notes.push(note(self.tab, pick, chord, *value, (tied, joined), first, clipped));
            }
        }
        notes
    }

    /// What is written of the slur that a note ends, and of the one that it begins: from its last value to the
    /// first of the next.
    fn joined(&self, at: Ticks, string: u8, tied: Tied) -> [Option<Joined>; 2] {
        let ends = self.slurs.ends(self.index, at, string).filter(|_| !tied.from);
        let begins = self.slurs.begins(self.index, at, string).filter(|_| !tied.on);
        let joined = |end| move |kind| Joined { kind, end, string };
        [ends.map(joined("stop")), begins.map(joined("start"))]
    }
}

/// An end of a slur.
#[derive(Clone, Copy)]
struct Joined {
    kind: SlurKind,
    end: &'static str,
    /// One string's slurs follow each other, so its number tells them from another's.
    string: u8,
}

impl Joined {
    fn named(self, name: &'static str) -> Element {
        Element::new(name).with("type", self.end).with("number", self.string)
    }

    /// Its element among the technical ones; `None` for a slide.
    fn technical(self) -> Option<Element> {
        let (name, letter) = match self.kind {
            SlurKind::Slide => return None,
            SlurKind::Hammer => ("hammer-on", "H"),
            SlurKind::Pull => ("pull-off", "P"),
        };
        // The letter stands where it begins.
        let text = if self.end == "start" { letter } else { "" };
        Some(Element::text(name, text).with("type", self.end).with("number", self.string))
    }

    /// The bow over both, and the line of a slide.
    fn notations(self) -> impl Iterator<Item = Element> {
        let slide = matches!(self.kind, SlurKind::Slide);
        let slide = slide.then(|| self.named("slide").with("line-type", "solid"));
        [self.named("slur")].into_iter().chain(slide)
    }
}

#[derive(Clone, Copy)]
struct Tied {
    from: bool,
    on: bool,
}

impl Tied {
    /// An element for each end of a tie.
    fn ends(self, name: &'static str) -> impl Iterator<Item = Element> {
        let stop = self.from.then(|| Element::new(name).with("type", "stop"));
        let start = self.on.then(|| Element::new(name).with("type", "start"));
        stop.into_iter().chain(start)
    }
}

fn note(
    tab: &Tablature,
    pick: &Pick,
    chord: Option<&Chord>,
    value: Value,
    (tied, joined): (Tied, [Option<Joined>; 2]),
    first: bool,
    clipped: bool,
) -> Element {
    let with_the_one_before = !first;
    let (name, octave) = spelled(pick.pitch, chord, tab.key);
    let mut pitch = Element::new("pitch").and(Element::text("step", name.letter.as_char()));
    if name.accidental != 0 {
        pitch.push(Element::text("alter", name.accidental));
    }
    pitch.push(Element::text("octave", octave));
    let mut note = Element::new("note");
    if with_the_one_before {
        note.push(Element::new("chord"));
    }
    note.push(pitch);
    note.push(Element::text("duration", value.length));
    note = timed(note.all(tied.ends("tie")), value);
    let mut technical = Element::new("technical");
    if let Some(finger) = pick.finger().filter(|_| !tied.from) {
        technical.push(Element::text("pluck", finger.letter()));
    }
    technical.push(Element::text("string", pick.string));
    technical.push(Element::text("fret", pick.fret));
    let joined = joined.into_iter().flatten();
    technical = technical.all(joined.clone().filter_map(Joined::technical));
    let mut notations = Element::new("notations")
        .all(tied.ends("tied"))
        .all(joined.flat_map(Joined::notations))
        .and(technical);
    // Once for all that is picked together.
    let mut articulations = Vec::new();
    if pick.loud == Loud::Accent && !tied.from && !with_the_one_before {
        articulations.push(Element::new("accent"));
    }
    if clipped && !with_the_one_before {
        articulations.push(Element::new("staccato"));
    }
    if !articulations.is_empty() {
        notations.push(Element::new("articulations").all(articulations));
    }
    note.and(notations)
}
