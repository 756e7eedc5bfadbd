use std::ops::Range;

use crate::text::{Problems, list};
use crate::time::{BarMeter, Ticks};

/// What shares a bar, for the message when it does not come out even.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Subject {
    /// Chords alone.
    Chords,
    /// Chords and `/`.
    ChordsAndSlashes,
    /// The chords or marks of the bar before, repeated by a `%`.
    Again,
    /// The marks of a `voice` or `stops` row.
    Marks,
}

/// Reports `count` things that don't share a bar in whole eighth notes. An empty bar passes here.
pub(super) fn check_split(
    subject: Subject,
    count: usize,
    meter: BarMeter,
    span: Range<usize>,
    problems: &mut Problems,
) {
    if count == 0 || share_length(meter, count).is_some() {
        return;
    }
    let works: Vec<String> =
        (1..=eighths(meter)).filter(|n| eighths(meter) % n == 0).map(|n| n.to_string()).collect();
    let works = list(&works, "or");
    let (what, help) = match subject {
        Subject::Chords => (
            format!("{count} chords don't share"),
            format!("write {works}, holding a chord with `/`"),
        ),
        Subject::ChordsAndSlashes => (
            format!("{count} chords and slashes don't share"),
            format!("write {works} in all, holding a chord with `/`"),
        ),
        Subject::Again => (
            format!("the bar before is in {count} parts, which don't share"),
            format!("write this bar out in {works}"),
        ),
        Subject::Marks => (
            format!("{count} marks don't share"),
            format!("write {works}, one for each equal part of the bar"),
        ),
    };
    problems.add(span, format!("{what} a bar of {meter} in whole eighth notes"), help);
}

/// The length of each of `count` equal shares of a bar; `None` if it is no whole number of eighths.
pub(super) fn share_length(meter: BarMeter, count: usize) -> Option<Ticks> {
    let length = meter.bar().split(i64::try_from(count).ok()?)?;
    (length > Ticks::ZERO && length.is_multiple_of(Ticks::EIGHTH)).then_some(length)
}

fn eighths(meter: BarMeter) -> i64 {
    meter.bar().get() / Ticks::EIGHTH.get()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::time::Meter;

    #[test]
    fn shares_are_whole_eighths() {
        let works = |meter: Meter| {
            (1..20).filter(|&n| share_length(meter.into(), n).is_some()).collect::<Vec<_>>()
        };
        assert_eq!(works(Meter::FourFour), [1, 2, 4, 8]);
        assert_eq!(works(Meter::TwoTwo), [1, 2, 4, 8]);
        assert_eq!(works(Meter::TwoFour), [1, 2, 4]);
        assert_eq!(works(Meter::ThreeFour), [1, 2, 3, 6]);
        assert_eq!(works(Meter::SixEight), [1, 2, 3, 6]);
        assert_eq!(share_length(Meter::FourFour.into(), 0), None);
    }

    #[test]
    fn the_message_says_what_works() {
        let mut problems = Problems::new();
        check_split(Subject::Chords, 3, Meter::FourFour.into(), 0..1, &mut problems);
        check_split(Subject::Chords, 4, Meter::FourFour.into(), 0..1, &mut problems);
        let said = problems.in_order();
        assert_eq!(said.len(), 1);
        assert_eq!(said[0].message, "3 chords don't share a bar of 4/4 in whole eighth notes");
        assert_eq!(said[0].help, "write 1, 2, 4 or 8, holding a chord with `/`");
    }
}
