//! What is played after a D.C. or a D.S.

use super::Remarks;
use super::marks::Jump;
use super::play_order::{Part, Played, parts};
use super::tune::Measure;

/// What follows the last bar.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct After {
    /// What belongs to every time through: from where the music goes back to, to the Fine or through the coda.
    pub tail: Vec<Played>,
    /// The written bar with whose part the song ends, where no Fine says so: the tune goes round, and comes to rest in
    /// the part that it goes back to.
    pub rest: Option<usize>,
}

/// What is played after the last bar. A sign that can't be followed is said. At most `most` bars.
pub(super) fn after(measures: &[Measure], most: usize, remarks: &mut Remarks) -> After {
    let mut say = |words: &str, at: usize| {
        let place = measures.get(at).map_or(0, |bar| bar.span.start);
        remarks.add(words, place, u32::try_from(at + 1).ok());
    };
    let place = |from: usize, holds: fn(&Measure) -> bool| {
        let bars = measures.iter().enumerate().skip(from);
        bars.filter(|(_, bar)| holds(bar)).map(|(at, _)| at).next()
    };
    let Some(from) = place(0, |bar| bar.marks.jump.is_some()) else { return After::default() };
    let jump = measures.get(from).and_then(|bar| bar.marks.jump);
    let to = match jump {
        Some(Jump::Segno) => place(0, |bar| bar.marks.segno),
        _ => Some(0),
    };
    let Some(to) = to.filter(|to| *to <= from) else {
        say(
            "it goes back to a sign (D.S.) that stands nowhere before, and is played as written",
            from,
        );
        return After::default();
    };
    let coda = place(0, |bar| bar.marks.coda);
    let landing = coda.and_then(|leave| place(leave + 1, |bar| bar.marks.coda));
    let last = measures.len().saturating_sub(1);
    // Bars behind the jump are the coda, or nobody comes to them.
    let coda = coda.zip(landing).filter(|(leave, landing)| {
        (to + 1..=from).contains(leave) && *landing > from && *landing <= last
    });
    if from != last && coda.is_none() {
        say("it goes back (D.C. or D.S.) before the end, and is played as written", from);
        return After::default();
    }
    let parts = parts(measures);
    if let Some((leave, landing)) = coda {
        // The coda is written last, but the times before go back from where it begins.
        let back = once(&parts, to..leave);
        let coda = once(&parts, landing..measures.len());
        return within(back.into_iter().chain(coda).collect(), most);
    }
    match place(to, |bar| bar.marks.fine) {
        Some(fine) if fine < last => within(once(&parts, to..fine + 1), most),
        // The Fine at the end of all is the end that is there.
        Some(_) => After::default(),
        None => {
            say(
                "it goes back (D.C. or D.S.) without a Fine: the song ends after the part that it goes back to",
                from,
            );
            let part = parts.iter().find(|part| part.all().contains(&to));
            let Some(all) = part.map(Part::all) else { return After::default() };
            let pickup =
                |at: usize| measures.get(at).is_some_and(|bar| bar.length() < bar.time.length());
            let head = to == all.start || to == all.start + 1 && pickup(all.start);
            if head {
                return After { tail: Vec::new(), rest: Some(to) };
            }
            within(once(&parts, to..all.end), most)
        }
    }
}

fn within(tail: Vec<Played>, most: usize) -> After {
    let bars: usize = tail.iter().map(|part| part.bars.len()).sum();
    if bars > most { After::default() } else { After { tail, rest: None } }
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
            // What can't be followed is played as written.
            ("A|B!D.C.!|]C|D|]", "AB/CD"),
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
