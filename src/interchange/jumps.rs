//! What is played after a D.C. or a D.S.

use super::Remarks;
use super::marks::Jump;
use super::play_order::{Part, Played, parts};
use super::tune::Measure;

/// What is played besides what stands one after the other.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct After {
    /// What is played after a part in the middle, by the written bar with which that part ends: a D.C. before a trio.
    pub between: Vec<(usize, Vec<Played>)>,
    /// What belongs to every time through: from where the music goes back to, to the Fine or through the coda.
    pub tail: Vec<Played>,
    /// The written bar with whose part the song ends, where no Fine says so: the tune goes round, and comes to rest in
    /// the part that it goes back to.
    pub rest: Option<usize>,
}

/// What is played after the bars that send the player back. A sign that can't be followed is said. At most `most` bars.
pub(super) fn after(measures: &[Measure], most: usize, remarks: &mut Remarks) -> After {
    let mut left = most;
    let mut out = After::default();
    let parts = parts(measures);
    let sends = measures.iter().enumerate().filter(|(_, bar)| bar.marks.jump.is_some());
    for (from, _) in sends {
        let mut say = |words: &str| {
            let place = measures.get(from).map_or(0, |bar| bar.span.start);
            remarks.add(words, place, u32::try_from(from + 1).ok());
        };
        let Some(to) = goes_to(measures, from) else {
            say(
                "it goes back to a sign (D.S.) that stands nowhere before, and is played as written",
            );
            continue;
        };
        let coda = coda(measures, to, from);
        if from + 1 < measures.len() && coda.is_none() {
            match between(measures, &parts, to, from, &mut say) {
                Some(bars) => out.between.push((from, within(bars, &mut left))),
                None => say("it goes back (D.C. or D.S.) before the end, and is played as written"),
            }
            continue;
        }
        if let Some((leave, landing)) = coda {
            // The coda is written last, but the times before go back from where it begins.
            let back = once(&parts, to..leave);
            let coda = once(&parts, landing..measures.len());
            out.tail = within(back.into_iter().chain(coda).collect(), &mut left);
            break;
        }
        match first(measures, to, |bar| bar.marks.fine) {
            Some(fine) if fine < from => {
                out.tail = within(once(&parts, to..fine + 1), &mut left);
            }
            // The Fine at the end of all is the end that is there.
            Some(_) => {}
            None => {
                say(
                    "it goes back (D.C. or D.S.) without a Fine: the song ends after the part that it goes back to",
                );
                let Some(all) = parts.iter().map(Part::all).find(|all| all.contains(&to)) else {
                    continue;
                };
                let pickup = |at: usize| {
                    measures.get(at).is_some_and(|bar| bar.length() < bar.time.length())
                };
                if to == all.start || to == all.start + 1 && pickup(all.start) {
                    out.rest = Some(to);
                } else {
                    out.tail = within(once(&parts, to..all.end), &mut left);
                }
            }
        }
    }
    out
}

/// The first bar from `from` on that holds something.
fn first(measures: &[Measure], from: usize, holds: fn(&Measure) -> bool) -> Option<usize> {
    let mut bars = measures.iter().enumerate().skip(from);
    bars.find(|(_, bar)| holds(bar)).map(|(at, _)| at)
}

/// Where the bar sends the player back to.
fn goes_to(measures: &[Measure], from: usize) -> Option<usize> {
    let to = match measures.get(from)?.marks.jump? {
        Jump::Segno => first(measures, 0, |bar| bar.marks.segno)?,
        _ => 0,
    };
    (to <= from).then_some(to)
}

/// Where the player leaves for the coda the last time, and where that begins. Bars behind the jump are the coda, or
/// nobody comes to them.
fn coda(measures: &[Measure], to: usize, from: usize) -> Option<(usize, usize)> {
    let leave = first(measures, 0, |bar| bar.marks.coda)?;
    let landing = first(measures, leave + 1, |bar| bar.marks.coda)?;
    ((to + 1..=from).contains(&leave) && landing > from).then_some((leave, landing))
}

/// What is played where the music goes back and then on, to a trio: an earlier part, to its Fine or its end, as players do
/// it (common practice, no source). `None` where the music goes back within a part or from the middle of one.
fn between(
    measures: &[Measure],
    parts: &[Part],
    to: usize,
    from: usize,
    say: &mut impl FnMut(&str),
) -> Option<Vec<Played>> {
    let all = |at: usize| parts.iter().map(Part::all).find(move |all| all.contains(&at));
    let (back, here) = (all(to)?, all(from)?);
    if back == here || here.end != from + 1 {
        return None;
    }
    let fine = first(measures, to, |bar| bar.marks.fine).filter(|fine| *fine < from);
    if fine.is_none() {
        say(
            "it goes back (D.C. or D.S.) without a Fine before more parts: the part that it goes back to is played, and then \
             what follows",
        );
    }
    Some(once(parts, to..fine.map_or(back.end, |fine| fine + 1)))
}

