use super::arrangement::{Bar, BarKind, ChordId, Span};

/// Fills in what each bar knows of the one before and the one after. `round` says that the first bar
/// comes after the last.
pub(super) fn look_round(bars: &mut [Bar], spans: &[Span], round: bool) {
    let begins = |bar: &Bar| spans.get(bar.spans.start).copied();
    let ends = |bar: &Bar| spans.get(bar.spans.clone()).and_then(<[Span]>::last).copied();
    let head = bars.first().filter(|_| round).and_then(begins);
    let tail = bars.last().filter(|_| round).and_then(ends);
    let mut next_begins: Option<ChordId> = head.and_then(|span| span.chord);
    for bar in bars.iter_mut().rev() {
        let (Some(first), Some(last)) = (begins(bar), ends(bar)) else { continue };
        bar.facts.change_next = next_begins.is_some() && next_begins != last.chord;
        bar.facts.new_chord = first.start == bar.start;
        next_begins = first.chord;
    }
    // What comes after a kickoff is new to those who waited.
    if let Some(first) = bars.iter_mut().find(|bar| bar.kind != BarKind::Kickoff) {
        first.facts.new_chord = true;
    }
    // A chord that lasts over the end of the round is no new one.
    if let (Some(first), Some(head), Some(tail)) = (bars.first_mut(), head, tail) {
        first.facts.new_chord = head.chord != tail.chord;
    }
}
