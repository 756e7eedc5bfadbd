use crate::arrange::{Arrangement, Bar};
use crate::text::list;
use crate::time::Nanos;

/// What is shown while a song plays: a line a bar, each with the time at which it is due.
#[derive(Clone, Debug)]
pub(super) struct BarLines {
    lines: Vec<(Nanos, String)>,
    shown: usize,
}

impl BarLines {
    /// All lines of a song.
    pub(super) fn new(song: &Arrangement) -> Self {
        let mut lines = Vec::new();
        if song.count_in > 0 {
            lines.push((Nanos(0), "count-in".to_owned()));
        }
        let mut pass = None;
        for (number, bar) in (1..).zip(&song.bars) {
            let at = song.tempo.nanos(bar.start);
            if pass != Some(bar.pass) {
                pass = Some(bar.pass);
                lines.push((at, pass_line(song, bar)));
            }
            lines.push((at, format!("{number:>5}  {}", chords(song, bar))));
        }
        Self { lines, shown: 0 }
    }

    /// The lines that have come due since the last call. At position 0 nothing has begun yet.
    pub(super) fn due(&mut self, position: Nanos) -> &[(Nanos, String)] {
        let from = self.shown;
        self.shown += self.lines.iter().skip(from).take_while(|(at, _)| *at < position).count();
        self.lines.get(from..self.shown).unwrap_or_default()
    }
}

/// The pass, and whose chair is open in it.
fn pass_line(song: &Arrangement, bar: &Bar) -> String {
    let label = song.passes.get(bar.pass).map_or("", |pass| pass.label.as_str());
    let open: Vec<&str> =
        song.band.iter().filter(|&r| bar.resting.contains(r)).map(|r| r.as_str()).collect();
    match open.as_slice() {
        [] => label.to_owned(),
        open => format!("{label} (open chair: {})", list(open, "and")),
    }
}

/// The bar as a chart writes it, each chord at its share: `G`, `C D`, `G / / D`.
fn chords(song: &Arrangement, bar: &Bar) -> String {
    let spans = song.spans.get(bar.spans.clone()).unwrap_or_default();
    let name = |span: &crate::arrange::Span| {
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
