//! Help for the tests of this module.

use crate::text::{Item, Problems, Source, Text, parse_toml};

/// A row as a song holds it. It may hold no three quotation marks.
pub(super) fn text(row: &str) -> Text {
    let source = Source::new("t", format!("row = '''{row}'''")).unwrap();
    let mut problems = Problems::new();
    let mut table = parse_toml(&source, &mut problems);
    assert!(problems.is_empty(), "{problems:?}");
    let Item::Text(text) = table.fields.remove(0).node.item else { panic!("no text") };
    text
}
