//! What stands above the tab: the song, the tuning, and what the chords mean for the hands.

use super::left_hand::legend;
use crate::backup::Level;
use crate::tablature::{ChordFact, Tablature};

/// Everything above the first row of bars.
pub(super) fn head(tab: &Tablature, width: usize) -> String {
    let mut lines = vec![tab.title.clone()];
    lines.extend(tab.composer.clone());
    let tempo = tab.tempo.beats_per_minute(tab.meter);
    lines.push(format!(
        "Key of {}, {}, {tempo:.0} beats a minute. Banjo backup, level {}: {}.",
        tab.key,
        tab.meter,
        tab.level,
        shows(tab.level)
    ));
    lines.push(match tab.spike() {
        None => "Tuning gDGBD (open G), no capo.".to_owned(),
        Some(spike) => format!(
            "Tuning gDGBD (open G), capo {}; the fifth string goes up with it: spike or capo at its {} fret. \
             Frets count from the capo.",
            tab.capo,
            ordinal(spike)
        ),
    });
    lines.extend(tab.swing_words().map(|words| format!("{words}. It is written even.")));
    lines.push(
        "Right hand: T thumb, I index, M middle finger; what stands above each other is picked together."
            .to_owned(),
    );
    lines.extend(legend(tab));
    let mut out: String =
        lines.iter().map(|line| format!("{}\n", wrapped(line, width, "    "))).collect();
    if !tab.chords.is_empty() {
        out.push_str("\nThe open fifth string:\n");
        let rows: Vec<Vec<String>> = tab.chords.iter().map(|fact| row(tab, fact)).collect();
        out.push_str(&table(&rows, width));
    }
    out
}

/// What each level adds, in a few words.
const fn shows(level: Level) -> &'static str {
    match level {
        Level::Plain => "rolls over the chord",
        Level::Sixths => "rolls with the added sixth",
        Level::LeadIns => "and a lead-in to each change",
        Level::Full => "whatever the open chair asks for",
    }
}

/// A chord, its shape's name under a capo, what the short string does, and a closed position where it clashes.
fn row(tab: &Tablature, fact: &ChordFact) -> Vec<String> {
    let mut cells = vec![fact.chord.to_string()];
    if tab.capo > 0 {
        cells.push(format!("as {}", fact.shape));
    }
    cells.push(fact.says());
    cells.push(match (fact.rings || fact.drones, fact.first_closed()) {
        (false, Some(shape)) => {
            let frets =
                shape.frets.map(|fret| fret.map_or("x".to_owned(), |fret| fret.to_string()));
            format!("closed, 4th to 1st string: {}", frets.join("-"))
        }
        (false, None) => "leave it out".to_owned(),
        (true, _) => String::new(),
    });
    cells
}

/// Columns as wide as they must be; what does not fit into the width goes to the next line.
fn table(rows: &[Vec<String>], width: usize) -> String {
    let long = |cell: &String| cell.chars().count();
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let widths: Vec<usize> = (0..columns)
        .map(|at| rows.iter().filter_map(|row| row.get(at)).map(long).max().unwrap_or(0))
        .collect();
    let mut out = String::new();
    for row in rows {
        let mut line = String::new();
        for (cell, wide) in row.iter().zip(&widths) {
            if line.chars().count() + 2 + long(cell) > width && !line.is_empty() {
                out.push_str(line.trim_end());
                out.push('\n');
                line = "    ".to_owned();
            }
            line.push_str("  ");
            line.push_str(cell);
            line.extend(std::iter::repeat_n(' ', wide.saturating_sub(long(cell))));
        }
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out
}

/// Broken between words into lines of at most `width`, the second and later ones indented. Without a line's
/// end.
pub(in crate::tablature) fn wrapped(text: &str, width: usize, indent: &str) -> String {
    let mut out = String::new();
    let mut length = 0;
    for word in text.split_whitespace() {
        let long = word.chars().count();
        if length == 0 {
            out.push_str(word);
            length = long;
        } else if length + 1 + long <= width {
            out.push(' ');
            out.push_str(word);
            length += 1 + long;
        } else {
            out.push('\n');
            out.push_str(indent);
            out.push_str(word);
            length = indent.len() + long;
        }
    }
    out
}

fn ordinal(number: u8) -> String {
    let ending = match (number % 10, number % 100) {
        (_, 11..=13) => "th",
        (1, _) => "st",
        (2, _) => "nd",
        (3, _) => "rd",
        _ => "th",
    };
    format!("{number}{ending}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_lines_are_broken_between_words() {
        assert_eq!(wrapped("one two three four", 9, "  "), "one two\n  three\n  four");
        assert_eq!(wrapped("  a  b ", 9, "  "), "a b");
        assert_eq!(
            [1, 2, 3, 7, 11, 12, 22].map(ordinal).join(" "),
            "1st 2nd 3rd 7th 11th 12th 22nd"
        );
    }
}
