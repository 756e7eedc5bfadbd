use std::ops::RangeInclusive;

use super::RoleStyle;
use super::numbers::{real, whole};
use super::read_bars::BarReader;
use crate::chart::Role;
use crate::text::{Field, Item, Problems, Table};

/// The keys of a part with its bars, and those that only make sense over several strings.
const KEYS: [&str; 8] =
    ["program", "volume", "pan", "lean", "looseness", "loudness", "length", "bar"];
const STROKE_KEYS: [&str; 4] = ["spread", "clip", "down_strings", "up_strings"];

/// 40 ms is past what is heard as one beat played by two (listeners notice 31 to 35 ms between bass
/// and guitar: "JND thresholds of asynchrony … in a multi-instrumental groove-based context",
/// preprint osf jsg94 v3).
const LEAN: RangeInclusive<f64> = -40.0..=40.0;
const LOOSENESS: RangeInclusive<f64> = 0.0..=30.0;
/// At 80 ms six strings are an arpeggio.
const SPREAD: RangeInclusive<f64> = 0.0..=80.0;
const LENGTH: RangeInclusive<f64> = 0.05..=1.0;
/// Below 20 ms a chord is a click; past 2 s nothing is clipped.
const CLIP: RangeInclusive<f64> = 20.0..=2000.0;
/// One string is a bass note, and no instrument here has more than six.
const STRINGS: RangeInclusive<u8> = 2..=6;
const VELOCITY: RangeInclusive<u8> = 1..=127;
const CONTROLLER: RangeInclusive<u8> = 0..=127;
const VARY: RangeInclusive<u8> = 0..=40;
const UP: RangeInclusive<f64> = 0.1..=1.0;

/// Reads `[bass]`, `[chop]` or another role's table with its bars.
pub(super) fn read_part(
    part: &Field,
    reader: &BarReader<'_>,
    problems: &mut Problems,
) -> Option<RoleStyle> {
    let role = reader.role;
    let Item::Table(table) = &part.node.item else {
        problems.add(
            part.key_span.clone(),
            format!("`{role}` is {} where one table belongs", part.node.kind()),
            format!("write one heading [{role}], and [[{role}.bar]] over each of its bars"),
        );
        return None;
    };
    check_keys(table, role, problems);
    let mut style = RoleStyle::plain(role);
    read_instrument(table, &mut style, problems);
    real(table, "lean", LEAN, &mut style.lean, problems);
    real(table, "looseness", LOOSENESS, &mut style.looseness, problems);
    real(table, "length", LENGTH, &mut style.length, problems);
    read_loudness(table, role, &mut style, problems);
    let has = role.row().stroke_keys;
    if has.spread {
        real(table, "spread", SPREAD, &mut style.spread, problems);
    }
    if has.down_strings {
        whole(table, "down_strings", STRINGS, &mut style.down_strings, problems);
    }
    if has.up_strings {
        whole(table, "up_strings", STRINGS, &mut style.up_strings, problems);
    }
    if has.clip
        && let Some(clip) = table.number("clip", CLIP, "90", problems)
    {
        style.clip = Some(clip);
    }
    style.bars = reader.read(part, table, problems);
    Some(style)
}

fn check_keys(table: &Table, role: Role, problems: &mut Problems) {
    let place = format!("`[{role}]`");
    let mut known = KEYS.to_vec();
    known.extend(STROKE_KEYS);
    table.only(&known, &place, problems);
    // A key that changes nothing is refused rather than passed over.
    let keys = role.row().stroke_keys;
    for field in table.fields.iter().filter(|field| keys.has(&field.key) == Some(false)) {
        problems.add(
            field.key_span.clone(),
            format!("`{}` {}", field.key, keys.why_not),
            format!("leave `{}` out of [{role}]", field.key),
        );
    }
}

fn read_instrument(table: &Table, style: &mut RoleStyle, problems: &mut Problems) {
    let instrument = &mut style.instrument;
    // Written from 1 as General MIDI numbers its sounds; the message counts from 0.
    let mut number = instrument.program + 1;
    whole(table, "program", 1..=128, &mut number, problems);
    instrument.program = number.saturating_sub(1);
    whole(table, "volume", CONTROLLER, &mut instrument.volume, problems);
    whole(table, "pan", CONTROLLER, &mut instrument.pan, problems);
}

fn read_loudness(table: &Table, role: Role, style: &mut RoleStyle, problems: &mut Problems) {
    let Some(node) = table.get("loudness") else { return };
    let loudness = &mut style.loudness;
    let Item::Table(inner) = &node.item else {
        problems.add(
            node.span.clone(),
            format!("`loudness` is {} where a table belongs", node.kind()),
            format!(
                "write loudness = {{ ghost = {}, normal = {}, accent = {} }}",
                loudness.ghost, loudness.normal, loudness.accent
            ),
        );
        return;
    };
    let before = problems.len();
    if !role.row().stroke_keys.up_strings {
        let place = format!("`loudness` of the {role}");
        inner.only(&["ghost", "normal", "accent", "vary"], &place, problems);
    } else {
        inner.only(&["ghost", "normal", "accent", "vary", "up"], "`loudness`", problems);
        real(inner, "up", UP, &mut loudness.up, problems);
    }
    whole(inner, "ghost", VELOCITY, &mut loudness.ghost, problems);
    whole(inner, "normal", VELOCITY, &mut loudness.normal, problems);
    whole(inner, "accent", VELOCITY, &mut loudness.accent, problems);
    whole(inner, "vary", VARY, &mut loudness.vary, problems);
    let rising = loudness.ghost <= loudness.normal && loudness.normal <= loudness.accent;
    if !rising && problems.len() == before {
        problems.add(
            node.span.clone(),
            format!(
                "`loudness` does not rise: ghost {}, normal {}, accent {}",
                loudness.ghost, loudness.normal, loudness.accent
            ),
            "write a ghost softer than normal and an accent louder",
        );
    }
}
