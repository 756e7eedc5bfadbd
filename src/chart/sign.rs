use std::ops::Range;

/// A sign between bars, and the bar that it stands before.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Sign {
    /// The bar after it, counted from 0; one past the last bar at the end.
    pub at: usize,
    /// What it says.
    pub mark: Mark,
    /// Where it stands.
    pub span: Range<usize>,
}

/// What a bar sign says beside "a new bar".
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Mark {
    /// `:|`: go back.
    Back,
    /// `||` or `|]`: a part ends.
    Double,
    /// `|:`: come back to here.
    Open,
    /// `|1`: the ending of that number begins.
    Ending(u8),
}

/// Where the next bar sign of `range` stands, with an ending's number if it has one.
pub(super) fn find(text: &str, range: Range<usize>) -> Option<Range<usize>> {
    let bytes = text.as_bytes().get(..range.end)?;
    let bar = range.start + bytes.get(range.start..)?.iter().position(|&b| b == b'|')?;
    // Colons right before the bar line belong to it: `G:|`.
    let colons = bytes[range.start..bar].iter().rev().take_while(|&&b| b == b':').count();
    let mut end = bar;
    while let Some(b'|' | b':') = bytes.get(end) {
        end += 1;
    }
    if bytes[end - 1] == b'|' {
        if bytes.get(end) == Some(&b']') {
            end += 1;
        } else {
            end += ending_number(&bytes[end..]).map_or(0, |(_, length)| length);
        }
    }
    Some(bar - colons..end)
}

/// What the sign at `span` says; `None` if it is no sign that anyone writes.
pub(super) fn marks(text: &str, span: &Range<usize>) -> Option<Vec<Mark>> {
    let sign = &text[span.clone()];
    let (sign, number) = match sign.find(|c: char| c.is_ascii_digit()) {
        Some(at) => (&sign[..at], sign[at..].bytes().next().map(|digit| digit - b'0')),
        None => (sign, None),
    };
    let mut marks = match sign {
        "|" => vec![],
        "||" | "|]" => vec![Mark::Double],
        ":|" | ":||" | ":|]" => vec![Mark::Back],
        "|:" | "||:" => vec![Mark::Open],
        ":|:" | ":||:" => vec![Mark::Back, Mark::Open],
        _ => return None,
    };
    if let Some(number) = number {
        marks.retain(|mark| *mark != Mark::Double);
        marks.push(Mark::Ending(number));
    }
    Some(marks)
}

/// The number of an ending at the head of `after`, and the bytes that it takes: one digit (with a
/// point, as engravers set it) that no letter or digit follows, so that `|57` is the chord 57.
fn ending_number(after: &[u8]) -> Option<(u8, usize)> {
    let number = after.first()?.checked_sub(b'0').filter(|n| (1..=9).contains(n))?;
    let point = usize::from(after.get(1) == Some(&b'.'));
    let alone = match after.get(1 + point) {
        None => true,
        Some(next) => next.is_ascii_whitespace() || *next == b'|' || *next == b':',
    };
    alone.then_some((number, 1 + point))
}
