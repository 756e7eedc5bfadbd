use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::toml_error::Broken;
use super::unclosed::mend;
use super::{Problem, Problems, Source, list, nearest};

/// A value of a TOML file and the bytes it stands on.
#[derive(Clone, Debug)]
pub struct Node {
    /// Where the value stands, quotes and brackets included.
    pub span: Range<usize>,
    /// The value.
    pub item: Item,
}

/// What a value is.
#[derive(Clone, Debug)]
pub enum Item {
    /// A string of any of TOML's four kinds.
    Text(Text),
    /// An integer.
    Integer(i64),
    /// A number with a point or an exponent.
    Float(f64),
    /// `true` or `false`.
    Bool(bool),
    /// `[…]`, and `[[…]]` headings.
    Array(Vec<Node>),
    /// `{…}`, and `[…]` headings.
    Table(Table),
    /// A date or a time.
    Date,
}

/// A string with the way back from each of its bytes to the file.
#[derive(Clone, Debug)]
pub struct Text {
    /// The string that the file means.
    pub value: String,
    offsets: Offsets,
}

#[derive(Clone, Debug)]
enum Offsets {
    /// The string stands in the file as it is, from this byte on.
    From(usize),
    /// Escapes were read: where the character of each byte begins and ends, and where all ends.
    Each(Vec<(usize, usize)>),
    /// No way back was found: everything is the whole value.
    Whole(Range<usize>),
}

impl Text {
    /// Where `range` of [`Self::value`] stands in the file.
    pub fn span(&self, range: Range<usize>) -> Range<usize> {
        match &self.offsets {
            Offsets::From(start) => start + range.start..start + range.end,
            Offsets::Each(at) => {
                let find = |i: usize| at.get(i).or(at.last()).copied().unwrap_or_default();
                let start = find(range.start).0;
                // The next character may stand lines further down; the last one's own end does not.
                let end = if range.is_empty() { start } else { find(range.end - 1).1 };
                start..end
            }
            Offsets::Whole(span) => span.clone(),
        }
    }
}

/// One key of a table with its value.
#[derive(Clone, Debug)]
pub struct Field {
    /// The key.
    pub key: String,
    /// Where the key stands.
    pub key_span: Range<usize>,
    /// The value.
    pub node: Node,
}

/// A table: its fields in the order of the file.
#[derive(Clone, Debug, Default)]
pub struct Table {
    /// The fields.
    pub fields: Vec<Field>,
    /// Keys whose values could not be read; that is reported already.
    unreadable: Vec<String>,
}

impl Table {
    /// The value of `key`.
    pub fn get(&self, key: &str) -> Option<&Node> {
        self.fields.iter().find(|field| field.key == key).map(|field| &field.node)
    }

    /// True if `key` is not there at all, rather than there with a value that could not be read.
    pub fn lacks(&self, key: &str) -> bool {
        self.get(key).is_none() && !self.unreadable.iter().any(|unreadable| unreadable == key)
    }

    /// Reports every key that is not among `known`, with the one it was most likely meant to be.
    /// `place` says where: `"a song"`, `"section verse"`.
    pub fn only(&self, known: &[&str], place: &str, problems: &mut Problems) {
        for field in &self.fields {
            if !known.contains(&field.key.as_str()) {
                let help = match nearest(&field.key, known.iter().copied()) {
                    Some(near) => format!("did you mean `{near}`?"),
                    None => format!("{place} can hold {}", list(known, "and")),
                };
                problems.add(
                    field.key_span.clone(),
                    format!("`{}` means nothing in {place}", field.key),
                    help,
                );
            }
        }
    }

    /// The string at `key`, if the key is there; a problem if it is no string.
    pub fn text(&self, key: &str, example: &str, problems: &mut Problems) -> Option<&Text> {
        self.get(key)?.text(key, example, problems)
    }

