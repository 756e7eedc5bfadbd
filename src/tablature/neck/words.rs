//! The page as text.

use super::super::{ChordFact, Tablature};
use crate::tablature::text::wrapped;

use super::{called, capo_line, chords, frets, note_names};
use crate::theory::fretboard::banjo::ClosedShape;

/// How wide a diagram is, with its room beside it.
const WIDE: usize = 18;

/// The chords' closed positions as text, no line longer than `width` characters unless a word needs more.
pub fn neck_text(tab: &Tablature, width: usize) -> String {
    let head = [
        tab.title.clone(),
        format!("Closed positions up the neck, strings 4 3 2 1 from the left. {}", capo_line(tab)),
        "Digits are the fingers of the left hand; the first lies across all in its row.".to_owned(),
    ];
    let mut out: String =
        head.iter().map(|line| format!("{}\n", wrapped(line, width, "    "))).collect();
    let beside = (width / WIDE).max(1);
    for fact in chords(tab) {
        out.push_str(&format!("\n{}: the open fifth string {}\n", called(tab, fact), fact.says()));
        for row in fact.closed.chunks(beside) {
            out.push_str(&side_by_side(
                row.iter().map(|shape| diagram(tab, fact, shape)).collect(),
            ));
        }
    }
    out
}

/// A diagram: the inversion, the frets with their fingers, the notes.
fn diagram(tab: &Tablature, fact: &ChordFact, shape: &ClosedShape) -> Vec<String> {
    let hand = shape.left_hand();
    let mut lines = vec![shape.inversion(fact.chord.quality).as_str().to_owned()];
    let sounds = shape.frets.map(|fret| if fret.is_some() { ' ' } else { 'x' });
    if shape.frets.contains(&None) {
        lines.push(cells(None, sounds));
    }
    for fret in frets(shape) {
        let mut row = ['|'; 4];
        for ((cell, at), finger) in row.iter_mut().zip(shape.frets).zip(hand) {
            if at == Some(fret)
                && let Some(finger) = finger.and_then(|finger| char::from_digit(finger.into(), 10))
            {
                *cell = finger;
            }
        }
        lines.push(cells(Some(fret), row));
    }
    let names = note_names(tab, fact, shape);
    let names: String = names.iter().map(|name| format!("{name:<3}")).collect();
    lines.push(format!("   {}", names.trim_end()));
    lines
}

fn cells(fret: Option<u8>, row: [char; 4]) -> String {
    let label = fret.map_or_else(String::new, |fret| fret.to_string());
    let row: String = row.iter().flat_map(|c| [*c, ' ', ' ']).collect();
    format!("{label:>2} {}", row.trim_end())
}

fn side_by_side(diagrams: Vec<Vec<String>>) -> String {
    let height = diagrams.iter().map(Vec::len).max().unwrap_or(0);
    let mut out = String::new();
    for row in 0..height {
        let mut line = String::new();
        for diagram in &diagrams {
            let cell = diagram.get(row).map_or("", String::as_str);
            line.push_str("  ");
            line.push_str(&format!("{cell:<width$}", width = WIDE - 2));
        }
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out
}
