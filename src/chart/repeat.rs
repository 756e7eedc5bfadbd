use std::ops::Range;

use super::bar_row::BarRow;
use super::sign::{Mark, Sign};
use crate::text::{Problems, Text};

/// The bars of a section in the order played, as stretches of the bars written.
///
/// `|: … :|` is played twice; without `|:` it goes back to the end of the repeat before it, or to
/// the section's start. `|1 … :|2 …` gives each time its own ending; the last one goes on. A
/// double bar ends the last ending.
pub(super) fn plays(row: &BarRow, text: &Text, problems: &mut Problems) -> Vec<Range<usize>> {
    let mut repeats =
        Repeats { row, text, problems, plays: Vec::new(), from: 0, opened: None, endings: None };
    for sign in &row.signs {
        repeats.sign(sign);
    }
    repeats.end();
    repeats.plays
}

struct Repeats<'a> {
    row: &'a BarRow,
    text: &'a Text,
    problems: &'a mut Problems,
    plays: Vec<Range<usize>>,
    /// The first bar not yet played, and where a `:|` goes back to.
    from: usize,
    /// The `|:` that is not yet closed.
    opened: Option<Range<usize>>,
    endings: Option<Endings>,
}

/// A repeat whose endings are being read.
struct Endings {
    /// What is played before each ending.
    body: Range<usize>,
    /// The endings that go back.
    done: Vec<Range<usize>>,
    /// The number of the one being read, and its first bar.
    number: u8,
    from: usize,
    /// The sign that began it.
    sign: Range<usize>,
    /// The `:|` that ends it, if it has come.
    back: Option<(usize, Range<usize>)>,
}

/// What to write for an ending, and for a number chart whose `1` sticks to its bar line.
const ENDINGS_HELP: &str = "endings follow the bars that every time shares, as in \
                            `|: G | C |1 D :|2 G ||`; for the chord on 1 put a space after the \
                            bar line: `| 1`";