    /// The number at `key`, if the key is there; a problem if it is no number or out of `range`.
    pub fn number(
        &self,
        key: &str,
        range: std::ops::RangeInclusive<f64>,
        example: &str,
        problems: &mut Problems,
    ) -> Option<f64> {
        let node = self.get(key)?;
        let value = match node.item {
            Item::Integer(n) => n as f64,
            Item::Float(x) => x,
            _ => {
                problems.add(
                    node.span.clone(),
                    format!("`{key}` is {} where a number belongs", node.kind()),
                    format!("write {key} = {example}"),
                );
                return None;
            }
        };
        if range.contains(&value) {
            return Some(value);
        }
        problems.add(
            node.span.clone(),
            format!("`{key}` is {value}, out of its range"),
            format!(
                "write a number from {} to {}, as in {key} = {example}",
                range.start(),
                range.end()
            ),
        );
        None
    }
}

impl Node {
    /// What the value is, in words, for messages.
    pub fn kind(&self) -> &'static str {
        match self.item {
            Item::Text(_) => "text",
            Item::Integer(_) | Item::Float(_) => "a number",
            Item::Bool(_) => "true or false",
            Item::Array(_) => "a list",
            Item::Table(_) => "a table",
            Item::Date => "a date",
        }
    }

    /// The string, or a problem that names `key` and shows `example`.
    pub fn text(&self, key: &str, example: &str, problems: &mut Problems) -> Option<&Text> {
        match &self.item {
            Item::Text(text) => Some(text),
            _ => {
                problems.add(
                    self.span.clone(),
                    format!("`{key}` is {} where text in quotes belongs", self.kind()),
                    format!("write {key} = {example}"),
                );
                None
            }
        }
    }
}

/// Reads TOML. Mistakes in the TOML itself are added to `problems`; what could be read of the rest
/// is returned all the same, so that its own problems can be found in the same run.
pub fn parse_toml(source: &Source, problems: &mut Problems) -> Table {
    let (table, errors) = DeTable::parse_recoverable(&source.text);
    if errors.is_empty() {
        return own_table(table.into_inner(), &source.text, &Broken::default());
    }
    let mended = mend(&source.text);
    let (table, errors) = DeTable::parse_recoverable(&mended.text);
    for Problem { span, message, help } in mended.problems {
        problems.add(span, message, help);
    }
    let mistakes =
        errors.iter().map(|error| (error.span().unwrap_or(0..0), error.message().to_owned()));
    let broken = Broken::report(&mended.text, mended.places, mistakes, problems);
    own_table(table.into_inner(), &mended.text, &broken)
}

/// A value with a mistake in it is left out: what stands there is not what was meant.
fn own_table(table: DeTable<'_>, text: &str, broken: &Broken) -> Table {
    let mut own_table = Table::default();
    for (key, value) in table {
        let (key_span, key) = (key.span(), key.into_inner().into_owned());
        if value.as_ref().is_table() || !broken.touches(&value.span()) {
            own_table.fields.push(Field { key_span, key, node: own(value, text, broken) });
        } else {
            own_table.unreadable.push(key);
        }
    }
    own_table.fields.sort_by_key(|field| field.key_span.start);
    own_table
}

fn own(value: Spanned<DeValue<'_>>, text: &str, broken: &Broken) -> Node {
    let span = value.span();
    let item = match value.into_inner() {
        DeValue::String(string) => {
            let value = string.into_owned();
            let offsets = offsets(text, span.clone(), &value);
            Item::Text(Text { value, offsets })
        }
        DeValue::Integer(n) => i64::from_str_radix(n.as_str(), n.radix())
            .map_or_else(|_| Item::Float(f64::INFINITY), Item::Integer),
        DeValue::Float(x) => Item::Float(x.as_str().parse().unwrap_or(f64::NAN)),
        DeValue::Boolean(b) => Item::Bool(b),
        DeValue::Datetime(_) => Item::Date,
        DeValue::Array(array) => {
            Item::Array(array.into_iter().map(|node| own(node, text, broken)).collect())
        }
        DeValue::Table(table) => Item::Table(own_table(table, text, broken)),
    };
    Node { span, item }
}

