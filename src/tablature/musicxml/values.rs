//! Lengths as note values.

use crate::time::{BarMeter, Meter, Ticks};

/// A length that a single note or rest can be written with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Value {
    /// How long it is.
    pub length: Ticks,
    /// The note's type, as MusicXML names it; `None` for a length that has no value of its own.
    pub kind: Option<&'static str>,
    /// True if it is dotted.
    pub dotted: bool,
    /// True if three of it last as long as two.
    pub triplet: bool,
}

/// Ticks of a 32nd, the shortest step that a style can have (960 to the quarter, over 8).
const SHORTEST: i64 = 120;

/// The plain values from the longest on: ticks, MusicXML's name.
const PLAIN: [(i64, &str); 6] = [
    (3840, "whole"),
    (1920, "half"),
    (960, "quarter"),
    (480, "eighth"),
    (240, "16th"),
    (SHORTEST, "32nd"),
];

/// The values that fill a stretch of a bar from a place on, as a reader wants to see them: long ones begin on
/// beats, and in 6/8 none but a whole bar hides the second beat. Several are tied together.
pub(super) fn values(mut at: Ticks, length: Ticks, meter: BarMeter) -> Vec<Value> {
    let mut left = length.get();
    let mut values = Vec::new();
    while left > 0 {
        let value = first(at.get(), left, meter);
        left -= value.length.get();
        at += value.length;
        values.push(value);
    }
    values
}

fn first(at: i64, left: i64, meter: BarMeter) -> Value {
    let is_even = at % SHORTEST == 0 && left % SHORTEST == 0;
    if is_even {
        let fits = plain().find(|value| may_begin(at, *value, left, meter));
        return fits.unwrap_or(Value {
            length: Ticks::new(left.min(SHORTEST)),
            kind: None,
            dotted: false,
            triplet: false,
        });
    }
    // To the next beat in thirds, and on from there.
    let beat = Ticks::QUARTER.get();
    let here = left.min(beat - at.rem_euclid(beat));
    if here % SHORTEST == 0 && at % SHORTEST == 0 && here < left {
        return first(at, here, meter);
    }
    let third = PLAIN.iter().find(|(ticks, _)| ticks * 2 / 3 <= here);
    match third {
        Some(&(ticks, kind)) => Value {
            length: Ticks::new(ticks * 2 / 3),
            kind: Some(kind),
            dotted: false,
            triplet: true,
        },
        None => Value { length: Ticks::new(here), kind: None, dotted: false, triplet: false },
    }
}

/// Plain values and dotted ones, from the longest on.
fn plain() -> impl Iterator<Item = Value> {
    PLAIN.into_iter().flat_map(|(ticks, kind)| {
        let value = |length: i64, dotted| Value {
            length: Ticks::new(length),
            kind: Some(kind),
            dotted,
            triplet: false,
        };
        [value(ticks * 3 / 2, true), value(ticks, false)]
    })
}

fn may_begin(at: i64, value: Value, left: i64, meter: BarMeter) -> bool {
    let (quarter, eighth) = (Ticks::QUARTER.get(), Ticks::EIGHTH.get());
    let length = value.length.get();
    if length > left || (value.dotted && length % SHORTEST != 0) {
        return false;
    }
    let beat = meter.click().get();
    if beat == Meter::SixEight.beat().get() {
        let in_beat = at.rem_euclid(beat) + length <= beat;
        return (in_beat && at % eighth.min(length) == 0) || (at == 0 && length == 2 * beat);
    }
    // Off the beat nothing hides the middle of the bar.
    let half = 2 * quarter;
    if at % quarter != 0 && at.rem_euclid(half) + length > half && meter.bar().get() > half {
        return false;
    }
    let grain = match length {
        _ if length >= 2 * quarter => quarter,
        _ if length >= quarter => eighth,
        _ => length.min(eighth) / if value.dotted { 3 } else { 1 },
    };
    at % grain.max(1) == 0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(at: i64, length: i64, meter: BarMeter) -> String {
        let values = values(Ticks::new(at), Ticks::new(length), meter);
        let sum: i64 = values.iter().map(|value| value.length.get()).sum();
        assert_eq!(sum, length);
        let word = |value: &Value| {
            let dot = if value.dotted { "." } else { "" };
            let triplet = if value.triplet { "/3" } else { "" };
            format!("{}{dot}{triplet}", value.kind.unwrap_or("?"))
        };
        values.iter().map(word).collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn lengths_are_written_as_a_reader_wants_them() {
        use Meter::{FourFour, SixEight, ThreeFour, TwoFour};
        for (at, length, meter, value) in [
            (0, 3840, FourFour, "whole"),
            (0, 2880, ThreeFour, "half."),
            (960, 2880, FourFour, "half."),
            (480, 480, FourFour, "eighth"),
            (480, 960, FourFour, "quarter"),
            (480, 3360, FourFour, "quarter. half"),
            (1440, 2400, FourFour, "eighth half"),
            (0, 2880, SixEight, "half."),
            (480, 2400, SixEight, "quarter quarter."),
            (480, 960, SixEight, "quarter"),
            (960, 960, SixEight, "eighth eighth"),
            (240, 240, TwoFour, "16th"),
            (0, 720, TwoFour, "eighth."),
            (0, 320, FourFour, "eighth/3"),
            (320, 320, FourFour, "eighth/3"),
            (320, 640, FourFour, "quarter/3"),
            (640, 320 + 480, FourFour, "eighth/3 eighth"),
        ] {
            assert_eq!(words(at, length, meter.into()), value, "{at} {length} {meter}");
        }
    }

    #[test]
    fn whatever_is_asked_for_adds_up() {
        for meter in BarMeter::all() {
            for unit in [120, 160, 80] {
                let places = || (0..meter.bar().get()).step_by(unit);
                for at in places() {
                    for end in places().filter(|end| *end > at) {
                        let text = words(at, end - at, meter);
                        assert!(!text.contains('?'), "{meter} {at}..{end}: {text}");
                    }
                }
            }
        }
    }
}
