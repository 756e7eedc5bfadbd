use std::ops::RangeInclusive;

use super::numbers::real;
use super::{Dynamics, Tag};
use crate::text::{Item, Problems, Table, list, nearest};

const KEYS: [&str; 9] = [
    "singer_sings",
    "singer_pauses",
    "break",
    "ending",
    "verse",
    "chorus",
    "last_time",
    "first_time",
    "down",
];

/// At half its velocity a part is as good as gone, at one and a half it is at the end of the scale.
const SHARE: RangeInclusive<f64> = 0.5..=1.5;

/// Reads `[dynamics]`.
pub(super) fn read_dynamics(root: &Table, problems: &mut Problems) -> Dynamics {
    let mut dynamics = Dynamics::default();
    let Some(node) = root.get("dynamics") else { return dynamics };
    let Item::Table(table) = &node.item else {
        problems.add(
            node.span.clone(),
            format!("`dynamics` is {} where a table belongs", node.kind()),
            "write a heading [dynamics] and under it singer_sings = 0.9, break = 1.06 and the like",
        );
        return dynamics;
    };
    table.only(&KEYS, "`[dynamics]`", problems);
    real(table, "singer_sings", SHARE, &mut dynamics.singer_sings, problems);
    real(table, "singer_pauses", SHARE, &mut dynamics.singer_pauses, problems);
    real(table, "break", SHARE, &mut dynamics.on_break, problems);
    real(table, "ending", SHARE, &mut dynamics.ending, problems);
    real(table, "verse", SHARE, &mut dynamics.verse, problems);
    real(table, "chorus", SHARE, &mut dynamics.chorus, problems);
    real(table, "last_time", SHARE, &mut dynamics.last_time, problems);
    real(table, "first_time", SHARE, &mut dynamics.first_time, problems);
    real(table, "down", SHARE, &mut dynamics.down, problems);
    dynamics
}

/// Reads `tag`: the line, unless the style says otherwise.
pub(super) fn read_tag(root: &Table, problems: &mut Problems) -> Tag {
    let Some(text) = root.text("tag", "\"line\"", problems) else { return Tag::Line };
    let known = Tag::ALL.map(Tag::as_str);
    Tag::parse(&text.value).unwrap_or_else(|| {
        problems.add(
            text.span(0..text.value.len()),
            format!("there is no tag `{}`", text.value),
            match nearest(&text.value, known) {
                Some(near) => format!("did you mean `{near}`?"),
                None => format!("write {}", list(&known, "or")),
            },
        );
        Tag::Line
    })
}
