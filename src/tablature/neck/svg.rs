//! The page as a drawing, for paper and for a screen of any size.

use std::io;

use super::super::xml::{Element, document};
use super::super::{ChordFact, Tablature};
use super::{called, capo_line, chords, frets, note_names};
use crate::theory::fretboard::banjo::ClosedShape;

/// The width of what is drawn in the page's own units, which are millimetres on paper: A4 is 210 wide, Letter
/// 216.
const WIDTH: f64 = 190.0;

/// Room around it all, so that nothing is cut off at a screen's edge.
const MARGIN: f64 = 4.0;

/// What fits on A4 and on Letter; more chords than that stand in two columns.
const HEIGHT: f64 = 255.0;

/// Room above the first chord.
const HEAD: f64 = 22.0;

/// Diagrams beside each other. A chord of three notes has three, one of four as many as four.
const BESIDE: usize = 4;

/// The sizes of a page with so many columns of chords.
struct Sizes {
    column: f64,
    cell: f64,
    /// From string to string.
    string: f64,
    /// From fret to fret.
    fret: f64,
    name: f64,
    text: f64,
}

impl Sizes {
    fn new(columns: usize) -> Self {
        let column = WIDTH / columns as f64;
        let cell = column / BESIDE as f64;
        let string = if columns == 1 { 6.0 } else { 4.2 };
        let text = if columns == 1 { 3.6 } else { 2.6 };
        Self { column, cell, string, fret: string * 0.95, name: text * 1.6, text }
    }

    fn diagram(&self, shape: &ClosedShape) -> f64 {
        self.text * 4.2 + self.fret * frets(shape).count() as f64
    }

    /// The name and what is said under it.
    fn head(&self) -> f64 {
        self.name + self.text * 2.7
    }

    fn chord(&self, fact: &ChordFact) -> f64 {
        let rows = fact.closed.chunks(BESIDE);
        let rows = rows.map(|row| row.iter().map(|s| self.diagram(s)).fold(0.0, f64::max));
        self.head() + rows.sum::<f64>() + self.text * 1.5
    }
}

/// The chords' closed positions as SVG: black on nothing, as high as it must be, and as wide as its place.
///
/// # Errors
/// None that memory does not give.
pub fn neck_svg(tab: &Tablature) -> io::Result<String> {
    let chords = chords(tab);
    let height = |sizes: &Sizes| chords.iter().map(|fact| sizes.chord(fact)).sum::<f64>();
    let one = Sizes::new(1);
    let two = Sizes::new(2);
    let (sizes, columns) = if HEAD + height(&one) <= HEIGHT { (one, 1) } else { (two, 2) };
    let half = height(&sizes) / columns as f64;

    let mut drawing = Vec::new();
    let (mut column, mut y, mut lowest) = (0, HEAD, HEAD);
    for fact in &chords {
        let x = column as f64 * sizes.column;
        let (elements, end) = chord(tab, fact, &sizes, x, y);
        drawing.extend(elements);
        lowest = f64::max(lowest, end);
        y = end;
        if column + 1 < columns && y - HEAD >= half {
            (column, y) = (column + 1, HEAD);
        }
    }
    let (width, height) = (WIDTH + 2.0 * MARGIN, round(lowest + 2.0 * MARGIN));
    let root = Element::new("svg")
        .with("xmlns", "http://www.w3.org/2000/svg")
        .with("viewBox", format!("-{MARGIN} -{MARGIN} {width} {height}"))
        .with("width", format!("{width}mm"))
        .with("height", format!("{height}mm"))
        .with("style", "max-width:100%;height:auto")
        .with("font-family", "sans-serif")
        .with("fill", "currentColor")
        .with("role", "img")
        .and(Element::text("title", format!("{}: closed positions on the banjo's neck", tab.title)))
        .and(text(0.0, 7.0, 7.0, "start", &tab.title))
        .and(text(
            0.0,
            12.5,
            3.4,
            "start",
            &format!("Closed positions in open G. {}", capo_line(tab)),
        ))
        .and(text(
            0.0,
            17.0,
            3.4,
            "start",
            "Strings 4 3 2 1 from the left. Digits: left-hand fingers. A square is the root.",
        ))
        .all(drawing);
    document(&root, None)
}

