//! A song as a score of one part: a lead sheet.

use quick_xml::escape::escape;

use super::kinds::written;
use crate::chart::{
    ChartBar, Piece, Section, Song, Tune, chord_places, melody_pieces, name_in, pickup_pieces,
};
use crate::interchange::page::page;
use crate::interchange::{OwnWords, modes, one_line};
use crate::theory::{Chord, Key, MidiNote, PitchName};
use crate::time::{BarMeter, Meter, Ticks};

/// Note values in ticks, as MusicXML names them.
const VALUES: [(i64, &str); 9] = [
    (3840, "whole"),
    (1920, "half"),
    (960, "quarter"),
    (480, "eighth"),
    (240, "16th"),
    (120, "32nd"),
    (60, "64th"),
    (30, "128th"),
    (15, "256th"),
];

/// Writes a song as MusicXML: sections with their names as rehearsal marks, repeats and endings, chords, and the tune
/// where there is one. What other programs don't know of stands among the miscellaneous fields.
pub fn write_musicxml(song: &Song) -> String {
    let mut out = Sheet { text: String::new(), key: song.key };
    out.line("<?xml version=\"1.0\" encoding=\"UTF-8\"?>");
    out.line(
        "<!DOCTYPE score-partwise PUBLIC \"-//Recordare//DTD MusicXML 4.0 Partwise//EN\" \
         \"http://www.musicxml.org/dtds/partwise.dtd\">",
    );
    out.line("<score-partwise version=\"4.0\">");
    out.line(&format!("<work><work-title>{}</work-title></work>", plain(&song.title)));
    out.line("<identification>");
    if let Some(composer) = &song.composer {
        out.line(&format!("<creator type=\"composer\">{}</creator>", plain(composer)));
    }
    out.line("<encoding><software>openchair</software></encoding>");
    out.line("<miscellaneous>");
    let mut field = |name: &str, text: &str| {
        out.line(&format!(
            "<miscellaneous-field name=\"openchair-{name}\">{}</miscellaneous-field>",
            plain(text)
        ));
    };
    field("style", &song.style);
    field("meter", song.meter.as_str());
    for (what, word) in OwnWords::of_around(song) {
        field(what, word);
    }
    for note in song.notes.iter().flat_map(|notes| notes.lines()) {
        field("note", note);
    }
    for (at, section) in song.sections.iter().enumerate() {
        field("section", &format!("{} {}", label(at), section.name));
    }
    for pass in &song.form {
        let name = song.sections.get(pass.section).map_or("", |section| section.name.as_str());
        let lead = pass.lead.map_or(String::new(), |lead| format!(" : {lead}"));
        field("pass", &format!("{name}{lead}"));
    }
    out.line("</miscellaneous>");
    out.line("</identification>");
    out.line(
        "<part-list><score-part id=\"P1\"><part-name>Lead</part-name></score-part></part-list>",
    );
    out.line("<part id=\"P1\">");
    let mut number = 0;
    let mut meter = None;
    for (at, section) in song.sections.iter().enumerate() {
        out.section(song, at, section, &mut number, &mut meter);
    }
    out.line("</part>");
    out.line("</score-partwise>");
    out.text
}

/// `A`, `B` ... `Z`, `S26`.
fn label(at: usize) -> String {
    let letter = u8::try_from(at).ok().filter(|at| *at < 26).map(|at| char::from(b'A' + at));
    letter.map_or_else(|| format!("S{at}"), String::from)
}

fn plain(text: &str) -> String {
    // Characters that XML 1.0 has none of are left out.
    let known: String = one_line(text)
        .chars()
        .filter(|c| !matches!(c, '\u{0}'..='\u{1f}' | '\u{fffe}' | '\u{ffff}'))
        .collect();
    escape(&known).into_owned()
}

struct Sheet {
    text: String,
    key: Key,
}

impl Sheet {
    fn line(&mut self, line: &str) {
        self.text.push_str(line);
        self.text.push('\n');
    }

