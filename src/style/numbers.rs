use std::ops::RangeInclusive;

use crate::text::{Item, Node, Problems, Table, nearest};

/// True if the table has no `key`, nor one that was probably meant to be it: a misspelt key is
/// reported as one, and what it may hold is not called missing as well.
pub(super) fn lacks(table: &Table, key: &str, known: &[&str]) -> bool {
    let meant = |other: &str| {
        other == key
            || (!known.contains(&other) && nearest(other, known.iter().copied()) == Some(key))
    };
    !table.fields.iter().any(|field| meant(&field.key))
}

/// Puts the number at `key`, if there is one and it is sound, in place of the default.
pub(super) fn real(
    table: &Table,
    key: &str,
    range: RangeInclusive<f64>,
    value: &mut f64,
    problems: &mut Problems,
) {
    if let Some(found) = table.number(key, range, &value.to_string(), problems) {
        *value = found;
    }
}

/// Puts the whole number at `key`, if there is one and it is sound, in place of the default.
pub(super) fn whole(
    table: &Table,
    key: &str,
    range: RangeInclusive<u8>,
    value: &mut u8,
    problems: &mut Problems,
) {
    let real = f64::from(*range.start())..=f64::from(*range.end());
    let Some(found) = table.number(key, real, &value.to_string(), problems) else { return };
    // Held to a range of `u8` just now, so nothing is cut off but a fraction, and that is refused.
    let rounded = found.round() as u8;
    if (f64::from(rounded) - found).abs() > 0.0 {
        let span = table.get(key).map_or(0..0, |node| node.span.clone());
        problems.add(
            span,
            format!("`{key}` is {found}, between two whole numbers"),
            format!("write {key} = {rounded}"),
        );
        return;
    }
    *value = rounded;
}

/// The list at `key`; a problem if it is anything else. `wrong` says what to write.
pub(super) fn array<'a>(
    table: &'a Table,
    key: &str,
    wrong: &str,
    problems: &mut Problems,
) -> Option<&'a [Node]> {
    let node = table.get(key)?;
    let Item::Array(items) = &node.item else {
        problems.add(
            node.span.clone(),
            format!("`{key}` is {} where a list belongs", node.kind()),
            wrong,
        );
        return None;
    };
    Some(items)
}

/// The number that a list holds, if it is one and in range.
pub(super) fn item(node: &Node, range: &RangeInclusive<f64>) -> Option<f64> {
    let value = match node.item {
        Item::Integer(n) => n as f64,
        Item::Float(x) => x,
        _ => return None,
    };
    range.contains(&value).then_some(value)
}