/// What is played, if it is no more than `left` bars: those are then less.
fn within(played: Vec<Played>, left: &mut usize) -> Vec<Played> {
    let bars: usize = played.iter().map(|part| part.bars.len()).sum();
    match left.checked_sub(bars) {
        Some(fewer) => {
            *left = fewer;
            played
        }
        None => Vec::new(),
    }
}

/// The parts from one bar to another, without repeats: the last endings are taken (as players do after a D.C.).
fn once(parts: &[Part], bars: std::ops::Range<usize>) -> Vec<Played> {
    let cut = |part: &Part| {
        let last = part.endings.last().map(|(_, ending)| ending.clone());
        let all = part.body.clone().chain(last.into_iter().flatten());
        let bars: Vec<usize> = all.filter(|at| bars.contains(at)).collect();
        (!bars.is_empty()).then(|| Played { label: part.label.clone(), bars })
    };
    parts.iter().filter_map(cut).collect()
}

#[cfg(test)]
mod tests {
    use super::super::abc::read_abc;
    use crate::chart::{Lead, Song, Tune};
    use crate::text::Source;

    fn song(body: &str) -> Song {
        let text = format!("X:1\nT:x\nM:4/4\nL:1/1\nK:C\n{body}\n");
        let source = Source::new("x", text).unwrap();
        read_abc(&source, None).tunes[0].song().unwrap().0
    }

    /// What is played, but for the banjo's time through: the letters of the bars, `/` between passes.
    fn played(body: &str) -> String {
        let song = song(body);
        let passes = song.form.iter().filter(|pass| pass.lead != Some(Lead::Banjo)).map(|pass| {
            let bars = song.sections[pass.section].bars.iter();
            let letter = |tune: Tune| match tune {
                Tune::Note(note) => ["C", "", "D", "", "E", "F", "", "G", "", "A", "", "B"]
                    [usize::from(note.pitch_class())],
                _ => "-",
            };
            bars.map(|bar| letter(bar.melody[0].value)).collect::<String>()
        });
        passes.collect::<Vec<_>>().join("/")
    }

    #[test]
    fn signs_are_followed() {
        for (body, order) in [
            // To the Fine, without repeats.
            ("A|B!fine!|]C|D!D.C.!|]", "AB/CD/AB"),
            ("|:A|1B:|2C\"Fine\"|]D|E\"D.C. al Fine\"|]", "ABAC/DE/AC"),
            // Without one the song ends with what it goes back to.
            ("A|B|]C|D!D.C.!|]", "AB/CD/AB"),
            ("|:A|B:|C|D\"_D.C.\"|]", "ABAB/CD/ABAB"),
            ("A|!segno!B|C|D\"D.S.\"|]", "ABCD/BCD"),
            // A second segno sends back to the first.
            ("\"^Segno\"A|B|]C|D\"^Segno\"|]", "AB/CD/AB"),
            // The coda is played only the last time.
            ("!segno!A|B!coda!|C|D!D.S.!|]!coda!E|F|]", "ABCD/AB/EF"),
            // Before a trio, and again after it: to the Fine, or the part that it goes back to.
            ("A|B!fine!|]C|D!D.C.!|]E|F!D.C.!|]", "AB/CD/AB/EF/AB"),
            ("|:A|B:|C|D!D.C.!|]E|F|]", "ABAB/CD/AB/EF"),
            ("A|B|]C|D!D.C.!|]E|F!D.C.!|]", "AB/CD/AB/EF/AB"),
            ("A|B|]!segno!C|D|]E|F!D.S.!|]G|A|]", "AB/CD/EF/CD/GA"),
            ("A|B|]C|D!D.C.!|]E|F|]C|D!D.C.!|]", "AB/CD/AB/EF/CD/AB"),
            // What can't be followed is played as written.
            ("A|B!D.C.!|C|D|]", "ABCD"),
            ("|:A|B\"D.C.\":|C|D|]", "ABAB/CD"),
            ("A|B|C|D!D.S.!|]", "ABCD"),
            ("A|B|C|D!segno!|]", "ABCD"),
            ("A|B|C|D!fine!|]", "ABCD"),
        ] {
            assert_eq!(played(body), order, "{body}");
        }
    }

    #[test]
    fn a_fine_belongs_to_every_time_through_and_an_end_to_the_song() {
        let passes = |body: &str| {
            song(body).form.iter().map(|pass| pass.label.clone()).collect::<Vec<_>>().join(" ")
        };
        let all = passes("A|B!fine!|]C|D!D.C.!|]");
        assert_eq!(all, "a: fiddle b: fiddle a: fiddle a: banjo b: banjo a: banjo");
        let round = passes("A|B|]C|D!D.C.!|]");
        assert_eq!(round, "a: fiddle b: fiddle a: banjo b: banjo a: fiddle");
    }
}