    fn section(
        &mut self,
        song: &Song,
        index: usize,
        section: &Section,
        number: &mut usize,
        meter: &mut Option<BarMeter>,
    ) {
        let bars = &section.bars;
        let layout = page(bars);
        let has_tune = bars.iter().any(|bar| !bar.melody.is_empty());
        let mut sounding = None;
        let mut chord: Option<Option<Chord>> = None;
        let mut first = true;
        // The ending that is open, by its number.
        let mut ending: Option<u8> = None;
        let lines: Vec<_> = layout.lines().collect();
        if let Some(pickup) = &section.pickup {
            self.line(&format!("<measure number=\"X{}\" implicit=\"yes\">", index + 1));
            if *number > 0 {
                self.line("<print new-system=\"yes\"/>");
            }
            self.opening(song, song.meter.into(), *number == 0, meter);
            self.rehearsal(index);
            first = false;
            if let Some(chord) = pickup.chord {
                self.harmony(Some(chord));
            }
            let pieces = pickup_pieces(pickup);
            if pieces.is_empty() {
                self.silence(pickup.length);
            }
            self.pieces(&pieces, false, |_, _| {});
            self.line("</measure>");
        }
        for (line, (written, close)) in lines.iter().enumerate() {
            for (place, (sign, at)) in written.iter().enumerate() {
                let Some(bar) = bars.get(*at) else { continue };
                *number += 1;
                self.line(&format!("<measure number=\"{number}\">"));
                let continues = line == 0 && section.pickup.is_some();
                if place == 0 && *number > 1 && !continues {
                    self.line("<print new-system=\"yes\"/>");
                }
                let starts = match *sign {
                    "|1" => Some(1),
                    "|2" | ":|2" => Some(2),
                    _ => None,
                };
                if *sign == "|:" || starts.is_some() {
                    let ending_text = starts.map_or(String::new(), |n| {
                        format!("<ending number=\"{n}\" type=\"start\"/>")
                    });
                    let repeat = if *sign == "|:" { "<repeat direction=\"forward\"/>" } else { "" };
                    self.line(&format!(
                        "<barline location=\"left\">{ending_text}{repeat}</barline>"
                    ));
                }
                ending = starts.or(ending);
                self.opening(song, bar.meter, *number == 1 && first, meter);
                if first {
                    self.rehearsal(index);
                    first = false;
                }
                if place == 0 || *sign != "|" {
                    chord = None;
                }
                let next = bars.get(at + 1).and_then(|bar| bar.melody.first());
                let goes_on = next.is_some_and(|share| share.value == Tune::Hold);
                self.bar(bar, has_tune, &mut sounding, &mut chord, goes_on);
                // What closes after this bar: the sign before the next, or the line's own.
                let after = written.get(place + 1).map(|(sign, _)| *sign).unwrap_or(close);
                let last = place + 1 == written.len() && line + 1 == lines.len();
                let next_sign = if place + 1 < written.len() {
                    Some(after)
                } else {
                    lines.get(line + 1).and_then(|(next, _)| next.first()).map(|(sign, _)| *sign)
                };
                self.right(after.starts_with(':'), &mut ending, next_sign, last);
                self.line("</measure>");
            }
        }
    }

    /// The bar line at the end of a bar. An ending ends where it repeats, where another begins, and with the phrase
    /// group.
    fn right(&mut self, repeats: bool, ending: &mut Option<u8>, next: Option<&str>, last: bool) {
        let closes = match *ending {
            Some(1) => repeats,
            Some(_) => last || next.is_some_and(|sign| sign != "|"),
            None => false,
        };
        // The second ending is as long as the first; where it ends nothing is written but its bracket.
        let bracket = match (closes, *ending) {
            (true, Some(number)) => {
                *ending = None;
                let kind = if number == 1 { "stop" } else { "discontinue" };
                format!("<ending number=\"{number}\" type=\"{kind}\"/>")
            }
            _ => String::new(),
        };
        let style = match (repeats, last) {
            (true, _) => "<bar-style>light-heavy</bar-style>",
            (false, true) => "<bar-style>light-light</bar-style>",
            (false, false) => "",
        };
        let repeat = if repeats { "<repeat direction=\"backward\"/>" } else { "" };
        if !(bracket.is_empty() && style.is_empty() && repeat.is_empty()) {
            self.line(&format!("<barline location=\"right\">{style}{bracket}{repeat}</barline>"));
        }
    }

    fn rehearsal(&mut self, index: usize) {
        self.line(&format!(
            "<direction placement=\"above\"><direction-type><rehearsal>{}</rehearsal></direction-type></direction>",
            label(index)
        ));
    }

