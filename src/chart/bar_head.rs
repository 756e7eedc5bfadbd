//! The meter at the head of a bar, as it is written in a chart.

use crate::text::list;
use crate::time::{BarMeter, Meter, Ticks};

/// The word that makes a bar of a length that would be a pickup where it stands first: `(bar 1/4)`.
const WORD: &str = "bar";

/// What follows the word in a head that has it.
pub(super) fn after_word(inside: &str) -> Option<&str> {
    let after = inside.strip_prefix(WORD)?;
    after.starts_with(char::is_whitespace).then(|| after.trim())
}

/// The meter that stands between the brackets.
pub(super) fn meter(inside: &str) -> Option<BarMeter> {
    BarMeter::parse(after_word(inside).unwrap_or(inside))
}

/// The head as it is written. `leads` is true where nothing but the word says that it is no pickup.
pub(super) fn written(meter: BarMeter, leads: bool) -> String {
    if leads { format!("({WORD} {meter})") } else { format!("({meter})") }
}

/// What to write for a meter that no bar has: one of the same length, two bars that have it together, or any.
pub(super) fn instead(inside: &str, song: Option<Meter>) -> String {
    let meter = after_word(inside).unwrap_or(inside);
    let read = |number: &str| number.trim().parse::<u8>().ok().map(i64::from);
    let numbers = meter.split_once('/').and_then(|(up, down)| Some((read(up)?, read(down)?)));
    // Metered music has halves of halves below the line.
    let numbers = numbers.filter(|(up, down)| *up > 0 && [1, 2, 4, 8, 16].contains(down));
    let length = numbers.and_then(|(up, down)| (Ticks::QUARTER * 4 * up).split(down));
    let by_threes = numbers.is_some_and(|(up, down)| down > 4 && up % 3 == 0);
    let of_length = |length: Ticks| {
        let same = |meter: &BarMeter| {
            meter.bar() == length && (meter.click() == Meter::SixEight.beat()) == by_threes
        };
        BarMeter::all().find(same)
    };
    let in_two = |length: Ticks| {
        let usual = if by_threes { Meter::SixEight } else { Meter::FourFour };
        let first = song.filter(|song| (*song == Meter::SixEight) == by_threes).unwrap_or(usual);
        let rest = length - first.bar();
        let second =
            of_length(rest).or_else(|| BarMeter::all().find(|meter| meter.bar() == rest))?;
        Some((first, second))
    };
    if let Some(one) = length.and_then(of_length) {
        return format!("write it as `({one})`");
    }
    if let Some((first, second)) = length.and_then(in_two) {
        return format!("write it as two bars, as in `| ({first}) G | ({second}) G |`");
    }
    let known: Vec<String> = BarMeter::all().map(|meter| format!("({meter})")).collect();
    format!("write {} at the head of the bar", list(&known, "or"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_meter_is_read_back() {
        for known in BarMeter::all() {
            for leads in [false, true] {
                let head = written(known, leads);
                assert_eq!(meter(&head[1..head.len() - 1]), Some(known));
            }
        }
        assert_eq!(meter("bar"), None);
        assert_eq!(meter("bar5/4"), None);
    }

    #[test]
    fn what_no_bar_has_is_written_otherwise() {
        let four = |inside| instead(inside, Some(Meter::FourFour));
        assert_eq!(four("8/8"), "write it as `(4/4)`");
        assert_eq!(four("4/8"), "write it as `(2/4)`");
        assert_eq!(four("3/2"), "write it as `(6/4)`");
        assert_eq!(four("bar 2/8"), "write it as `(1/4)`");
        let two = |first: &str, second: &str| {
            format!("write it as two bars, as in `| ({first}) G | ({second}) G |`")
        };
        assert_eq!(four("7/4"), two("4/4", "3/4"));
        assert_eq!(four("11/8"), two("4/4", "3/8"));
        assert_eq!(instead("11/8", Some(Meter::SixEight)), two("4/4", "3/8"));
        assert_eq!(instead("12/8", Some(Meter::SixEight)), two("6/8", "6/8"));
        assert_eq!(instead("7/4", Some(Meter::ThreeFour)), two("3/4", "4/4"));
        for none in ["5/7", "99/4", "x", "0/4", "3/16", "255/1"] {
            assert!(four(none).starts_with("write (4/4), (2/2)"), "{none}: {}", four(none));
            assert!(four(none).ends_with("or (6/4) at the head of the bar"), "{none}");
        }
    }
}
