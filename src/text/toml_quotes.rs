//! Where a text in quotes ends in a file of TOML that may be broken.

use super::toml_line::{assignment, is_heading, line_at};

/// Where a text on one line ends; where its line ends if it is not closed.
pub(super) fn short(text: &str, open: usize, quote: u8) -> Result<usize, usize> {
    let mut escaped = false;
    for (at, byte) in text.bytes().enumerate().skip(open + 1) {
        if byte == b'\n' {
            return Err(at);
        } else if escaped {
            escaped = false;
        } else if byte == b'\\' && quote == b'"' {
            escaped = true;
        } else if byte == quote {
            return Ok(at + 1);
        }
    }
    Err(text.len())
}

/// Where a text of several lines ends.
pub(super) enum Long {
    /// Closed; the first byte after it.
    Closed(usize),
    /// Not closed before the line that begins here.
    Open(usize),
    /// Not closed, and no line says where it should have been.
    ToTheEnd,
}

/// The mark that a text of several lines begins with.
pub(super) fn long_mark(value: &str) -> Option<&'static str> {
    ["\"\"\"", "'''"].into_iter().find(|mark| value.starts_with(mark))
}

/// Reads from the opening `mark` on.
pub(super) fn long(text: &str, open: usize, mark: &str) -> Long {
    let start = open + mark.len();
    let close = text[start..].match_indices(mark).map(|(at, _)| start + at).find(|&at| {
        let before = text[start..at].bytes().rev().take_while(|&b| b == b'\\').count();
        mark.starts_with('\'') || before % 2 == 0
    });
    if let Some(close) = close {
        // `chords = """` opens a text, and so closes none. A text within one line is looked at no
        // further back than where it begins: a line may be as long as the file.
        let line = text[open..close].rfind('\n').map(|at| open + at + 1);
        let opens = |line: usize| {
            assignment(&text[line..close + mark.len()]).is_some_and(|at| line + at == close)
        };
        if !line.is_some_and(opens) {
            // Up to two quotes may stand right before the mark.
            let quote = mark.as_bytes().first();
            let more = text.as_bytes()[close + mark.len()..].iter().take(2);
            return Long::Closed(
                close + mark.len() + more.take_while(|b| Some(*b) == quote).count(),
            );
        }
    }
    let mut at = open + line_at(text, open).len() + 1;
    let mut key = None;
    while at < close.unwrap_or(text.len()) {
        let line = line_at(text, at);
        if is_heading(line) {
            return Long::Open(key.unwrap_or(at));
        }
        if key.is_none() && assignment(line).is_some() {
            key = Some(at);
        }
        at += line.len() + 1;
    }
    key.map_or(Long::ToTheEnd, Long::Open)
}