    /// What stands at the head of a bar: the meter where it changes, and the tempo at the beginning.
    fn opening(&mut self, song: &Song, own: BarMeter, first: bool, meter: &mut Option<BarMeter>) {
        self.attributes(song, own, first, meter);
        if first {
            self.tempo(song);
        }
    }

    fn silence(&mut self, length: Ticks) {
        self.line(&format!(
            "<note print-object=\"no\"><rest/><duration>{length}</duration><voice>1</voice></note>"
        ));
    }

    fn attributes(
        &mut self,
        song: &Song,
        own: BarMeter,
        first: bool,
        meter: &mut Option<BarMeter>,
    ) {
        let changed = *meter != Some(own);
        if !first && !changed {
            return;
        }
        self.line("<attributes>");
        if first {
            let fifths = modes::sharps_of_major(song.key.tonic) - modes::flatter(song.key.mode);
            self.line(&format!("<divisions>{}</divisions>", Ticks::PER_QUARTER));
            self.line(&format!(
                "<key><fifths>{fifths}</fifths><mode>{}</mode></key>",
                song.key.mode.name()
            ));
        }
        let (beats, unit) = (own.numerator(), own.denominator());
        self.line(&format!("<time><beats>{beats}</beats><beat-type>{unit}</beat-type></time>"));
        if first {
            self.line("<clef><sign>G</sign><line>2</line></clef>");
        }
        self.line("</attributes>");
        *meter = Some(own);
    }

    fn tempo(&mut self, song: &Song) {
        let (unit, dot) = match song.meter {
            Meter::TwoTwo => ("half", ""),
            Meter::SixEight => ("quarter", "<beat-unit-dot/>"),
            _ => ("quarter", ""),
        };
        let quarters = song.meter.beat().get() as f64 / Ticks::QUARTER.get() as f64;
        self.line(&format!(
            "<direction placement=\"above\"><direction-type><metronome><beat-unit>{unit}</beat-unit>{dot}\
             <per-minute>{}</per-minute></metronome></direction-type><sound tempo=\"{}\"/></direction>",
            song.tempo,
            song.tempo * quarters
        ));
    }

    fn bar(
        &mut self,
        bar: &ChartBar,
        has_tune: bool,
        sounding: &mut Option<MidiNote>,
        chord: &mut Option<Option<Chord>>,
        goes_on: bool,
    ) {
        let mut chords = chord_places(bar).into_iter().peekable();
        if !has_tune {
            for share in &bar.chords {
                self.harmony_if_new(share.value, chord);
                self.silence(share.length);
            }
            return;
        }
        let pieces = melody_pieces(bar, sounding);
        self.pieces(&pieces, goes_on, |sheet, at| {
            while let Some((_, next)) = chords.next_if(|(place, _)| *place <= at) {
                sheet.harmony_if_new(next, chord);
            }
        });
    }

    /// Pieces of a tune; `before` writes what stands before each.
    fn pieces(
        &mut self,
        pieces: &[Piece],
        goes_on: bool,
        mut before: impl FnMut(&mut Self, Ticks),
    ) {
        let mut group: Option<(u8, u8)> = None;
        for (index, piece) in pieces.iter().enumerate() {
            before(self, piece.at);
            if let Some((_, _, count)) = piece.group {
                group = Some((count, count));
            }
            let tied_on = match pieces.get(index + 1) {
                Some(next) => next.tied,
                None => goes_on && piece.note.is_some(),
            };
            let edge = group.map(|(left, of)| (left == of, left == 1));
            self.piece(piece, tied_on, edge);
            group = group.and_then(|(left, of)| (left > 1).then_some((left - 1, of)));
        }
    }

    fn harmony_if_new(&mut self, next: Option<Chord>, chord: &mut Option<Option<Chord>>) {
        if *chord != Some(next) {
            self.harmony(next);
        }
        *chord = Some(next);
    }