/// A chord's name, what the short string does, and its diagrams; and where it ends.
fn chord(tab: &Tablature, fact: &ChordFact, sizes: &Sizes, x: f64, y: f64) -> (Vec<Element>, f64) {
    let line = y + sizes.name;
    let name = called(tab, fact);
    let says = format!("5th string {}", fact.says());
    let mut elements = vec![
        text(x, line, sizes.name, "start", &name).with("font-weight", "bold"),
        text(x, line + sizes.text * 1.5, sizes.text, "start", &says),
    ];
    let mut top = y + sizes.head();
    for row in fact.closed.chunks(BESIDE) {
        for (index, shape) in row.iter().enumerate() {
            elements.push(diagram(tab, fact, shape, sizes, x + index as f64 * sizes.cell, top));
        }
        top += row.iter().map(|shape| sizes.diagram(shape)).fold(0.0, f64::max);
    }
    (elements, top + sizes.text * 1.5)
}

fn diagram(
    tab: &Tablature,
    fact: &ChordFact,
    shape: &ClosedShape,
    sizes: &Sizes,
    x: f64,
    y: f64,
) -> Element {
    let inversion = shape.inversion(fact.chord.quality).as_str();
    let left = x + sizes.text * 2.0;
    let top = y + sizes.text * 1.6;
    let count = frets(shape).count() as f64;
    let (right, bottom) = (left + 3.0 * sizes.string, top + count * sizes.fret);
    let mut group = Element::new("g").and(Element::text("title", spoken(fact, shape))).and(text(
        left - sizes.string * 0.4,
        y + sizes.text,
        sizes.text,
        "start",
        inversion,
    ));
    for string in 0..4 {
        let x = left + f64::from(string) * sizes.string;
        group.push(line(x, top, x, bottom));
    }
    for (index, fret) in frets(shape).enumerate() {
        let y = top + index as f64 * sizes.fret;
        group.push(line(left, y, right, y));
        let middle = y + sizes.fret / 2.0 + sizes.text * 0.35;
        group.push(text(left - sizes.string * 0.6, middle, sizes.text, "end", &fret.to_string()));
    }
    group.push(line(left, bottom, right, bottom));
    let names = note_names(tab, fact, shape);
    let root = fact.chord.root.pitch_class();
    let strings = shape.frets.into_iter().zip(shape.left_hand()).zip(shape.notes()).zip(names);
    for (string, (((fret, finger), note), name)) in strings.enumerate() {
        let x = left + string as f64 * sizes.string;
        group.push(text(x, bottom + sizes.text * 1.2, sizes.text * 0.9, "middle", &name));
        let (Some(fret), Some(finger), Some(note)) = (fret, finger, note) else { continue };
        let y = top + (f64::from(fret - shape.position()) + 0.5) * sizes.fret;
        group.push(dot(x, y, sizes.string * 0.4, note.pitch_class() == root));
        let digit = text(x, y + sizes.text * 0.35, sizes.text, "middle", &finger.to_string());
        group.push(digit.with("style", "fill:#fff"));
    }
    group
}

/// What a screen reader says of a diagram.
fn spoken(fact: &ChordFact, shape: &ClosedShape) -> String {
    let frets =
        shape.frets.map(|fret| fret.map_or("not picked".to_owned(), |fret| fret.to_string()));
    format!(
        "{}{} in {}: frets {} from the fourth string to the first",
        fact.chord.root,
        fact.chord.quality,
        shape.inversion(fact.chord.quality).as_str(),
        frets.join(", ")
    )
}

/// Round, or square for the root.
fn dot(x: f64, y: f64, radius: f64, square: bool) -> Element {
    if square {
        let side = round(2.0 * radius);
        return Element::new("rect")
            .with("x", round(x - radius))
            .with("y", round(y - radius))
            .with("width", side)
            .with("height", side);
    }
    Element::new("circle").with("cx", round(x)).with("cy", round(y)).with("r", round(radius))
}

fn line(x1: f64, y1: f64, x2: f64, y2: f64) -> Element {
    Element::new("line")
        .with("x1", round(x1))
        .with("y1", round(y1))
        .with("x2", round(x2))
        .with("y2", round(y2))
        .with("stroke", "currentColor")
        .with("stroke-width", "0.25")
}

fn text(x: f64, y: f64, size: f64, anchor: &str, words: &str) -> Element {
    Element::text("text", words)
        .with("x", round(x))
        .with("y", round(y))
        .with("font-size", round(size))
        .with("text-anchor", anchor)
}

/// To a hundredth of a millimetre, which no printer shows.
fn round(number: f64) -> f64 {
    (number * 100.0).round() / 100.0
}
