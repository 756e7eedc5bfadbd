use super::form::read_form;
use super::head::{Head, OPTIONAL, REQUIRED};
use super::limits::{MOST_BARS, MOST_SECTIONS};
use super::section_table::{OTHER_KEYS, ROWS, SectionDraft};
use super::{Header, Kickoff, Pass, Song, SongSpans};
use crate::text::{Item, Problems, Source, Table, list, nearest, parse_toml};
use crate::time::Meter;

/// Reads a song file. `None` if anything is wrong with it; `problems` then holds all of it, from
/// the TOML itself to the last bar.
pub fn read_song(source: &Source, problems: &mut Problems) -> Option<(Song, SongSpans)> {
    read_song_and_header(source, problems).0
}

/// As [`read_song`], and the header as far as it can be read whatever else is wrong, so that the
/// style can be judged in the same run.
pub fn read_song_and_header(
    source: &Source,
    problems: &mut Problems,
) -> (Option<(Song, SongSpans)>, Header) {
    let before = problems.len();
    let table = parse_toml(source, problems);
    let broken = problems.len() > before;
    // A key that is there but whose value is no TOML is not missing.
    let missing = |key: &str| table.lacks(key) && !(broken && mentions(source, key));
    check_keys(&table, broken, missing, problems);
    let head = Head::read(&table, problems);
    let sections = sections(&table, &head, problems);
    check_swing(&table, &head, problems);
    check_kickoff(&head, problems);
    if sections.is_empty() && missing("section") {
        problems.add(
            0..0,
            "the song has no section",
            "write [section.verse] and under it chords = \"| G | C | D7 | G |\"",
        );
    }
    // Where the TOML is broken, a section may be there and not be found.
    let may_be = |name: &str| broken && mentions(source, &format!("section.{name}"));
    let form = table
        .get("form")
        .map(|node| read_form(node, &sections, may_be, problems))
        .unwrap_or_default();
    let header =
        Header { style: head.style.clone(), meter: head.meter.as_ref().map(|(meter, _)| *meter) };
    let song = if problems.len() > before { None } else { finish(head, sections, form) };
    (song, header)
}

/// The song, if nothing is missing.
fn finish(head: Head, sections: Vec<SectionDraft>, form: Vec<Pass>) -> Option<(Song, SongSpans)> {
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
        kickoff: head.kickoff.map(|(kickoff, _)| kickoff).unwrap_or_default(),
        ending: head.ending,
        sections: sections.into_iter().map(SectionDraft::finish).collect(),
        form,
    };
    Some((song, SongSpans { style: style_span, meter: meter_span, key: key_span }))
}

/// Reports keys that no song has, and those that a song needs and this one lacks.
fn check_keys(
    table: &Table,
    broken: bool,
    missing: impl Fn(&str) -> bool,
    problems: &mut Problems,
) {
    let mut known: Vec<&str> = REQUIRED.iter().map(|(key, _)| *key).chain(OPTIONAL).collect();
    let mut misspelt = Vec::new();
    for field in &table.fields {
        let key = field.key.as_str();
        if ROWS.contains(&key) || OTHER_KEYS.contains(&key) {
            known.push(&field.key);
            // Below a broken heading it stands where it should.
            if !broken {
                problems.add(
                    field.key_span.clone(),
                    format!("`{}` stands above every section", field.key),
                    "put it under the heading of its section, such as [section.verse]",
                );
            }
        } else if !known.contains(&field.key.as_str()) {
            misspelt.extend(nearest(&field.key, known.iter().copied()));
        }
    }
    table.only(&known, "a song", problems);
    let lacks: Vec<_> =
        REQUIRED.iter().filter(|(key, _)| missing(key) && !misspelt.contains(key)).collect();
    if lacks.is_empty() {
        return;
    }
    let keys: Vec<_> = lacks.iter().map(|(key, _)| format!("`{key}`")).collect();
    let lines: Vec<_> = lacks.iter().map(|(key, example)| format!("{key} = {example}")).collect();
    problems.add(
        0..0,
        format!("the song has no {}", list(&keys, "or")),
        format!("write {} above the first [section.NAME]", list(&lines, "and")),
    );
}

/// Reports a swing that would do nothing: a song in 6/8 has none.
fn check_swing(table: &Table, head: &Head, problems: &mut Problems) {
    let in_six = head.meter.as_ref().is_some_and(|(meter, _)| *meter == Meter::SixEight);
    if head.swing.is_none() || !in_six {
        return;
    }
    let key = table.fields.iter().find(|field| field.key == "swing");
    problems.add(
        key.map_or(0..0, |field| field.key_span.clone()),
        "6/8 has no pairs of eighths to swing",
        "leave `swing` out",
    );
}

/// Reports shuffles before a waltz, which has no beats to shuffle.
fn check_kickoff(head: &Head, problems: &mut Problems) {
    let in_three = head.meter.as_ref().is_some_and(|(meter, _)| *meter == Meter::ThreeFour);
    if let (Some((Kickoff::Shuffles, span)), true) = (&head.kickoff, in_three) {
        problems.add(
            span.clone(),
            "shuffles go by twos, and 3/4 has three beats",
            "write kickoff = \"pickup\"",
        );
    }
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
    if let Some(first_too_many) = sections.fields.get(MOST_SECTIONS) {
        problems.add(
            first_too_many.key_span.clone(),
            format!("the song has {} sections", sections.fields.len()),
            format!("write {MOST_SECTIONS} at most, and let the form repeat them"),
        );
    }
    let mut left = Some(MOST_BARS);
    sections
        .fields
        .iter()
        .take(MOST_SECTIONS)
        .map(|field| SectionDraft::read(field, key, meter, &mut left, problems))
        .collect()
}

/// True if a line of the file begins with `key`, or a heading does.
fn mentions(source: &Source, key: &str) -> bool {
    source.text.lines().any(|line| line.trim_start().trim_start_matches('[').starts_with(key))
}
