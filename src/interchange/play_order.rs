//! The order in which written bars are played: repeats, endings, and parts by their labels.

use std::ops::Range;

use super::tune::{Measure, Tune};

/// A stretch of a tune as it is played: a part with its repeats.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Played {
    /// Its label in the file.
    pub label: Option<String>,
    /// The written bars in the order played.
    pub bars: Vec<usize>,
}

/// The parts of a tune in the order played; `None` if that would be more than `most` bars. `false` if its own order
/// names a part that it does not have, and they are played as written.
pub(super) fn played(tune: &Tune, most: usize) -> Option<(Vec<Played>, bool)> {
    let mut written = Vec::new();
    let mut left = most;
    // The coda is played once, at the end.
    let coda = is_coda(&tune.measures).unwrap_or(tune.measures.len());
    let before_coda = tune.measures.get(..coda).unwrap_or(&tune.measures);
    for part in parts(before_coda) {
        let bars = part.played(&tune.measures, left)?;
        left -= bars.len();
        // A part goes on under its label until the next one.
        let label =
            part.label.or_else(|| written.last().and_then(|before: &Played| before.label.clone()));
        written.push(Played { label, bars });
    }
    // A file of this program says itself how its sections follow each other.
    if tune.own.is_some()
        || tune.order.is_empty()
        || written.iter().all(|part| part.label.is_none())
    {
        return Some((written, tune.own.is_some() || tune.order.is_empty()));
    }
    let mut out: Vec<Played> = Vec::new();
    let mut left = most;
    for label in &tune.order {
        let of_label: Vec<&Played> =
            written.iter().filter(|part| part.label.as_ref() == Some(label)).collect();
        if of_label.is_empty() {
            return Some((written, false));
        }
        let bars: Vec<usize> = of_label.iter().flat_map(|part| part.bars.iter().copied()).collect();
        left = left.checked_sub(bars.len())?;
        out.push(Played { label: Some(label.clone()), bars });
    }
    Some((out, true))
}

/// Where the coda begins that is played only after the music has gone back.
fn is_coda(measures: &[Measure]) -> Option<usize> {
    let mut signs = measures.iter().enumerate().filter(|(_, bar)| bar.marks.coda);
    let (_, landing) = (signs.next()?, signs.next()?.0);
    let from = measures.iter().position(|bar| bar.marks.jump.is_some())?;
    (landing > from).then_some(landing)
}

/// The parts, each cut where its repeat goes back to a pickup that the bar before does not leave room for: a pickup stands
/// before a section, so each time is a section of its own.
pub(super) fn by_pickups(parts: Vec<Played>, measures: &[Measure]) -> Vec<Played> {
    let leads_in = |before: usize, at: usize| {
        let (Some(before), Some(bar)) = (measures.get(before), measures.get(at)) else {
            return false;
        };
        let (whole, length) = (bar.time.length(), bar.length());
        let short = !bar.time.free && length > 0 && length < whole;
        let fits = before.length() < whole && before.length() + length == whole;
        short && !fits && before.length() > length
    };
    let mut out = Vec::with_capacity(parts.len());
    for part in parts {
        // Only a bar that the part begins with is a pickup.
        let head = part.bars.first().copied();
        let again = |pair: &usize, next: &usize| !(Some(*next) == head && leads_in(*pair, *next));
        let times = part.bars.chunk_by(again);
        out.extend(times.map(|bars| Played { label: part.label.clone(), bars: bars.to_vec() }));
    }
    out
}

/// A part as written: a body, and endings that it goes into by turns.
#[derive(Clone, Debug)]
pub(super) struct Part {
    pub label: Option<String>,
    pub body: Range<usize>,
    pub endings: Vec<(Vec<u32>, Range<usize>)>,
    times: u32,
}

impl Part {
    /// All its written bars.
    pub fn all(&self) -> Range<usize> {
        let end = self.endings.last().map_or(self.body.end, |(_, bars)| bars.end);
        self.body.start..end
    }

    /// Its bars in the order played; `None` if there are more than `most`.
    fn played(&self, measures: &[Measure], most: usize) -> Option<Vec<usize>> {
        let last = self.endings.iter().flat_map(|(numbers, _)| numbers).copied().max();
        // An ending that repeats is followed by one more time, even if that has no number.
        let open = self.endings.last().is_some_and(|(_, bars)| {
            measures.get(bars.clone()).is_some_and(|bars| bars.iter().any(|bar| bar.closes > 0))
        });
        let times = match last {
            Some(last) => last.max(1) + u32::from(open),
            None => self.times,
        };
        let mut out = Vec::new();
        for time in 1..=times {
            out.extend(self.body.clone());
            let ending = self.endings.iter().find(|(numbers, _)| numbers.contains(&time));
            if let Some((_, bars)) = ending {
                out.extend(bars.clone());
            }
            if out.len() > most {
                return None;
            }
        }
        Some(out)
    }
}