    fn harmony(&mut self, chord: Option<Chord>) {
        let name = |of: &str, name: PitchName| {
            let alter = match name.accidental {
                0 => String::new(),
                by => format!("<{of}-alter>{by}</{of}-alter>"),
            };
            format!("<{of}><{of}-step>{}</{of}-step>{alter}</{of}>", name.letter.as_char())
        };
        let Some(chord) = chord else {
            self.line(
                "<harmony><root><root-step text=\"\">C</root-step></root><kind text=\"N.C.\">none</kind></harmony>",
            );
            return;
        };
        let (kind, degrees) = written(chord.quality);
        let root = name("root", chord.root);
        let bass = chord.bass.map_or(String::new(), |bass| name("bass", bass));
        let degrees: String = degrees
            .iter()
            .map(|(value, alter, added)| {
                let kind = if *added { "add" } else { "alter" };
                format!(
                    "<degree><degree-value>{value}</degree-value><degree-alter>{alter}</degree-alter>\
                     <degree-type>{kind}</degree-type></degree>"
                )
            })
            .collect();
        let text = escape(chord.quality.name()).into_owned();
        self.line(&format!(
            "<harmony>{root}<kind text=\"{text}\">{kind}</kind>{bass}{degrees}</harmony>"
        ));
    }

    /// A piece as one note, or as several that are tied where no single one is as long.
    fn piece(&mut self, piece: &Piece, tied_on: bool, edge: Option<(bool, bool)>) {
        let values = values(piece.written.get());
        let count = values.len();
        let mut left = piece.length.get();
        for (index, (ticks, kind, dots)) in values.into_iter().enumerate() {
            let (first, last) = (index == 0, index + 1 == count);
            // Of the written length as much as of the sounding one.
            let sounds = if last {
                left
            } else {
                ticks * i64::from(piece.ratio.1) / i64::from(piece.ratio.0.max(1))
            };
            left -= sounds;
            let stop = piece.note.is_some() && (!first || piece.tied);
            let start = piece.note.is_some() && (!last || tied_on);
            let begins = edge.is_some_and(|(begins, _)| begins && first);
            let ends = edge.is_some_and(|(_, ends)| ends && last);
            self.note(piece, sounds, kind, dots, (stop, start), (begins, ends));
        }
    }

    fn note(
        &mut self,
        piece: &Piece,
        sounds: i64,
        kind: &str,
        dots: usize,
        (stop, start): (bool, bool),
        (begins, ends): (bool, bool),
    ) {
        let mut text = String::from("<note>");
        match piece.note {
            Some(note) => {
                let name = name_in(note.pitch_class(), self.key);
                let alter = match name.accidental {
                    0 => String::new(),
                    by => format!("<alter>{by}</alter>"),
                };
                let octave =
                    (i32::from(note.get()) - name.letter.semitones() - i32::from(name.accidental))
                        .div_euclid(12)
                        - 1;
                text += &format!(
                    "<pitch><step>{}</step>{alter}<octave>{octave}</octave></pitch>",
                    name.letter.as_char()
                );
            }
            None => text += "<rest/>",
        }
        text += &format!("<duration>{sounds}</duration>");
        for (there, kind) in [(stop, "stop"), (start, "start")] {
            if there {
                text += &format!("<tie type=\"{kind}\"/>");
            }
        }
        text += &format!("<voice>1</voice><type>{kind}</type>{}", "<dot/>".repeat(dots));
        let (notes, time) = piece.ratio;
        if notes > 1 {
            text += &format!(
                "<time-modification><actual-notes>{notes}</actual-notes><normal-notes>{time}</normal-notes></time-modification>"
            );
        }
        let mut marks = String::new();
        for (there, kind) in [(stop, "stop"), (start, "start")] {
            if there {
                marks += &format!("<tied type=\"{kind}\"/>");
            }
        }
        for (there, kind) in [(begins, "start"), (ends, "stop")] {
            if there {
                marks += &format!("<tuplet type=\"{kind}\"/>");
            }
        }
        if !marks.is_empty() {
            text += &format!("<notations>{marks}</notations>");
        }
        text += "</note>";
        self.line(&text);
    }
}

/// The note values that last so many ticks together, the longest first, each with its dots.
fn values(ticks: i64) -> Vec<(i64, &'static str, usize)> {
    let mut left = ticks;
    let mut out = Vec::new();
    while left > 0 {
        let dotted = VALUES.iter().flat_map(|&(value, name)| {
            [(value * 7 / 4, name, 2), (value * 3 / 2, name, 1), (value, name, 0)]
        });
        let fits = dotted.filter(|(value, ..)| *value <= left).max_by_key(|(value, ..)| *value);
        let Some(next) = fits else {
            // Shorter than any value: it is told by its length alone.
            out.push((left, "256th", 0));
            break;
        };
        left -= next.0;
        out.push(next);
    }
    out
}
