//! How well the band plays: a table of what is measured of its notes, over all shipped songs and styles,
//! and how it swings at each tempo. Nothing here is a matter of speed.
//!
//! `make musicianship`, or `cargo bench --profile dev --bench musicianship`. Ends with status 1 if a
//! bound is not met; tests/musicianship holds them.
#![allow(missing_docs, clippy::unwrap_used)] // A measurement stops where it cannot go on.

#[path = "../tests/musicianship/measure/mod.rs"]
mod measure;
#[path = "../tests/common/midi_file.rs"]
mod midi_file;
#[path = "../tests/common/shipped.rs"]
mod shipped;

use std::process::ExitCode;

use measure::{banjo_rows, banjo_takes, leads, report, rows, swing, takes};

fn main() -> ExitCode {
    let heard = swing::heard();
    let mut rows = rows(takes());
    rows.extend(banjo_rows(banjo_takes()));
    rows.extend(leads::rows(leads::lead_takes()));
    rows.extend(swing::rows(&heard));
    print!("{}", report::report(takes(), &rows, &heard));
    print!("{}", leads::table(leads::lead_takes()));
    if rows.iter().all(measure::row::Row::is_met) { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
