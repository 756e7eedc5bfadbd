//! All measures as a table.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use super::row::Row;
use super::swing::Heard;
use super::take::Take;

/// How many places are told of a bound that is not met.
const MISSES: usize = 12;

pub fn report(takes: &[Take], rows: &[Row], swing: &[Heard]) -> String {
    let songs: BTreeSet<&str> = takes.iter().map(|take| take.song.as_str()).collect();
    let styles: BTreeSet<&str> = takes.iter().map(|take| take.style.name.as_str()).collect();
    let seeds: BTreeSet<u64> = takes.iter().map(|take| take.seed).collect();
    let mut out = String::new();
    let _ = writeln!(
        out,
        "{} songs and {} styles: {} performances, by {} seeds\n",
        songs.len(),
        styles.len(),
        takes.len(),
        seeds.len()
    );
    out.push_str("| measure | value | bound | met | worst |\n| --- | --- | --- | --- | --- |\n");
    for row in rows {
        let _ = writeln!(out, "{row}");
    }
    for row in rows.iter().filter(|row| !row.is_met()) {
        let _ = write!(out, "\nnot met: {}\n{}", row.name, row.first_misses(MISSES));
    }
    out.push_str(
        "\nSwing by tempo; published is the ratio with a short note of 100 ms, 3.5 at most \
         (Friberg & Sundström 2002)\n\n\
         | style | meter | beats a minute | pairs a minute | stated | heard | short note, ms | \
         published |\n| --- | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    for heard in swing {
        let stated = heard.stated / (1.0 - heard.stated);
        let short = if heard.is_even() {
            format!("even, {:.0}", heard.short())
        } else {
            format!("{:.0}", heard.short())
        };
        let _ = writeln!(
            out,
            "| {} | {} | {:.0} | {:.0} | {stated:.2} | {:.2} | {short} | {:.2} |",
            heard.style,
            heard.meter,
            heard.tempo,
            heard.pairs,
            heard.ratio(),
            heard.published()
        );
    }
    out
}
