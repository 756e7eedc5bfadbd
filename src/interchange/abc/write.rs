//! A song as ABC: a lead sheet with its parts, chords and tune.

use crate::chart::{
    ChartBar, Layout, Pickup, Piece, Section, Song, Speller, Tune, chord_places, melody_pieces,
    pickup_pieces,
};
use crate::interchange::page::page;
use crate::interchange::{OwnWords, one_line};
use crate::theory::{Chord, Key, MidiNote, Mode};
use crate::time::{BarMeter, Meter, Ticks};

/// The labels that the standard has for parts (3.1.9).
const LABELS: &str = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz";

/// Writes a song as a tune: sections as parts, with repeats and endings, chords above the notes. A section without a
/// tune has its chords over invisible rests.
///
/// What other programs don't know of, the names of sections, who leads and the style, stands in directives of our own,
/// so that [`read_abc`](super::read_abc) gives the same sections, form, chords and tune.
pub fn write_abc(song: &Song) -> String {
    let mut out = String::from("%abc-2.1\nX:1\n");
    let mut line = |text: String| {
        out.push_str(&text);
        out.push('\n');
    };
    line(format!("T:{}", escaped(&song.title)));
    if let Some(composer) = &song.composer {
        line(format!("C:{}", escaped(composer)));
    }
    for note in song.notes.iter().flat_map(|notes| notes.lines()) {
        line(format!("N:{}", escaped(note)));
    }
    line(format!("M:{}", song.meter));
    line("L:1/8".to_owned());
    line(format!("Q:{}={}", beat(song.meter), song.tempo));
    line(format!("%%openchair-style {}", one_line(&song.style)));
    for (what, word) in OwnWords::of_around(song) {
        line(format!("%%openchair-{what} {word}"));
    }
    let labels: Vec<String> = (0..song.sections.len())
        .map(|at| LABELS.chars().nth(at).map_or_else(|| format!("S{at}"), String::from))
        .collect();
    for (section, label) in song.sections.iter().zip(&labels) {
        line(format!("%%openchair-section {label} {}", one_line(&section.name)));
    }
    for pass in &song.form {
        let name = song.sections.get(pass.section).map_or("", |section| section.name.as_str());
        let lead = pass.lead.map_or(String::new(), |lead| format!(" : {lead}"));
        line(format!("%%openchair-pass {}{lead}", one_line(name)));
    }
    if song.sections.len() <= LABELS.len() {
        let order = song.form.iter().filter_map(|pass| labels.get(pass.section));
        line(format!("P:{}", order.map(String::as_str).collect::<String>()));
    }
    line(format!("K:{}", key(song.key)));
    let mut meter = song.meter.into();
    for (section, label) in song.sections.iter().zip(&labels) {
        line(format!("P:{label}"));
        line(music(section, song.key, &mut meter));
    }
    out
}

/// The words of a field: nothing in them is a remark or an escape.
fn escaped(text: &str) -> String {
    let one = one_line(text);
    one.replace('\\', "\\\\").replace('%', "\\%").replace('&', "\\&")
}

fn key(key: Key) -> String {
    let mode = match key.mode {
        Mode::Major => "",
        Mode::Minor => "m",
        Mode::Mixolydian => " mix",
        Mode::Dorian => " dor",
    };
    format!("{}{mode}", key.tonic)
}

const fn beat(meter: Meter) -> &'static str {
    match meter {
        Meter::FourFour | Meter::TwoFour | Meter::ThreeFour => "1/4",
        Meter::TwoTwo => "1/2",
        Meter::SixEight => "3/8",
    }
}

