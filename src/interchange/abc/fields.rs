//! Information fields (ABC 2.1, 3).

use super::key::AbcKey;
use crate::interchange::tune::{TempoMark, TimeSignature};
use crate::interchange::units::{WHOLE, times};

/// What the fields in force say.
#[derive(Clone, Debug)]
pub(super) struct InForce {
    pub key: AbcKey,
    pub time: TimeSignature,
    /// The unit note length; `None` until it is given or follows from the meter.
    pub unit: Option<i64>,
}

impl InForce {
    pub(super) const NOTHING: Self = Self {
        key: AbcKey::NONE,
        time: TimeSignature { beats: 4, unit: 4, free: true },
        unit: None,
    };

    /// The unit note length: a sixteenth where a bar is shorter than three quarters of a whole note, else an eighth
    /// (3.1.7).
    pub(super) fn unit(&self) -> i64 {
        self.unit.unwrap_or_else(|| {
            let short = !self.time.free && self.time.length() * 4 < WHOLE * 3;
            if short { WHOLE / 16 } else { WHOLE / 8 }
        })
    }
}

/// The largest numbers of a time signature.
const MOST_BEATS: u32 = 64;

/// Reads a meter: `6/8`, `C`, `C|`, `none`, `(2+3)/8` (3.1.6).
pub(super) fn meter(text: &str) -> Option<TimeSignature> {
    let text = text.split('%').next().unwrap_or(text).trim();
    match text {
        "C" | "c" => return Some(TimeSignature::COMMON),
        "C|" | "c|" => return Some(TimeSignature::new(2, 2)),
        "none" | "None" | "" => return Some(InForce::NOTHING.time),
        _ => {}
    }
    let text = text.split_whitespace().collect::<String>();
    let (beats, unit) = text.split_once('/')?;
    let beats = beats.trim_matches(['(', ')']);
    let mut sum: u32 = 0;
    for part in beats.split('+') {
        sum = sum.checked_add(part.parse().ok()?)?;
    }
    let unit: u32 =
        unit.chars().take_while(char::is_ascii_digit).collect::<String>().parse().ok()?;
    let sound = (1..=MOST_BEATS).contains(&sum) && unit.is_power_of_two() && unit <= MOST_BEATS;
    sound.then(|| TimeSignature::new(sum, unit))
}

/// Reads a fraction of a whole note: `1/8`, in units.
pub(super) fn length(text: &str) -> Option<i64> {
    let text = text.split('%').next().unwrap_or(text).trim();
    let (up, down) = text.split_once('/').unwrap_or((text, "1"));
    let (up, down): (u32, u32) = (up.trim().parse().ok()?, down.trim().parse().ok()?);
    let sound = (1..=MOST_BEATS).contains(&up) && (1..=512).contains(&down);
    sound.then(|| times(WHOLE, i64::from(up), i64::from(down)))
}

/// Reads a tempo: `1/4=120`, `"Lively" 3/8=112`, and the older `120` and `C=120` (3.1.8, 10.1). `unit` is the unit
/// note length.
pub(super) fn tempo(text: &str, unit: i64) -> Option<TempoMark> {
    let text = text.split('%').next().unwrap_or(text);
    // Without the words between quotes.
    let bare: String = text.split('"').step_by(2).collect();
    let (beat, number) = match bare.split_once('=') {
        Some((beat, number)) => {
            let beat = beat.trim();
            let old = beat.strip_prefix(['C', 'c', 'L', 'l']);
            let beat = match old {
                Some("") => unit,
                Some(times_unit) => unit * i64::from(times_unit.trim().parse::<u8>().ok()?),
                // `1/4 3/8 1/4=40` counts all of them together.
                None => beat.split_whitespace().map(length).sum::<Option<i64>>()?,
            };
            (beat, number)
        }
        None => (unit, bare.as_str()),
    };
    let number: String =
        number.trim().chars().take_while(|c| c.is_ascii_digit() || *c == '.').collect();
    let per_minute: f64 = number.parse().ok()?;
    (beat > 0 && per_minute.is_finite() && per_minute > 0.0)
        .then_some(TempoMark { beat, per_minute })
}

/// The order of parts: `AABB`, `A2B2(AB)3`, `A.B.` (3.1.9). `None` if it can't be read or would never end.
pub(super) fn order(text: &str) -> Option<Vec<String>> {
    const MOST: usize = 1000;
    let text = text.split('%').next().unwrap_or(text);
    let mut stack: Vec<Vec<String>> = vec![Vec::new()];
    let mut chars = text.chars().filter(|c| !c.is_whitespace() && *c != '.').peekable();
    while let Some(next) = chars.next() {
        let group = match next {
            '(' if stack.len() < 8 => {
                stack.push(Vec::new());
                continue;
            }
            ')' if stack.len() > 1 => stack.pop()?,
            part if part.is_alphabetic() => vec![part.to_string()],
            _ => return None,
        };
        let mut digits = String::new();
        while let Some(digit) = chars.next_if(char::is_ascii_digit) {
            digits.push(digit);
        }
        let count: usize = if digits.is_empty() { 1 } else { digits.parse().ok()? };
        let into = stack.last_mut()?;
        if count.checked_mul(group.len())?.checked_add(into.len())? > MOST {
            return None;
        }
        for _ in 0..count {
            into.extend(group.iter().cloned());
        }
    }
    match stack.as_mut_slice() {
        [all] => Some(std::mem::take(all)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fields_are_read_as_the_standard_has_them() {
        assert_eq!(meter("6/8"), Some(TimeSignature::new(6, 8)));
        assert_eq!(meter("(2+3+2)/8"), Some(TimeSignature::new(7, 8)));
        assert_eq!(meter("C|"), Some(TimeSignature::new(2, 2)));
        assert!(meter("none").unwrap().free);
        assert_eq!(meter("4/0"), None);
        assert_eq!(length("1/8"), Some(WHOLE / 8));
        let unit = WHOLE / 8;
        let told = |text| tempo(text, unit).map(|mark| (mark.beat * 8 / WHOLE, mark.per_minute));
        assert_eq!(told("1/4=120"), Some((2, 120.0)));
        assert_eq!(told("\"Lively\" 3/8=112"), Some((3, 112.0)));
        assert_eq!(told("1/4 3/8 1/4=40"), Some((7, 40.0)));
        assert_eq!(told("C2=100"), Some((2, 100.0)));
        assert_eq!(told("180"), Some((1, 180.0)));
        assert_eq!(told("\"Slow\""), None);
        assert_eq!(order("A2(BC)2").unwrap().concat(), "AABCBC");
        assert_eq!(order("((((A99)99)99)99)99"), None);
        assert_eq!(order("A(B"), None);
    }

    #[test]
    fn the_unit_follows_from_the_meter() {
        let unit = |time| InForce { time, ..InForce::NOTHING }.unit() * 16 / WHOLE;
        assert_eq!(unit(TimeSignature::new(2, 4)), 1);
        assert_eq!(unit(TimeSignature::new(3, 4)), 2);
        assert_eq!(unit(TimeSignature::new(6, 8)), 2);
        assert_eq!(InForce::NOTHING.unit() * 8, WHOLE);
    }
}
