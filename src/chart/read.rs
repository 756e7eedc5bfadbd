use super::form::read_form;
use super::head::{Head, OPTIONAL, REQUIRED};
use super::limits::MOST_BARS;
use super::section_table::SectionDraft;
use super::{Song, SongSpans};
use crate::text::{Item, Problems, Source, Table, parse_toml};

/// Reads a song file. `None` if anything is wrong with it; `problems` then holds all of it, from
/// the TOML itself to the last bar.
pub fn read_song(source: &Source, problems: &mut Problems) -> Option<(Song, SongSpans)> {
    let before = problems.len();
    let table = parse_toml(source, problems);
    let broken = problems.len() > before;
    // A key that is there but whose value is no TOML is not missing.
    let missing = |key: &str| table.get(key).is_none() && !(broken && mentions(source, key));
    let known: Vec<&str> = REQUIRED.iter().map(|(key, _)| *key).chain(OPTIONAL).collect();
    table.only(&known, "a song", problems);
    for (key, example) in REQUIRED {
        if missing(key) {
            problems.add(
                0..0,
                format!("the song has no `{key}`"),
                format!("write {key} = {example} above the first [section.NAME]"),
            );
        }
    }
    let head = Head::read(&table, problems);
    let sections = sections(&table, &head, problems);
    if sections.is_empty() && missing("section") {
        problems.add(
            0..0,
            "the song has no section",
            "write [section.verse] and under it chords = \"| G | C | D7 | G |\"",
        );
    }
    let form =
        table.get("form").map(|node| read_form(node, &sections, problems)).unwrap_or_default();
    if problems.len() > before {
        return None;
    }
    let (key, key_span) = head.key?;
    let (meter, meter_span) = head.meter?;
    let (style, style_span) = head.style?;
    let song = Song {
        title: head.title?,
        composer: head.composer,
        notes: head.notes,
        key,
        meter,
        tempo: head.tempo?,
        style,
        swing: head.swing,
        capo: head.capo,
        band: head.band,
        ending: head.ending,
        sections: sections.into_iter().map(SectionDraft::finish).collect(),
        form,
    };
    Some((song, SongSpans { style: style_span, meter: meter_span, key: key_span }))
}

fn sections(table: &Table, head: &Head, problems: &mut Problems) -> Vec<SectionDraft> {
    let Some(node) = table.get("section") else { return Vec::new() };
    let Item::Table(sections) = &node.item else {
        problems.add(
            node.span.clone(),
            format!("`section` is {} where tables belong", node.kind()),
            "head each section by its name, as in [section.verse]",
        );
        return Vec::new();
    };
    let key = head.key.as_ref().map(|(key, _)| *key);
    let meter = head.meter.as_ref().map(|(meter, _)| *meter);
    let mut left = MOST_BARS;
    sections
        .fields
        .iter()
        .map(|field| SectionDraft::read(field, key, meter, &mut left, problems))
        .collect()
}

/// True if a line of the file begins with `key`, or a heading does.
fn mentions(source: &Source, key: &str) -> bool {
    source.text.lines().any(|line| line.trim_start().trim_start_matches('[').starts_with(key))
}
