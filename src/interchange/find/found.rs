use crate::chart::Song;
use crate::interchange::one_line;
use crate::theory::{Chord, Key};

/// Chords that were found, and how sure they are.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Found {
    /// The key whose chords they are, where the tune's home is another note of the scale than the song's key says.
    pub home: Option<Key>,
    /// For each section of the song its bars; none where it has no tune.
    pub sections: Vec<Vec<FoundBar>>,
}

/// What was found for a bar.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FoundBar {
    /// Its chords.
    pub chords: Vec<Chord>,
    /// Of a hundred bars that were found as clearly, in how many the chord is right: that of its least sure chord.
    pub sure: u8,
    /// What else would do for that one.
    pub or: Option<Chord>,
}

/// The fewest bars that are worth being found once for both times that they are played.
pub(super) const FEWEST: usize = 4;

/// Up to so many bars at the end of a part may differ when it comes again.
pub(super) const ENDING: usize = 2;

/// From so many of a hundred on a bar counts as sure.
const SURE: u8 = 85;

/// The bars of a section, each once: where it is played twice, the second time only what differs in its endings.
fn once(bars: &[FoundBar]) -> impl Iterator<Item = &FoundBar> {
    let half = bars.len() / 2;
    let (one, other) = bars.split_at(half);
    let same = one.iter().zip(other).take_while(|(one, other)| one == other).count();
    let twice = bars.len().is_multiple_of(2) && half >= FEWEST && same + ENDING >= half;
    let again = if twice { other.get(same..).unwrap_or_default() } else { other };
    one.iter().chain(again)
}

impl Found {
    /// What was done, in a sentence.
    pub fn sentence(&self) -> String {
        let bars: Vec<&FoundBar> = self.sections.iter().flat_map(|bars| once(bars)).collect();
        let sure = bars.iter().filter(|bar| bar.sure >= SURE).count();
        let least = bars.iter().map(|bar| bar.sure).min().unwrap_or_default();
        format!(
            "the chords are found, nobody gave them: {sure} of {} bars are sure, the least sure is right {least} times in \
             100; the end of the song file says which, and what else would do",
            bars.len()
        )
    }

    /// That the tune's home is another note than the key's, if it is.
    pub fn home_sentence(&self, song: &Song) -> Option<String> {
        let home = self.home?;
        Some(format!(
            "the tune is at home on {}, not on {}: its chords are those of {home}",
            home.tonic, song.key.tonic
        ))
    }

    /// Remarks for a song file: how sure each bar is, and the second choice, a line of the chart in a line. What comes again
    /// in a section is said once, for all the bars where it begins.
    pub fn remarks(&self, song: &Song) -> String {
        let mut out = String::from(
            "\n# The chords are found. Below each how many times in 100 it is right, and what else would do:\n",
        );
        for (section, found) in song.sections.iter().zip(&self.sections) {
            let mut lines: Vec<(Vec<usize>, String)> = Vec::new();
            let (mut first, mut line) = (1, String::new());
            for (index, (bar, found)) in section.bars.iter().zip(found).enumerate() {
                let chords: Vec<String> = found.chords.iter().map(Chord::to_string).collect();
                let or = found.or.map(|or| format!(" or {or}")).unwrap_or_default();
                line.push_str(&format!(" | {} {}{or}", chords.join(" "), found.sure));
                if !bar.line_end && index + 1 < section.bars.len() {
                    continue;
                }
                let line = std::mem::take(&mut line);
                match lines.iter_mut().find(|(_, other)| *other == line) {
                    Some((bars, _)) => bars.push(first),
                    None => lines.push((vec![first], line)),
                }
                first = index + 2;
            }
            let name = one_line(&section.name);
            for (bars, line) in lines {
                let word = if bars.len() == 1 { "bar" } else { "bars" };
                let bars: Vec<String> = bars.iter().map(usize::to_string).collect();
                out.push_str(&format!("# {name}, {word} {}:{line} |\n", bars.join(", ")));
            }
        }
        out
    }
}
