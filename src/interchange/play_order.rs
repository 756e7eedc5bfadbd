//! The order in which written bars are played: repeats, endings, and parts by their labels.

use std::ops::Range;

use super::Remarks;
use super::lead_in::makes_longer;
use super::tune::{Measure, TimeSignature, Tune, What};
use super::units::EIGHTH;

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
    let mut written: Vec<Played> = Vec::new();
    let mut left = most;
    // The coda is played once, at the end.
    let coda = is_coda(&tune.measures).unwrap_or(tune.measures.len());
    let before_coda = tune.measures.get(..coda).unwrap_or(&tune.measures);
    for part in parts(before_coda) {
        let bars = part.played(&tune.measures, left)?;
        left -= bars.len();
        // What follows a repeat within a section of a file of this program belongs to that section.
        let before = written.last_mut().filter(|_| tune.own.is_some() && part.label.is_none());
        if let Some(before) = before {
            before.bars.extend(bars);
            continue;
        }
        // A part goes on under its label until the next one.
        let label = part.label.or_else(|| written.last().and_then(|before| before.label.clone()));
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
/// before a section, so each time is a section of its own. Where the bar before sounds there, both are one longer bar
/// (`bars.rs`); where a chart has no such bar, it leads back by itself: the pickup is left out, which is said.
pub(super) fn by_pickups(
    parts: Vec<Played>,
    measures: &[Measure],
    time: TimeSignature,
    remarks: &mut Remarks,
) -> Vec<Played> {
    let mut out = Vec::with_capacity(parts.len());
    for part in parts {
        // Only a bar that the part begins with is a pickup.
        let Some(&head) = part.bars.first() else { continue };
        let mut bars: Vec<usize> = Vec::with_capacity(part.bars.len());
        for &at in &part.bars {
            let pair = bars.last().and_then(|before| measures.get(*before)).zip(measures.get(at));
            let Some((before, bar)) = pair.filter(|_| at == head) else {
                bars.push(at);
                continue;
            };
            if !leads_in(before, bar) || makes_longer((&before.notes, before.length()), bar, time) {
                bars.push(at);
            } else if has_notes_under(before, bar.length()) {
                let words = "the pickup is left out when its part comes again: the bar before is whole, and leads back \
                             itself";
                remarks.add(words, bar.span.start, u32::try_from(at + 1).ok());
            } else {
                let bars = std::mem::replace(&mut bars, vec![at]);
                out.push(Played { label: part.label.clone(), bars });
            }
        }
        out.push(Played { label: part.label, bars });
    }
    out
}

/// True if `bar` is a pickup that `before` leaves no room for.
fn leads_in(before: &Measure, bar: &Measure) -> bool {
    let (whole, length) = (bar.time.length(), bar.length());
    let short = !bar.time.free && length > 0 && length < whole;
    let fits = before.length() < whole && before.length() + length == whole;
    short && !fits && before.length() > length
}

/// True if notes of a bar begin where a pickup of that length comes over its end.
fn has_notes_under(bar: &Measure, pickup: i64) -> bool {
    let whole = if bar.time.free { bar.length() } else { bar.length().max(bar.time.length()) };
    // A chart's pickups are whole eighths.
    let from = whole - (pickup + EIGHTH - 1).div_euclid(EIGHTH) * EIGHTH;
    let mut at = 0;
    bar.notes.iter().any(|note| {
        let start = at;
        at += note.length;
        start >= from && matches!(note.what, What::Note(_))
    })
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
        let meters = |body: &str| {
            let source =
                Source::new("x", format!("X:1\nT:x\nM:4/4\nL:1/4\nK:C\n{body}\n")).unwrap();
            let (song, _) = read_abc(&source, None).tunes[0].song().unwrap();
            let bars = song.sections.iter().flat_map(|section| &section.bars);
            bars.map(|bar| bar.meter.to_string()).collect::<Vec<_>>()
        };
        // Its last bar ends with a rest, so the repeat is a pass of its own and no bar comes between.
        assert_eq!(passes("A|BBBB|CCCz:|"), (vec![2], vec![0, 0]));
        // It leaves room for the pickup, so both times are one section.
        assert_eq!(passes("A|BBBB|CCC:|").1, [0]);
        // Its last bar has a note where the pickup would come: it is longer by it.
        assert_eq!(passes("A|BBBB|CCCD:|"), (vec![4], vec![0]));
        assert_eq!(meters("A|BBBB|CCCD:|"), ["4/4", "5/4", "4/4", "4/4"]);
        assert_eq!(meters("A|BBBB|CC2:|"), ["4/4", "4/4", "4/4", "4/4"], "as long as three");
        assert_eq!(meters("A|BBBB|CC3:|"), ["4/4", "5/4", "4/4", "4/4"]);
        assert_eq!(meters("A3/2|BBBB|CC5/2:|"), ["4/4", "5/4", "4/4", "4/4"]);
        assert_eq!(meters("A|BBBB||CCCCCCD|:A|BBBB:|")[1..3], ["4/4", "4/4"]);
    }

    #[test]
    fn no_note_is_lost_under_a_pickup() {
        let tune = |body: &str| {
            let text = format!("X:1\nT:x\nM:4/4\nL:1/4\nK:C\n{body}\n");
            let (song, said) =
                read_abc(&Source::new("x", text).unwrap(), None).tunes[0].song().unwrap();
            let last = song.sections.last().unwrap().pickup.clone().unwrap();
            let notes: Vec<(Melody, i64)> =
                last.melody.iter().map(|share| (share.value, share.length.get())).collect();
            let said: Vec<String> = said.all().iter().map(Remark::sentence).collect();
            (notes, said.into_iter().filter(|words| words.contains("pickup")).collect::<Vec<_>>())
        };
        let note = |number| Melody::Note(MidiNote::new(number).unwrap());
        let quarter = Ticks::QUARTER.get();
        // A bar and three sixteenths are no bar's length. The last note of the bar before begins where the pickup comes
        // over it: both, in its time.
        let (notes, said) = tune("CCCD||E3/4|FFFF|GGGG|]");
        let pitches: Vec<Melody> = notes.iter().map(|(value, _)| *value).collect();
        assert_eq!(pitches, [note(62), note(64)]);
        assert_eq!(notes.iter().map(|(_, length)| length).sum::<i64>(), quarter);
        let three = [(Melody::Rest, quarter / 4), (note(64), quarter * 3 / 4)];
        assert_eq!(
            said,
            [
                "bar 2: the pickup sounds over the end of the bar before, which is whole, with the notes of that bar that \
              begin there, all in its time"
            ]
        );
        // It is written at both places.
        let (notes, said) = tune("CCCE||E3/4|FFFF|GGGG|]");
        assert_eq!(notes, three);
        assert_eq!(
            said,
            ["bar 2: the pickup is written at the end of the bar before as well, and sounds once"]
        );
        // When its part comes again.
        let (notes, said) = tune("A3/4|BBBB|CCCD:|");
        assert_eq!(notes, [(Melody::Rest, quarter / 4), (note(69), quarter * 3 / 4)]);
        assert_eq!(
            said,
            [
                "bar 1: the pickup is left out when its part comes again: the bar before is whole, and leads back itself"
            ]
        );
        // What sounds on into it is cut, and nothing is lost.
        let (notes, said) = tune("CCC2||E3/4|FFFF|GGGG|]");
        assert_eq!(notes, three);
        assert_eq!(
            said,
            ["bar 2: the pickup sounds over the end of the bar before, which is whole"]
        );
    }

    use super::super::Remark;
    use super::super::abc::read_abc;
    use super::*;
    use crate::chart::Tune as Melody;
    use crate::text::Source;
    use crate::theory::MidiNote;
    use crate::time::Ticks;

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
