//! The characters of a line of music, and the signs between its bars.

/// A place in a line of music.
#[derive(Clone, Copy, Debug)]
pub(super) struct Cursor<'a> {
    text: &'a str,
    /// The byte in the text.
    pub at: usize,
}

impl<'a> Cursor<'a> {
    pub(super) const fn new(text: &'a str) -> Self {
        Self { text, at: 0 }
    }

    /// What is left.
    pub(super) fn rest(&self) -> &'a str {
        self.text.get(self.at..).unwrap_or_default()
    }

    pub(super) fn peek(&self) -> Option<char> {
        self.rest().chars().next()
    }

    pub(super) fn next(&mut self) -> Option<char> {
        let next = self.peek()?;
        self.at += next.len_utf8();
        Some(next)
    }

    /// Takes the character if it is the next.
    pub(super) fn eat(&mut self, what: char) -> bool {
        let there = self.peek() == Some(what);
        if there {
            self.at += what.len_utf8();
        }
        there
    }

    /// Takes all up to a character, and that too; what stood before it. All that is left if there is none.
    pub(super) fn until(&mut self, end: char) -> &'a str {
        let rest = self.rest();
        match rest.find(end) {
            Some(length) => {
                self.at += length + end.len_utf8();
                &rest[..length]
            }
            None => {
                self.at = self.text.len();
                rest
            }
        }
    }

    /// Takes a whole number.
    pub(super) fn number(&mut self) -> Option<i64> {
        let rest = self.rest();
        let digits = rest.bytes().take_while(u8::is_ascii_digit).count();
        let number = rest.get(..digits)?.parse().ok();
        self.at += digits;
        number.or((digits > 0).then_some(i64::MAX))
    }
}

/// What stands between two bars (ABC 2.1, 4.8 and 4.9).
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct BarSign {
    /// How often what went before is played again.
    pub closes: u32,
    /// What follows is repeated.
    pub opens: bool,
    /// The bar line is double, or thick.
    pub double: bool,
    /// The endings that begin.
    pub ending: Vec<u32>,
    /// It is no bar line but the mark of an ending alone.
    pub mark_alone: bool,
}

/// The most times that a stretch is played again.
const MOST_TIMES: u32 = 8;

/// Takes a bar line with all that belongs to it, if one stands there.
pub(super) fn bar_sign(cursor: &mut Cursor<'_>) -> Option<BarSign> {
    let start = cursor.at;
    let mut sign = BarSign::default();
    let mut run = String::new();
    loop {
        let rest = cursor.rest();
        let mut chars = rest.chars();
        let next = chars.next();
        let after = chars.next();
        match next {
            Some(c @ ('|' | ':')) => run.push(c),
            Some('[') if after == Some('|') => run.push('|'),
            Some(']') if run.ends_with('|') => run.push('|'),
            // A dotted bar line.
            Some('.') if after == Some('|') && run.is_empty() => {}
            _ => break,
        }
        cursor.next();
    }
    let lines = run.matches('|').count();
    if lines == 0 {
        // `::` is the end of a repeat and the head of another.
        if run.len() >= 2 {
            sign.closes = 1;
            sign.opens = true;
        } else if run == ":" && cursor.peek().is_none() {
            // A bar line whose stroke was lost.
            sign.closes = 1;
        } else if !run.is_empty() {
            cursor.at = start;
            return None;
        }
    } else {
        let before = run.find('|').unwrap_or(0);
        let behind = run.len() - 1 - run.rfind('|').unwrap_or(0);
        sign.closes = u32::try_from(before).unwrap_or(1).min(MOST_TIMES);
        sign.opens = behind > 0;
        sign.double = lines > 1;
    }
    sign.mark_alone = run.is_empty();
    if !sign.opens || run.is_empty() {
        sign.ending = endings(cursor, run.is_empty());
    }
    if sign.mark_alone && sign.ending.is_empty() {
        cursor.at = start;
        return None;
    }
    Some(sign)
}

/// Takes the numbers of endings: `1`, `1,3`, `1-3`, with a bracket before them where no bar line stands.
fn endings(cursor: &mut Cursor<'_>, bracket: bool) -> Vec<u32> {
    let start = cursor.at;
    let mut inner = *cursor;
    while !bracket && inner.eat(' ') {}
    let bracketed = inner.eat('[');
    if !bracketed && (bracket || inner.at != start) {
        return Vec::new();
    }
    let quoted = bracketed && inner.eat('"');
    let mut numbers = Vec::new();
    let mut range = false;
    while let Some(number) = inner.number() {
        let number = u32::try_from(number).unwrap_or(u32::MAX).min(MOST_TIMES);
        let first = match (range, numbers.last()) {
            (true, Some(last)) => last + 1,
            _ => number,
        };
        numbers.extend(first..=number);
        range = false;
        let more = inner.rest();
        let mut chars = more.chars();
        match (chars.next(), chars.next()) {
            (Some(','), Some(digit)) if digit.is_ascii_digit() => _ = inner.next(),
            (Some('-'), Some(digit)) if digit.is_ascii_digit() => {
                inner.next();
                range = true;
            }
            _ => break,
        }
    }
    if quoted {
        inner.until('"');
    }
    if numbers.is_empty() {
        return Vec::new();
    }
    cursor.at = inner.at;
    numbers
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bar_lines_are_told_apart() {
        let read = |text: &str| {
            let mut cursor = Cursor::new(text);
            let sign = bar_sign(&mut cursor)?;
            let rest = cursor.rest().to_owned();
            Some((sign.closes, sign.opens, sign.double, sign.ending, rest))
        };
        let it = |closes, opens, double, ending: &[u32], rest: &str| {
            Some((closes, opens, double, ending.to_vec(), rest.to_owned()))
        };
        assert_eq!(read("| A"), it(0, false, false, &[], " A"));
        assert_eq!(read("||A"), it(0, false, true, &[], "A"));
        assert_eq!(read("|]"), it(0, false, true, &[], ""));
        assert_eq!(read("[|A"), it(0, false, true, &[], "A"));
        assert_eq!(read("|: A"), it(0, true, false, &[], " A"));
        assert_eq!(read(":| A"), it(1, false, false, &[], " A"));
        assert_eq!(read(":: A"), it(1, true, false, &[], " A"));
        assert_eq!(read(":||: A"), it(1, true, true, &[], " A"));
        assert_eq!(read("::| A"), it(2, false, false, &[], " A"));
        assert_eq!(read("|1 A"), it(0, false, false, &[1], " A"));
        assert_eq!(read(":|2 A"), it(1, false, false, &[2], " A"));
        assert_eq!(read("[1 A"), it(0, false, false, &[1], " A"));
        assert_eq!(read("| [2 A"), it(0, false, false, &[2], " A"));
        assert_eq!(read("|1,3-5 A"), it(0, false, false, &[1, 3, 4, 5], " A"));
        assert_eq!(read("[GB]"), None);
        assert_eq!(read("| [GB]"), it(0, false, false, &[], " [GB]"));
        assert_eq!(read("[K:G]"), None);
        assert_eq!(read("A"), None);
    }
}
