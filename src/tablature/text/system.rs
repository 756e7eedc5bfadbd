//! A row of bars.

use std::ops::Range;

use super::canvas::Canvas;
use super::layout::{BarLayout, MARGIN, counts, name};
use super::left_hand::{CHOKED, letter};
use crate::backup::Level;
use crate::perform::Pick;
use crate::tablature::{TabBar, Tablature};
use crate::theory::fretboard::banjo::SHORT_STRING;
use crate::time::Meter;

/// The strings as players mark them, the first on top: gDGBD, the short one small.
const NAMES: [char; 5] = ['D', 'B', 'G', 'D', 'g'];

/// The rows of a canvas: numbers and jobs, chords, five strings, counts, fingers.
const NUMBERS: usize = 0;
const CHORDS: usize = 1;
const STRINGS: usize = 2;
const COUNTS: usize = STRINGS + SHORT_STRING as usize;
const FINGERS: usize = COUNTS + 1;

/// Some bars beside each other.
pub(super) fn system(tab: &Tablature, layouts: &[BarLayout], bars: Range<usize>) -> String {
    drawn(tab, layouts, bars, true)
}

/// A bar without its number and its job.
pub(super) fn alone(tab: &Tablature, layouts: &[BarLayout], index: usize) -> String {
    drawn(tab, layouts, index..index + 1, false)
}

fn drawn(tab: &Tablature, layouts: &[BarLayout], bars: Range<usize>, told: bool) -> String {
    let mut canvas = Canvas::default();
    for (row, string) in (STRINGS..).zip(NAMES) {
        canvas.put(row, 0, &format!("{string}|"));
    }
    let mut column = MARGIN;
    for index in bars.clone() {
        let (Some(bar), Some(layout)) = (tab.bars.get(index), layouts.get(index)) else { continue };
        if told {
            numbers(&mut canvas, column, tab, index, bar);
        }
        for mark in bar.chords.iter().filter(|mark| !mark.held || index == bars.start) {
            canvas.put(CHORDS, column + layout.column(mark.at), &name(mark));
        }
        draw(&mut canvas, column, (bar, tab.meter), layout);
        column += layout.width();
    }
    canvas.lines()
}

/// The bar's number, and what there is to do where that is another thing than before.
fn numbers(canvas: &mut Canvas, column: usize, tab: &Tablature, index: usize, bar: &TabBar) {
    let at = column + 1;
    if canvas.length(NUMBERS) >= at {
        // What was said of the bar before takes up the room.
        return;
    }
    let mut words = Vec::new();
    if bar.number > 0 {
        words.push(bar.number.to_string());
    }
    let before = index.checked_sub(1).and_then(|before| tab.bars.get(before));
    let said = before.filter(|_| !tab.opens_pass(index)).map(TabBar::job_word);
    if tab.level == Level::Full && said != Some(bar.job_word()) {
        words.push(bar.job_word().to_owned());
    }
    canvas.put(NUMBERS, at, &words.join(" "));
}

fn draw(canvas: &mut Canvas, column: usize, (bar, song): (&TabBar, Meter), layout: &BarLayout) {
    let width = layout.width();
    let line = format!("{}|", "-".repeat(width - 1));
    for string in 0..usize::from(SHORT_STRING) {
        canvas.put(STRINGS + string, column, &line);
    }
    for (at, word) in counts(bar.meter.gait(song), bar.meter.bar()) {
        canvas.put(COUNTS, column + layout.column(at), &word);
    }
    for stroke in &bar.strokes {
        let at = column + layout.column(stroke.at);
        for pick in &stroke.picks {
            let row = STRINGS + usize::from(pick.string.clamp(1, SHORT_STRING)) - 1;
            let fret = pick.fret.to_string();
            canvas.put(row, at, &fret);
            // A step is wider than its frets, so there is room on both sides.
            if let Some(slur) = pick.slur() {
                canvas.put(row, at.saturating_sub(1), letter(slur.kind));
            }
            if pick.is_choked() {
                canvas.put(row, at + fret.len(), CHOKED);
            }
        }
        let fingers = stroke.picks.iter().filter_map(Pick::finger);
        for (row, finger) in (FINGERS..).zip(fingers) {
            canvas.put(row, at, &finger.letter().to_string());
        }
    }
}
