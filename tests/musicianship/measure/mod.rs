//! How well the band plays, measured from the notes it plays: every shipped song in every style that
//! plays its meter and feels right at its tempo, by a few seeds.
//!
//! Nothing here asks the program how it came by its notes: a stroke is what sounds together, a run what
//! moves by step into a change, a shape what a hand can hold of the notes that sound. Bounds come from
//! what is published, or are marked as common practice.
#![allow(dead_code, missing_docs, clippy::unwrap_used)] // Shared: the tests and the report take what they need.

pub mod banjo;
pub mod bass_notes;
pub mod hands;
pub mod leads;
pub mod lines;
pub mod neck;
pub mod players;
pub mod report;
pub mod row;
pub mod shape;
pub mod stroke;
pub mod swing;
pub mod take;
pub mod timing;
pub mod together;
pub mod touch;

use std::sync::OnceLock;

use openchair::arrange::Plan;
use openchair::chart::{Role, RoleSet};

use crate::shipped;
use row::Row;
use take::Take;

/// The performances of one song in one style that are looked at: chance may not save a style.
pub const SEEDS: [u64; 3] = [1, 2, 3];

/// Every shipped song in every style that goes with it. Made once.
pub fn takes() -> &'static [Take] {
    static TAKES: OnceLock<Vec<Take>> = OnceLock::new();
    TAKES.get_or_init(|| {
        let pairs = shipped::pairs().into_iter();
        let fitting = pairs.filter(|(_, song, style)| style.tempo.contains(&song.tempo));
        fitting
            .flat_map(|(path, song, style)| {
                let name = path.file_stem().unwrap().to_string_lossy().into_owned();
                SEEDS.map(|seed| Take::new(&name, &song, &style, &Plan::default(), seed))
            })
            .collect()
    })
}

/// Every song that fits a style's tempo, played once by a band.
fn once_each(band: RoleSet) -> Vec<Take> {
    let plan = Plan { band: Some(band), ..Plan::default() };
    let pairs = shipped::pairs().into_iter();
    let fitting = pairs.filter(|(_, song, style)| style.tempo.contains(&song.tempo));
    fitting
        .map(|(path, song, style)| {
            let name = path.file_stem().unwrap().to_string_lossy().into_owned();
            Take::new(&name, &song, &style, &plan, SEEDS[0])
        })
        .collect()
}

/// The same with a banjo in the band, each once. Made once.
pub fn banjo_takes() -> &'static [Take] {
    static TAKES: OnceLock<Vec<Take>> = OnceLock::new();
    TAKES.get_or_init(|| once_each(Role::BAND.into_iter().chain([Role::Banjo]).collect()))
}

/// The same with banjo and fiddle beside the band, each once. Made once.
pub fn all_chairs() -> &'static [Take] {
    static TAKES: OnceLock<Vec<Take>> = OnceLock::new();
    TAKES.get_or_init(|| {
        once_each(Role::BAND.into_iter().chain([Role::Banjo, Role::Fiddle]).collect())
    })
}

/// Every measure of the banjo, and of all chairs together.
pub fn banjo_rows(takes: &[Take]) -> Vec<Row> {
    vec![
        banjo::fingers(takes),
        banjo::notes(takes),
        banjo::lead_ins(takes),
        banjo::short_string(takes),
        lines::literal_repeats("every chair", all_chairs()),
    ]
}

/// Every measure of bass, chop and guitar.
pub fn rows(takes: &[Take]) -> Vec<Row> {
    let mut rows = vec![
        bass_notes::roots(takes),
        bass_notes::runs(takes),
        hands::shapes(Role::Chop, takes),
        hands::shapes(Role::Guitar, takes),
        hands::movement(takes),
        together::clashes(takes),
        together::registers(takes),
        lines::same_rhythm(takes),
        lines::same_rhythm_in_a_song(takes),
        lines::same_notes(takes),
        lines::literal_repeats("the band", takes),
        touch::same_velocity(takes),
        timing::on_the_grid(takes),
        timing::memory(takes),
        timing::asynchrony(takes),
    ];
    rows.extend(players::stray(takes));
    rows.extend(players::apart(takes));
    rows.extend(players::memory(takes));
    rows.extend(players::tempo(takes));
    rows.push(shape::verse_to_chorus(takes));
    rows.push(shape::first_to_last_chorus(takes));
    rows.push(players::backbeats(takes));
    rows.push(players::touch(takes));
    rows.extend(players::strums_alike(takes));
    rows
}