/// Cuts a tune into parts.
pub(super) fn parts(measures: &[Measure]) -> Vec<Part> {
    let mut parts = Vec::new();
    let mut start = 0;
    while start < measures.len() {
        let (part, end) = part(measures, start);
        parts.push(part);
        start = end.max(start + 1);
    }
    parts
}

/// The part that begins at `start`, and where the next one begins.
fn part(measures: &[Measure], start: usize) -> (Part, usize) {
    let is_ending = |at: usize| measures.get(at).is_some_and(|bar| !bar.ending.is_empty());
    // A repeat is opened here, or is closed without having been opened.
    let opened = measures.get(start).is_some_and(|bar| bar.opens);
    let label = measures.get(start).and_then(|bar| bar.part.clone());
    let mut part = Part { label, body: start..start, endings: Vec::new(), times: 1 };
    let mut at = start;
    while let Some(bar) = measures.get(at) {
        if at > start && (bar.opens || bar.part.is_some()) {
            break;
        }
        if is_ending(at) && at > start {
            part.endings.push((bar.ending.clone(), at..at));
        }
        match part.endings.last_mut() {
            Some((_, bars)) => bars.end = at + 1,
            None => part.body.end = at + 1,
        }
        at += 1;
        let goes_on = is_ending(at);
        if bar.closes > 0 {
            if part.endings.is_empty() {
                part.times = bar.closes + 1;
            }
            if !goes_on || part.endings.is_empty() {
                break;
            }
        } else if bar.double
            && !goes_on
            && (!part.endings.is_empty() || !closes_later(measures, at, opened))
        {
            break;
        }
    }
    (part, at)
}

/// True if the repeat that was opened is closed further on, so that a double bar line within it parts nothing.
fn closes_later(measures: &[Measure], from: usize, opened: bool) -> bool {
    opened
        && measures
            .get(from..)
            .unwrap_or_default()
            .iter()
            .take_while(|bar| !bar.opens && bar.part.is_none())
            .any(|bar| bar.closes > 0)
}

#[cfg(test)]
mod tests {
    #[test]
    fn a_pickup_that_finds_no_room_stands_before_each_time() {
        let passes = |body: &str| {
            let source =
                Source::new("x", format!("X:1\nT:x\nM:4/4\nL:1/4\nK:C\n{body}\n")).unwrap();
            let (song, _) = read_abc(&source, None).tunes[0].song().unwrap();
            let bars = song.sections.iter().map(|section| section.bars.len()).collect::<Vec<_>>();
            let first = song.form.iter().filter(|pass| pass.label.ends_with("fiddle"));
            (bars, first.map(|pass| pass.section).collect::<Vec<_>>())
        };
        // Its last bar is whole, so the repeat is a pass of its own and no bar comes between.
        assert_eq!(passes("A|BBBB|CCCz:|"), (vec![2], vec![0, 0]));
        // It leaves room for the pickup, so both times are one section.
        assert_eq!(passes("A|BBBB|CCC:|").1, [0]);
    }

    use super::super::abc::read_abc;
    use super::*;
    use crate::text::Source;

    /// The bars played, by the letter of their note; `/` between parts.
    fn order(body: &str) -> String {
        let text = format!("X:1\nT:x\nM:4/4\nL:1/1\nP:{}\nK:C\n{body}\n", "");
        let source = Source::new("x", text).unwrap();
        let tunes = read_abc(&source, None);
        let (parts, _) = played(&tunes.tunes[0], 100).unwrap();
        let letters: Vec<char> = body.chars().filter(|c| "ABCDEFG".contains(*c)).collect();
        let parts =
            parts.iter().map(|part| part.bars.iter().map(|&bar| letters[bar]).collect::<String>());
        parts.collect::<Vec<_>>().join("/")
    }

    #[test]
    fn repeats_are_played_as_the_standard_has_them() {
        for (body, played) in [
            ("A|B|C|]", "ABC"),
            ("A|B:|C|D|]", "ABAB/CD"),
            ("|:A|B:|:C|D:|", "ABAB/CDCD"),
            ("A|B::C|D:|", "ABAB/CDCD"),
            ("|:A|B|1C:|2D|]", "ABCABD"),
            ("|:A|1B:|2C||D|E:|", "ABAC/DEDE"),
            ("A||B|C:|", "A/BCBC"),
            ("|:A||B|C:|D", "ABCABC/D"),
            ("|:A|1,3B:|2C:|D", "ABACABA/D"),
            ("|:A::|B", "AAA/B"),
            ("|:A|1B:|C", "ABA/C"),
        ] {
            assert_eq!(order(body), played, "{body}");
        }
    }
}
