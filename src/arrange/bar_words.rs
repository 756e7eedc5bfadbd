use super::{Arrangement, Bar, Span};
use crate::chart::RoleSet;
use crate::text::list;

/// The pass, and whose chair is open in it.
pub fn pass_words(song: &Arrangement, bar: &Bar, open: RoleSet) -> String {
    let label = song.passes.get(bar.pass).map_or("", |pass| pass.label.as_str());
    let open: Vec<&str> =
        song.band.iter().filter(|&role| open.contains(role)).map(|role| role.as_str()).collect();
    match open.as_slice() {
        [] => label.to_owned(),
        open => format!("{label} (open chair: {})", list(open, "and")),
    }
}

/// The bar as a chart writes it, each chord at its share: `G`, `C D`, `G / / D`.
pub fn bar_words(song: &Arrangement, bar: &Bar) -> String {
    let spans = song.spans.get(bar.spans.clone()).unwrap_or_default();
    let name = |span: &Span| {
        span.chord
            .and_then(|id| song.chord(id))
            .map_or_else(|| "N.C.".to_owned(), |c| c.to_string())
    };
    let lengths: Vec<i64> = spans
        .iter()
        .map(|span| (span.end.min(bar.end()) - span.start.max(bar.start)).get())
        .collect();
    let unit = lengths.iter().copied().fold(0, gcd).max(1);
    let words: Vec<String> = spans
        .iter()
        .zip(lengths)
        .flat_map(|(span, length)| {
            let held = usize::try_from(length / unit - 1).unwrap_or(0);
            std::iter::once(name(span)).chain(std::iter::repeat_n("/".to_owned(), held))
        })
        .collect();
    words.join(" ")
}

fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { gcd(b, a % b) }
}
