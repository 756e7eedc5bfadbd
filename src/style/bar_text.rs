use std::ops::Range;

use super::slot_word::read_slot;
use super::{BassNote, Condition, Slot, Strike, Term};
use crate::chart::Role;
use crate::text::{Problems, Text, list};
use crate::time::{Meter, Ticks};

/// The shortest slot, a 32nd note: at 120 quarters a minute 62 ms, as fast as a hand goes.
const SHORTEST: Ticks = Ticks::new(120);

/// How many slots a beat, or how many beats a slot, may be: halves and thirds again and again. A
/// bar of five or seven slots is far more often a slip of the pen than a rhythm of this music.
const TO_THE_BEAT: [i64; 9] = [1, 2, 3, 4, 6, 8, 12, 16, 24];

/// A bar as written, and what it is checked against.
pub(super) struct BarText<'a> {
    pub text: &'a Text,
    pub role: Role,
    /// `None` if the meter itself could not be read: the slots are then not counted.
    pub meter: Option<Meter>,
    /// `None` if the condition itself could not be read: walks are then not checked.
    pub when: Option<&'a Condition>,
}

impl BarText<'_> {
    /// The slots and the length of one. `None`, with its problems, if anything is wrong.
    pub fn read(&self, problems: &mut Problems) -> Option<(Vec<Slot>, Ticks)> {
        let before = problems.len();
        let (words, lines) = words(&self.text.value);
        let slot = self.slot(words.len(), problems);
        if let (Some(slot), Some(meter)) = (slot, self.meter) {
            self.check_lines(&lines, slot, meter, problems);
        }
        // A wrong count says nothing about the words themselves, but too many are not looked at.
        if words.len() > Self::most(self.meter) {
            return None;
        }
        let mut slots = Vec::with_capacity(words.len());
        let (mut walk, mut run) = (None, None);
        for range in &words {
            let word = self.text.value.get(range.clone()).unwrap_or_default();
            match read_slot(word, self.role) {
                Ok(found) => {
                    if let Slot::Strike(Strike { bass: Some(note), .. }) = found {
                        let first = match note {
                            BassNote::Walk => Some(&mut walk),
                            BassNote::GRun => Some(&mut run),
                            BassNote::Degree { .. } => None,
                        };
                        first.map(|first| first.get_or_insert(range.clone()));
                    }
                    slots.push(found);
                }
                Err(slip) => {
                    let span = range.start + slip.range.start..range.start + slip.range.end;
                    problems.add(self.text.span(span), slip.message, slip.help);
                }
            }
        }
        if let (Some(walk), Some(when)) = (walk, self.when)
            && !when.needs(Term::ChangeNext)
            && !when.needs(Term::HomeChord)
        {
            let help = if when.terms().contains(&(true, Term::ChangeNext)) {
                "write a note in its place, or take the `not` from `not change next`"
            } else {
                "add `change next` to this bar's `when`, as in when = \"change next\""
            };
            problems.add(
                self.text.span(walk),
                "`>` walks to the next bar's chord, and this bar may have none to walk to",
                help,
            );
        }
        if let (Some(run), Some(when)) = (run, self.when)
            && !when.needs(Term::HomeChord)
        {
            problems.add(
                self.text.span(run),
                "`G` is the run over the home chord, and this bar may be on another",
                "add `home chord` to this bar's `when`, as in when = \"phrase end and home chord\"",
            );
        }
        (problems.len() == before).then_some((slots, slot?))
    }

    /// The most slots that a bar of the meter can have.
    fn most(meter: Option<Meter>) -> usize {
        let bar = meter.map_or(Meter::FourFour.bar(), Meter::bar);
        usize::try_from(bar.get() / SHORTEST.get()).unwrap_or_default()
    }

    /// The length of a slot when the bar has `count`.
    fn slot(&self, count: usize, problems: &mut Problems) -> Option<Ticks> {
        let meter = self.meter?;
        let slots = i64::try_from(count).ok()?;
        let fits = |slots: i64| {
            let (beats, slot) = (meter.beats(), meter.bar().split(slots));
            let to_beat =
                |more: i64, fewer: i64| more % fewer == 0 && TO_THE_BEAT.contains(&(more / fewer));
            slot.filter(|&slot| slot >= SHORTEST)
                .filter(|_| to_beat(slots, beats) || to_beat(beats, slots))
        };
        if slots > 0
            && let Some(slot) = fits(slots)
        {
            return Some(slot);
        }
        let most = i64::try_from(Self::most(Some(meter))).unwrap_or_default();
        let message = match count {
            0 => "this bar is empty".to_owned(),
            1 => format!("1 slot does not share a bar of {meter} evenly by its beats"),
            n if slots > most => format!("this bar has {n} slots; {meter} holds at most {most}"),
            n => format!("{n} slots do not share a bar of {meter} evenly by its beats"),
        };
        let counts: Vec<String> =
            (meter.beats()..=most).filter(|&n| fits(n).is_some()).map(|n| n.to_string()).collect();
        let help = format!(
            "write {} slots; `.` lets what sounds ring through a slot, `-` is silence",
            list(&counts, "or")
        );
        problems.add(self.text.span(0..self.text.value.len()), message, help);
        None
    }

    /// A `|` inside a beat is nearly always a slot too many or too few before it.
    fn check_lines(&self, lines: &[Line], slot: Ticks, meter: Meter, problems: &mut Problems) {
        let (unit, name) = match meter {
            Meter::SixEight => (meter.beat(), "dotted quarters"),
            _ => (Ticks::QUARTER, "quarters"),
        };
        for (before, range) in lines {
            let at = slot * i64::try_from(*before).unwrap_or(i64::MAX);
            if !at.is_multiple_of(unit) {
                let slots = if *before == 1 { "1 slot".into() } else { format!("{before} slots") };
                problems.add(
                    self.text.span(range.clone()),
                    format!("this `|` stands inside a beat, after {slots}"),
                    format!("write `|` only between {name}, or count the slots before it again"),
                );
                return;
            }
        }
    }
}

