use std::collections::HashSet;
use std::ops::{Range, RangeInclusive};

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::curly::straighten;
use super::number_in::number_in;
use super::toml_error::Broken;
use super::unclosed::mend;
use super::{Placed, Problem, Problems, Source, Text, list, meant, quoted, whole_characters};

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
    /// Widens every place to whole characters of `text`.
    fn on_whole_characters(&mut self, text: &str) {
        for field in &mut self.fields {
            field.key_span = whole_characters(text, &field.key_span);
            field.node.on_whole_characters(text);
        }
    }

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
        self.only_but(&HashSet::new(), known, place, problems);
    }

    /// As [`Self::only`], but says nothing of `told`, which are keys reported already.
    pub fn only_but(
        &self,
        told: &HashSet<&str>,
        known: &[&str],
        place: &str,
        problems: &mut Problems,
    ) {
        for field in &self.fields {
            let key = field.key.as_str();
            if known.contains(&key) || told.contains(key) {
                continue;
            }
            // Where so much is wrong, no one waits for more to be compared.
            let help = if problems.len() < Problems::MOST_KEPT {
                meant(key, known.iter().copied())
                    .unwrap_or_else(|| format!("{place} can hold {}", list(known, "and")))
            } else {
                String::new()
            };
            problems.add(field.key_span.clone(), format!("`{key}` means nothing in {place}"), help);
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
        range: RangeInclusive<f64>,
        example: &str,
        problems: &mut Problems,
    ) -> Option<f64> {
        let number = self.get(key)?.number(key, example, problems)?;
        let written = format!("{key} = {example}");
        in_range(key, &number, &range, &written, problems).then_some(number.value)
    }
}

/// True if a number lies in `range`; reports it otherwise. `example` shows how it is written:
/// `tempo = 108`.
pub fn in_range(
    key: &str,
    number: &Placed<f64>,
    range: &RangeInclusive<f64>,
    example: &str,
    problems: &mut Problems,
) -> bool {
    let within = range.contains(&number.value);
    if !within {
        let (from, to) = (range.start(), range.end());
        problems.add(
            number.span.clone(),
            format!("`{key}` is {}, out of its range", number.value),
            format!("write a number from {from} to {to}, as in {example}"),
        );
    }
    within
}

impl Node {
    fn on_whole_characters(&mut self, text: &str) {
        self.span = whole_characters(text, &self.span);
        match &mut self.item {
            Item::Text(own) => *own = own.clone().within(self.span.clone()),
            Item::Array(nodes) => nodes.iter_mut().for_each(|node| node.on_whole_characters(text)),
            Item::Table(table) => table.on_whole_characters(text),
            Item::Integer(_) | Item::Float(_) | Item::Bool(_) | Item::Date => {}
        }
    }

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
        if let Item::Text(text) = &self.item {
            return Some(text);
        }
        let alone = match &self.item {
            Item::Array(items) => items.first().filter(|_| items.len() == 1).map(|one| &one.item),
            _ => None,
        };
        let help = match alone {
            // What was written is meant; only its brackets are too many.
            Some(Item::Text(text)) => format!("write {key} = {}", quoted(&text.value)),
            _ => format!("write text in quotes, as in {key} = {example}"),
        };
        let message = format!("`{key}` is {} where text in quotes belongs", self.kind());
        problems.add(self.span.clone(), message, help);
        None
    }

    /// The number, or a problem that names `key` and says what to write: the number that stands there
    /// in quotes, or how one is written, as in `example`.
    pub fn number(&self, key: &str, example: &str, problems: &mut Problems) -> Option<Placed<f64>> {
        let help = match &self.item {
            Item::Integer(n) => return Some(Placed::new(*n as f64, self.span.clone())),
            Item::Float(x) => return Some(Placed::new(*x, self.span.clone())),
            Item::Text(text) => number_in(&text.value).map(|n| format!("write {key} = {n}")),
            _ => None,
        };
        let help = help.unwrap_or_else(|| format!("write a number, as in {key} = {example}"));
        let message = format!("`{key}` is {} where a number belongs", self.kind());
        problems.add(self.span.clone(), message, help);
        None
    }

    /// Text that stands where a list of texts belongs, as that list: its parts between commas.
    pub fn as_list(&self) -> Option<String> {
        let Item::Text(text) = &self.item else { return None };
        let parts = text.value.split([',', '\n']).map(str::trim).filter(|part| !part.is_empty());
        let quoted: Vec<String> = parts.map(quoted).collect();
        (!quoted.is_empty()).then(|| format!("[{}]", quoted.join(", ")))
    }
}