/// Finds where each byte of a string's meaning stands in the file.
fn offsets(text: &str, span: Range<usize>, value: &str) -> Offsets {
    let Some(raw) = text.get(span.clone()) else { return Offsets::Whole(span) };
    let (mark, long) = match raw.as_bytes() {
        [b'"', b'"', b'"', ..] => ("\"\"\"", true),
        [b'\'', b'\'', b'\'', ..] => ("'''", true),
        [b'"', ..] => ("\"", false),
        [b'\'', ..] => ("'", false),
        _ => return Offsets::Whole(span),
    };
    let mut start = span.start + mark.len();
    if long {
        // A line break right after the opening mark is not part of the string (TOML 1.0).
        let body = &text[start..span.end];
        start += if body.starts_with("\r\n") { 2 } else { usize::from(body.starts_with('\n')) };
    }
    let body = text.get(start..span.end.saturating_sub(mark.len())).unwrap_or_default();
    if body == value {
        return Offsets::From(start);
    }
    follow_escapes(body, start, value).map_or(Offsets::Whole(span), Offsets::Each)
}

/// Walks the raw body and the meaning side by side; `None` if they do not agree.
fn follow_escapes(body: &str, start: usize, value: &str) -> Option<Vec<(usize, usize)>> {
    let mut at = Vec::with_capacity(value.len() + 1);
    let mut raw = 0;
    for want in value.chars() {
        raw += joined_lines(&body[raw..]);
        let rest = &body[raw..];
        let step = if let Some(escape) = rest.strip_prefix('\\') {
            match escape.chars().next()? {
                'x' => 4,
                'u' => 6,
                'U' => 10,
                _ => 2,
            }
        } else if want == '\n' && rest.starts_with("\r\n") {
            2
        } else if rest.starts_with(want) {
            want.len_utf8()
        } else {
            return None;
        };
        at.extend(std::iter::repeat_n((start + raw, start + raw + step), want.len_utf8()));
        raw += step;
        if !body.is_char_boundary(raw) {
            return None;
        }
    }
    at.push((start + raw, start + raw));
    Some(at)
}

/// Bytes of a backslash at the end of a line with the white space it joins away, again and again.
fn joined_lines(raw: &str) -> usize {
    let mut taken = 0;
    while let Some(rest) = raw[taken..].strip_prefix('\\') {
        let line_end = rest.trim_start_matches([' ', '\t']);
        if !line_end.starts_with(['\n', '\r']) {
            break;
        }
        taken = raw.len() - line_end.trim_start_matches([' ', '\t', '\n', '\r']).len();
    }
    taken
}

#[cfg(test)]
mod tests {
    use super::*;

    fn where_is(toml: &str, word: &str) -> (Source, Range<usize>) {
        let source = Source::new("t.toml", toml).unwrap();
        let mut problems = Problems::new();
        let table = parse_toml(&source, &mut problems);
        assert!(problems.is_empty(), "{problems:?}");
        let Item::Text(text) = &table.get("row").unwrap().item else { panic!("no text") };
        let at = text.value.find(word).unwrap();
        let span = text.span(at..at + word.len());
        (source, span)
    }

    #[test]
    fn positions_hold_in_every_kind_of_string() {
        for toml in [
            "row = \"| G | Zz |\"",
            "row = '| G | Zz |'",
            "row = \"\"\"\n| G |\n| Zz |\n\"\"\"",
            "row = '''\n| G |\n| Zz |\n'''",
            "row = \"\"\"\r\n| G |\r\n| Zz |\r\n\"\"\"",
            "row = \"\\u0041\\t\\x41 | Zz\"",
            "row = \"\"\"\n| G |\\\n   | \\U0001F3B5 Zz |\n\"\"\"",
            "row = \"\"\"ä \"quoted\" \\\\ Zz\"\"\"",
            "row = \"\"\"\n| Zz\\\n   | G |\n\"\"\"",
        ] {
            let (source, span) = where_is(toml, "Zz");
            assert_eq!(&source.text[span], "Zz", "{toml}");
        }
    }

    #[test]
    fn several_mistakes_are_found_in_one_run() {
        let source = Source::new("t.toml", "a = \nb = 1\nc = = 2\n").unwrap();
        let mut problems = Problems::new();
        let table = parse_toml(&source, &mut problems);
        assert!(problems.len() >= 2, "{problems:?}");
        assert!(table.get("b").is_some());
    }

    #[test]
    fn unknown_keys_name_their_neighbour() {
        let source = Source::new("t.toml", "tempoo = 1\n").unwrap();
        let mut problems = Problems::new();
        parse_toml(&source, &mut problems).only(&["tempo", "key"], "a song", &mut problems);
        assert_eq!(problems.in_order()[0].help, "did you mean `tempo`?");
    }
}