impl Repeats<'_> {
    fn sign(&mut self, sign: &Sign) {
        match sign.mark {
            Mark::Ending(number) => self.ending(number, sign),
            Mark::Back if self.endings.as_ref().is_some_and(|endings| endings.back.is_none()) => {
                if let Some(endings) = &mut self.endings {
                    endings.back = Some((sign.at, sign.span.clone()));
                }
            }
            Mark::Back => {
                self.finish(sign.at);
                self.back(sign);
            }
            Mark::Double => {
                if self.endings.as_ref().is_some_and(|e| e.number > 1 || e.back.is_some()) {
                    self.finish(sign.at);
                }
            }
            Mark::Open => {
                self.finish(sign.at);
                if let Some(before) = self.opened.replace(sign.span.clone()) {
                    self.problem(
                        &before,
                        "this `|:` is not closed before the next one opens",
                        "write `:|` where its repeat goes back; a repeat inside a repeat has to be \
                         written out",
                    );
                } else {
                    self.once(sign.at);
                }
                self.from = sign.at;
            }
        }
    }

    /// A `:|` outside endings.
    fn back(&mut self, sign: &Sign) {
        let body = self.from..sign.at;
        if body.is_empty() {
            self.problem(
                &sign.span,
                "there are no bars here to go back over",
                "put the bars to be repeated between `|:` and `:|`",
            );
        } else {
            self.plays.extend([body.clone(), body]);
        }
        self.from = sign.at;
        self.opened = None;
    }

    fn ending(&mut self, number: u8, sign: &Sign) {
        let empty = self.row.cells.get(sign.at).is_none_or(|cell| cell.empty);
        if empty {
            self.problem(&sign.span, &format!("ending {number} begins with no bar"), ENDINGS_HELP);
        }
        // An ending that went back some bars ago is over; this one belongs to it only if it follows.
        let stale = |e: &Endings| e.back.as_ref().is_some_and(|(at, _)| *at != sign.at);
        if self.endings.as_ref().is_some_and(stale) {
            self.finish(sign.at);
        }
        let Some(endings) = &mut self.endings else {
            let body = self.from..sign.at;
            if empty {
                // Said already.
            } else if number != 1 {
                self.problem(
                    &sign.span,
                    &format!("ending {number} stands here without ending {}", number - 1),
                    ENDINGS_HELP,
                );
            } else if body.is_empty() {
                self.problem(&sign.span, "ending 1 has no bars before it", ENDINGS_HELP);
            } else {
                self.opened = None;
                self.endings = Some(Endings {
                    body,
                    done: Vec::new(),
                    number,
                    from: sign.at,
                    sign: sign.span.clone(),
                    back: None,
                });
            }
            return;
        };
        let (before, from) = (endings.number, endings.from);
        let went_back = endings.back.take().is_some();
        endings.done.push(from..sign.at);
        endings.number = number;
        endings.from = sign.at;
        endings.sign = sign.span.clone();
        let next = before + 1;
        if number != next {
            self.problem(
                &sign.span,
                &format!("ending {number} follows ending {before}"),
                &format!("number the endings in their order: `:|{next}` comes here"),
            );
        } else if !went_back {
            self.problem(
                &sign.span,
                &format!("ending {before} does not go back before ending {number} begins"),
                &format!("write `:|{number}` here"),
            );
        } else if from == sign.at {
            self.problem(&sign.span, &format!("ending {before} has no bars"), ENDINGS_HELP);
        }
    }

    /// Ends the endings being read, if any, at bar `at`: the last one goes on.
    fn finish(&mut self, at: usize) {
        let Some(endings) = self.endings.take() else { return };
        let number = endings.number;
        let next = number + 1;
        let until = endings.back.as_ref().map_or(at, |(back, _)| *back);
        if let Some((_, back)) = &endings.back {
            let help = match number {
                1 => "write `:|2` here and the second ending after it".to_owned(),
                9 => "close the last ending with `||`".to_owned(),
                _ => format!("close the last ending with `||`, or go on with `:|{next}`"),
            };
            self.problem(
                back,
                &format!("ending {number} goes back here, but no ending {next} follows"),
                &help,
            );
        } else if number == 1 {
            self.problem(
                &endings.sign,
                "ending 1 has no ending 2",
                "write `:|2` where the second ending begins, as in `|: G | C |1 D :|2 G ||`",
            );
        } else if endings.from == until {
            self.problem(&endings.sign, &format!("ending {number} has no bars"), ENDINGS_HELP);
        } else {
            for ending in endings.done.into_iter().chain(Some(endings.from..until)) {
                self.plays.extend([endings.body.clone(), ending]);
            }
        }
        self.from = until;
    }

    /// Plays what stands before bar `at` once.
    fn once(&mut self, at: usize) {
        if self.from < at {
            self.plays.push(self.from..at);
        }
        self.from = at;
    }

    fn end(&mut self) {
        let bars = self.row.cells.len();
        self.finish(bars);
        if let Some(opened) = self.opened.take() {
            self.problem(
                &opened,
                "this `|:` is never closed",
                "write `:|` where its repeat goes back",
            );
        }
        self.once(bars);
    }

    fn problem(&mut self, at: &Range<usize>, message: &str, help: &str) {
        self.problems.add(self.text.span(at.clone()), message, help);
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::text;
    use super::*;

    fn read(row: &str) -> (String, Problems) {
        let text = text(row);
        let mut problems = Problems::new();
        let row = BarRow::read(&text, 1000, &mut problems);
        let plays = plays(&row, &text, &mut problems);
        let bar = |at: usize| &text.value[row.cells[at].span.clone()];
        (plays.into_iter().flatten().map(bar).collect::<Vec<_>>().join(" "), problems)
    }

    fn played(row: &str) -> String {
        let (played, problems) = read(row);
        assert!(problems.is_empty(), "{row}: {problems:?}");
        played
    }

    fn message(row: &str) -> String {
        let (_, problems) = read(row);
        problems.in_order().iter().map(|p| p.message.as_str()).collect::<Vec<_>>().join("; ")
    }

    // Common practice, no source: how players read repeats.
    #[test]
    fn repeats_are_read_as_players_read_them() {
        assert_eq!(played("| A | B |"), "A B");
        assert_eq!(played("|: A | B :|"), "A B A B");
        assert_eq!(played("A |: B :| C"), "A B B C");
        assert_eq!(played("A | B :| C | D :|"), "A B A B C D C D");
        assert_eq!(played("|: A :|: B :| |: C :|"), "A A B B C C");
        assert_eq!(played("|: A :|\n|: B :|\nC"), "A A B B C");
        assert_eq!(played("A | B |: C :|]"), "A B C C");
    }

    #[test]
    fn every_time_has_its_ending_and_the_last_goes_on() {
        assert_eq!(played("|: A |1 B :|2 C | D |"), "A B A C D");
        assert_eq!(played("A |1 B :|2 C |"), "A B A C");
        assert_eq!(played("A |1. B :|2. C |]"), "A B A C");
        assert_eq!(played("|: A |1 B :|2 C :|3 D | E ||"), "A B A C A D E");
        assert_eq!(played("|: A |1 B :|\n|2 C ||"), "A B A C");
        assert_eq!(played("|: A |1 B :|2 C || D :| E"), "A B A C D D E");
        assert_eq!(played("|: A |1 B :|2 C |: D :|"), "A B A C D D");
        assert_eq!(played("|: A |1 B :|2 C || D |1 E :|2 F ||"), "A B A C D E D F");
    }

    #[test]
    fn nonsense_is_named() {
        assert_eq!(message("|: A | B"), "this `|:` is never closed");
        assert_eq!(message("|: A |: B :|"), "this `|:` is not closed before the next one opens");
        assert_eq!(message("A :| B |2 C"), "ending 2 stands here without ending 1");
        assert_eq!(message("A |1 B | C"), "ending 1 has no ending 2");
        assert_eq!(message("A |1 B :| C"), "ending 1 goes back here, but no ending 2 follows");
        assert_eq!(message("A |1 B :|2 C :|"), "ending 2 goes back here, but no ending 3 follows");
        assert_eq!(message("A |1 B |2 C"), "ending 1 does not go back before ending 2 begins");
        assert_eq!(message("A |1 B :|3 C"), "ending 3 follows ending 1");
        assert_eq!(message(":| A"), "there are no bars here to go back over");
        assert_eq!(message("|1 | A"), "ending 1 begins with no bar");
        assert_eq!(message("A |: :| B"), "there are no bars here to go back over");
    }

    #[test]
    fn no_two_stretches_are_needed_for_a_long_row() {
        let (played, problems) = read(&"A | ".repeat(500));
        assert!(problems.is_empty());
        assert_eq!(played.split(' ').count(), 500);
    }
}