/// Reads TOML. Mistakes in the TOML itself are added to `problems`; what could be read of the rest
/// is returned all the same, so that its own problems can be found in the same run.
pub fn parse_toml(source: &Source, problems: &mut Problems) -> Table {
    let (table, errors) = DeTable::parse_recoverable(&source.text);
    if errors.is_empty() {
        return own_table(table.into_inner(), &source.text, &Broken::default());
    }
    let Some((straight, curly)) = straighten(&source.text) else {
        return parse_mended(&source.text, problems);
    };
    for Problem { span, message, help } in curly {
        problems.add(span, message, help);
    }
    let mut own = Problems::new();
    let mut table = parse_mended(&straight, &mut own);
    // Where a straight mark stands, a curly one takes more bytes.
    table.on_whole_characters(&source.text);
    own.on_whole_characters(&source.text);
    problems.append(own);
    table
}

/// Reads what is most likely broken TOML.
fn parse_mended(text: &str, problems: &mut Problems) -> Table {
    let (table, errors) = DeTable::parse_recoverable(text);
    if errors.is_empty() {
        return own_table(table.into_inner(), text, &Broken::default());
    }
    let mended = mend(text);
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
        DeValue::String(string) => Item::Text(located(text, span.clone(), string.into_owned())),
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

/// A string's meaning, with where each byte of it stands in the file.
fn located(text: &str, span: Range<usize>, value: String) -> Text {
    let whole = |value| Text::made_from(value, span.clone());
    let Some(raw) = text.get(span.clone()) else { return whole(value) };
    let (mark, long) = match raw.as_bytes() {
        [b'"', b'"', b'"', ..] => ("\"\"\"", true),
        [b'\'', b'\'', b'\'', ..] => ("'''", true),
        [b'"', ..] => ("\"", false),
        [b'\'', ..] => ("'", false),
        _ => return whole(value),
    };
    let mut start = span.start + mark.len();
    if long {
        // A line break right after the opening mark is not part of the string (TOML 1.0).
        let body = &text[start..span.end];
        start += if body.starts_with("\r\n") { 2 } else { usize::from(body.starts_with('\n')) };
    }
    let body = text.get(start..span.end.saturating_sub(mark.len())).unwrap_or_default();
    if body == value {
        return Text::at(value, start).within(span);
    }
    match follow_escapes(body, start, &value) {
        Some(text) => text.within(span),
        // No way back was found.
        None => whole(value),
    }
}

/// Walks the raw body and the meaning side by side; `None` if they do not agree.
fn follow_escapes(body: &str, start: usize, value: &str) -> Option<Text> {
    let mut text = Text::nothing_at(start);
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
        text.push_char(want, start + raw..start + raw + step);
        raw += step;
        if !body.is_char_boundary(raw) {
            return None;
        }
    }
    Some(text)
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

    #[test]
    fn a_number_in_quotes_is_the_one_to_write() {
        for (text, number) in [
            ("120", Some("120")),
            (" 97.5 ", Some("97.5")),
            ("120 bpm", Some("120")),
            ("090", Some("90")),
            ("0.58", Some("0.58")),
            ("0", Some("0")),
            ("-2 ms", Some("-2")),
            ("75%", Some("75")),
            ("4/4", None),
            ("16 Ferries", None),
            ("1,5", None),
            ("120-130", None),
            ("1.2.3", None),
            ("12.", None),
            ("fast", None),
            ("", None),
        ] {
            assert_eq!(number_in(text).as_deref(), number, "{text}");
        }
    }
}