/// The lines of a section.
fn music(section: &Section, key: Key, meter: &mut BarMeter) -> String {
    let bars = &section.bars;
    let layout: Layout = page(bars);
    let has_tune = bars.iter().any(|bar| !bar.melody.is_empty());
    let mut lines = Vec::new();
    // The note that sounds at the end of the bar before, and the last chord that was written.
    let mut sounding = None;
    let mut chord: Option<Option<Chord>> = None;
    let mut lead_in =
        section.pickup.as_ref().map(|pickup| pickup_words(pickup, key, &mut sounding));
    for (written, close) in layout.lines() {
        let mut line = lead_in.take().unwrap_or_default();
        let leads_in = !line.is_empty();
        for (place, (sign, at)) in written.iter().enumerate() {
            let Some(bar) = bars.get(*at) else { continue };
            if place == 0 || *sign != "|" {
                chord = None;
            }
            if place > 0 || *sign != "|" || leads_in {
                line.push_str(sign);
            }
            line.push(' ');
            if bar.meter != *meter {
                line.push_str(&format!("[M:{}] ", bar.meter));
                *meter = bar.meter;
            }
            let next = bars.get(at + 1).and_then(|bar| bar.melody.first());
            let goes_on = next.is_some_and(|share| share.value == Tune::Hold);
            line.push_str(&bar_words(bar, key, has_tune, &mut sounding, &mut chord, goes_on));
            line.push(' ');
        }
        line.push_str(close);
        lines.push(line.trim().to_owned());
    }
    lines.join("\n")
}

/// What leads into a section.
fn pickup_words(pickup: &Pickup, key: Key, sounding: &mut Option<MidiNote>) -> String {
    let mut out = pickup.chord.map_or_else(String::new, |chord| format!("\"{chord}\""));
    let mut spell = Speller::new(key);
    let pieces = pickup_pieces(pickup);
    if pieces.is_empty() {
        out.push_str(&format!("x{}", length(pickup.length)));
    }
    *sounding = None;
    for (index, piece) in pieces.iter().enumerate() {
        let tied_on = pieces.get(index + 1).is_some_and(|next| next.tied);
        note_words(piece, tied_on, &mut spell, &mut out);
    }
    out.push(' ');
    out
}

fn note_words(piece: &Piece, tied_on: bool, spell: &mut Speller, out: &mut String) {
    if let Some((notes, time, count)) = piece.group {
        out.push_str(&format!("({notes}:{time}:{count}"));
    }
    match piece.note {
        Some(note) => {
            out.push_str(&spell.word(note));
            out.push_str(&length(piece.written));
            if tied_on {
                out.push('-');
            }
        }
        None => out.push_str(&format!("z{}", length(piece.written))),
    }
}

fn bar_words(
    bar: &ChartBar,
    key: Key,
    has_tune: bool,
    sounding: &mut Option<MidiNote>,
    chord: &mut Option<Option<Chord>>,
    goes_on: bool,
) -> String {
    let mut chords = chord_places(bar).into_iter().peekable();
    let mut out = String::new();
    let mut spell = Speller::new(key);
    let mut say_chord = |at: Ticks, out: &mut String| {
        while let Some((_, next)) = chords.next_if(|(place, _)| *place <= at) {
            if *chord != Some(next) {
                let name = next.map_or_else(|| "N.C.".to_owned(), |chord| chord.to_string());
                out.push_str(&format!("\"{name}\""));
            }
            *chord = Some(next);
        }
    };
    if !has_tune {
        let mut at = Ticks::ZERO;
        for share in &bar.chords {
            say_chord(at, &mut out);
            out.push_str(&format!("x{} ", length(share.length)));
            at += share.length;
        }
        return out.trim_end().to_owned();
    }
    let pieces = melody_pieces(bar, sounding);
    let beat = bar.meter.click().max(Ticks::QUARTER);
    for (index, piece) in pieces.iter().enumerate() {
        if index > 0 && piece.at.is_multiple_of(beat) {
            out.push(' ');
        }
        say_chord(piece.at, &mut out);
        let tied_on = match pieces.get(index + 1) {
            Some(Piece { tied, .. }) => *tied,
            None => goes_on,
        };
        note_words(piece, tied_on, &mut spell, &mut out);
    }
    out
}

/// A length in eighths: nothing for one, `3`, `/2`, `3/4`.
fn length(ticks: Ticks) -> String {
    let (mut up, mut down) = (ticks.get(), Ticks::EIGHTH.get());
    let by = gcd(up, down).max(1);
    up /= by;
    down /= by;
    match (up, down) {
        (1, 1) => String::new(),
        (up, 1) => up.to_string(),
        (1, down) => format!("/{down}"),
        (up, down) => format!("{up}/{down}"),
    }
}

const fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { gcd(b, a % b) }
}
