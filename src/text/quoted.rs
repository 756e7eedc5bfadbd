/// A text on one line as TOML has it: in double quotes, or in single ones where that spares
/// backslashes.
pub fn quoted(text: &str) -> String {
    let slashed = text.contains(['"', '\\']);
    if slashed && !text.contains('\'') && !text.contains(|c: char| c.is_control()) {
        return format!("'{text}'");
    }
    format!("\"{}\"", escaped(text, &['"']))
}

/// A text of several lines as TOML has it, its marks on lines of their own as far as it ends with a line.
pub fn quoted_lines(text: &str) -> String {
    let escaped = escaped(text, &[]);
    let mut out = String::from("\"\"\"\n");
    // Two quotes may stand side by side, and none right before the closing mark.
    let mut run = 0;
    for (at, c) in escaped.char_indices() {
        run = if c == '"' { run + 1 } else { 0 };
        if run == 3 || run > 0 && at + 1 == escaped.len() {
            out.push('\\');
            run = 0;
        }
        out.push(c);
    }
    out + "\"\"\""
}

/// The text with backslashes before what a TOML string can't hold: themselves, control characters and
/// `also`. Without `also` it may go over several lines.
fn escaped(text: &str, also: &[char]) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\n' | '\t' if also.is_empty() => out.push(c),
            '\n' => out.push_str("\\n"),
            '\t' => out.push_str("\\t"),
            '\r' => out.push_str("\\r"),
            '\\' => out.push_str("\\\\"),
            c if also.contains(&c) => {
                out.push('\\');
                out.push(c);
            }
            c if c.is_control() => out.push_str(&format!("\\u{:04X}", u32::from(c))),
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::{Item, Problems, Source, parse_toml};
    use super::*;

    fn read(value: &str) -> String {
        let source = Source::new("t.toml", format!("a = {value}\nb = 1\n")).unwrap();
        let mut problems = Problems::new();
        let table = parse_toml(&source, &mut problems);
        assert!(problems.is_empty(), "{value}: {problems:?}");
        assert!(table.get("b").is_some(), "{value}");
        match &table.get("a").unwrap().item {
            Item::Text(text) => text.value.clone(),
            other => panic!("{value}: {other:?}"),
        }
    }

    #[test]
    fn texts_are_written_as_a_person_would() {
        assert_eq!(quoted("Heron Reel"), "\"Heron Reel\"");
        assert_eq!(quoted("Tobin's Lamp"), "\"Tobin's Lamp\"");
        assert_eq!(quoted("The \"Late\" Boat"), "'The \"Late\" Boat'");
        assert_eq!(quoted("a\\b's"), "\"a\\\\b's\"");
        assert_eq!(quoted_lines("One.\nTwo.\n"), "\"\"\"\nOne.\nTwo.\n\"\"\"");
    }

    proptest! {
        #[test]
        fn any_text_comes_back(text in any::<String>()) {
            prop_assert_eq!(read(&quoted(&text)), text.as_str());
            prop_assert_eq!(read(&quoted_lines(&text)), text.as_str());
        }

        #[test]
        fn quotes_and_line_ends_come_back(text in "[\"'\\\\\r\n\t x\u{85}\u{0}]{0,12}") {
            prop_assert_eq!(read(&quoted(&text)), text.as_str());
            prop_assert_eq!(read(&quoted_lines(&text)), text.as_str());
        }
    }
}