/// A `|` and the number of words before it.
type Line = (usize, Range<usize>);

/// The words between white space and `|`, and each `|`.
fn words(value: &str) -> (Vec<Range<usize>>, Vec<Line>) {
    let (mut words, mut lines) = (Vec::new(), Vec::new());
    let mut start = None;
    for (at, letter) in value.char_indices() {
        if !letter.is_whitespace() && letter != '|' {
            start.get_or_insert(at);
            continue;
        }
        words.extend(start.take().map(|start| start..at));
        if letter == '|' {
            lines.push((words.len(), at..at + 1));
        }
    }
    words.extend(start.map(|start| start..value.len()));
    (words, lines)
}

#[cfg(test)]
mod tests {
    use super::super::{BanjoStrings, Degree, Loud, Stroke};
    use super::*;
    use crate::text::{Item, Source, parse_toml};

    /// What stands over each caret, and the message.
    type Found = Vec<(String, String)>;

    fn read(
        bar: &str,
        role: Role,
        meter: Meter,
        when: &Condition,
    ) -> Result<(Vec<Slot>, Ticks), Found> {
        let source = Source::new("t", format!("bar = '''{bar}'''")).unwrap();
        let mut problems = Problems::new();
        let table = parse_toml(&source, &mut problems);
        let Item::Text(text) = &table.get("bar").unwrap().item else { panic!("no text") };
        let bar = BarText { text, role, meter: Some(meter), when: Some(when) };
        bar.read(&mut problems).ok_or_else(|| {
            let found = problems.in_order();
            found
                .iter()
                .map(|p| (source.text[p.span.clone()].to_owned(), p.message.clone()))
                .collect()
        })
    }

    #[test]
    fn slots_share_the_bar() {
        let always = Condition::ALWAYS;
        for (bar, meter, slots, ticks) in [
            ("R . 5 .", Meter::FourFour, 4, 960),
            ("| R . | . . | 5 . | . . |", Meter::FourFour, 8, 480),
            ("R", Meter::FourFour, 1, 3840),
            ("R 5", Meter::FourFour, 2, 1920),
            ("R . 5 .", Meter::TwoTwo, 4, 960),
            ("R . 5 .", Meter::TwoFour, 4, 480),
            ("R . .", Meter::ThreeFour, 3, 960),
            ("R . . 5 . .", Meter::SixEight, 6, 480),
            ("R . .|5 . .", Meter::SixEight, 6, 480),
            ("R . . 5 . . R . . 5 . .", Meter::FourFour, 12, 320),
        ] {
            let (found, slot) = read(bar, Role::Bass, meter, &always).unwrap();
            assert_eq!((found.len(), slot.get()), (slots, ticks), "{bar}");
        }
        let (slots, _) = read("R . D .", Role::Guitar, Meter::FourFour, &always).unwrap();
        let down = Strike {
            bass: None,
            stroke: Some(Stroke::Down),
            strings: BanjoStrings::NONE,
            loud: Loud::Normal,
        };
        assert_eq!(slots[2], Slot::Strike(down));
        let root = BassNote::Degree { degree: Degree::Root, octave: 0 };
        assert!(matches!(slots[0], Slot::Strike(Strike { bass: Some(note), .. }) if note == root));
    }

    #[test]
    fn a_miscount_and_every_wrong_word_are_told_together() {
        let found = read("R . Q . 5 . r", Role::Bass, Meter::FourFour, &Condition::ALWAYS);
        let at: Vec<String> = found.unwrap_err().into_iter().map(|(at, _)| at).collect();
        assert_eq!(at, ["R . Q . 5 . r", "Q", "r"]);
    }

    #[test]
    fn a_line_inside_a_beat_is_a_miscount() {
        let found = read("R . . | . 5 . . .", Role::Bass, Meter::FourFour, &Condition::ALWAYS);
        let (at, message) = &found.unwrap_err()[0];
        assert_eq!((at.as_str(), message.contains("after 3 slots")), ("|", true), "{message}");
    }

    #[test]
    fn a_walk_needs_a_change() {
        let change = Condition::new([(false, Term::ChangeNext), (false, Term::PhraseEnd)]);
        assert!(read("R . > >", Role::Bass, Meter::FourFour, &change).is_ok());
        for when in [Condition::ALWAYS, Condition::new([(true, Term::ChangeNext)])] {
            let found = read("R . > >", Role::Bass, Meter::FourFour, &when).unwrap_err();
            assert_eq!(found.len(), 1);
            assert_eq!(found[0].0, ">");
        }
    }

    #[test]
    fn at_home_it_walks_round_and_runs() {
        let home = Condition::new([(false, Term::LastBar), (false, Term::HomeChord)]);
        assert!(read("R . > >", Role::Bass, Meter::FourFour, &home).is_ok());
        assert!(read("R . G G G G G G", Role::Guitar, Meter::FourFour, &home).is_ok());
        let end = Condition::new([(false, Term::PhraseEnd)]);
        let found = read("R . G G", Role::Guitar, Meter::FourFour, &end).unwrap_err();
        assert_eq!((found.len(), found[0].0.as_str()), (1, "G"));
    }

    #[test]
    fn a_flood_of_slots_is_one_problem() {
        let flood = "Q ".repeat(10_000);
        let found = read(&flood, Role::Bass, Meter::FourFour, &Condition::ALWAYS).unwrap_err();
        assert_eq!(found.len(), 1);
        assert!(found[0].1.contains("at most 32"), "{}", found[0].1);
    }
}
