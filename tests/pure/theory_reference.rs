//! Chords, numbers and keys against tables that general music libraries agree on; tests/reference/
//! README.md names them.

use std::collections::BTreeSet;

use openchair::theory::{Chord, Key};
use serde_json::Value;

fn rows(table: &str) -> Vec<Value> {
    table.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

fn classes(row: &Value) -> BTreeSet<u64> {
    row["pcs"].as_array().unwrap().iter().map(|class| class.as_u64().unwrap()).collect()
}

fn classes_of(chord: &Chord) -> BTreeSet<u64> {
    chord.pitch_classes().map(u64::from).collect()
}

#[test]
fn chord_symbols() {
    let rows = rows(include_str!("../reference/chords.jsonl"));
    assert_eq!(rows.len(), 301);
    for row in &rows {
        let symbol = row["symbol"].as_str().unwrap();
        let chord = Chord::parse(symbol).unwrap();
        assert_eq!(classes_of(&chord), classes(row), "{symbol}");
        assert_eq!(u64::from(chord.bass_class()), row["bass"].as_u64().unwrap(), "{symbol}");
        assert_eq!(chord.to_string(), symbol);
    }
}

#[test]
fn chord_aliases() {
    let rows = rows(include_str!("../reference/chord_aliases.jsonl"));
    // Those that more libraries read so than otherwise.
    let shared = rows.iter().filter(|row| row["same"].as_u64() > row["different"].as_u64());
    assert_eq!(shared.clone().count(), 68);
    for row in shared {
        let alias = row["alias"].as_str().unwrap();
        let chord = Chord::parse(alias).unwrap();
        assert_eq!(chord.to_string(), row["canonical"].as_str().unwrap(), "{alias}");
        assert_eq!(classes_of(&chord), classes(row), "{alias}");
    }
}

#[test]
fn numbers() {
    let rows = rows(include_str!("../reference/numbers.jsonl"));
    assert_eq!(rows.len(), 180);
    for row in &rows {
        let (key, number) = (row["key"].as_str().unwrap(), row["number"].as_str().unwrap());
        let chord = Chord::read(number, Key::parse(key).unwrap()).unwrap();
        assert_eq!(classes_of(&chord), classes(row), "{number} in {key}");
        // The table writes a diminished triad as `o`; read, it is the same chord, spelling and all.
        let symbol = row["symbol"].as_str().unwrap();
        assert_eq!(chord, Chord::parse(symbol).unwrap(), "{number} in {key}");
    }
}

#[test]
fn key_signatures() {
    let rows = rows(include_str!("../reference/keysigs.jsonl"));
    assert_eq!(rows.len(), 30);
    for row in &rows {
        let name = row["key"].as_str().unwrap();
        let (sharps, minor) = Key::parse(name).unwrap().signature();
        assert_eq!(i64::from(sharps), row["sf"].as_i64().unwrap(), "{name}");
        assert_eq!(minor, row["mode"] == "minor", "{name}");
        let event = format!("FF 59 02 {:02X} {:02X}", sharps as u8, u8::from(minor));
        assert_eq!(event, row["ff59"].as_str().unwrap(), "{name}");
    }
}
