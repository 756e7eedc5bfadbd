use super::arrangement::{Bar, BarKind, ChordId, Span};
use crate::theory::{Chord, Key};

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

/// Fills in which bars are all on the home chord: of the key's own root and third, whatever is added to
/// them, without another bass.
pub(super) fn find_home(bars: &mut [Bar], spans: &[Span], chords: &[Chord], key: Key) {
    let home = key.tonic_chord();
    let is_home = |chord: &Chord| {
        let third = chord.quality.third_or_suspended();
        chord.root.pitch_class() == home.root.pitch_class()
            && chord.bass_class() == home.root.pitch_class()
            && third.is_none_or(|third| home.quality.third() == Some(third))
    };
    for bar in bars {
        let [span] = spans.get(bar.spans.clone()).unwrap_or_default() else { continue };
        let chord = span.chord.and_then(|id| chords.get(id.0 as usize));
        bar.facts.home_chord = chord.is_some_and(is_home);
    }
}

#[cfg(test)]
mod tests {
    use crate::arrange::{Plan, arrange};
    use crate::chart::read_song;
    use crate::text::{Problems, Source};

    fn at_home(key: &str, chords: &str) -> Vec<bool> {
        let toml = format!(
            "title = 't'\nkey = '{key}'\nmeter = '4/4'\ntempo = 100\nstyle = 'boom-chick'\n\
             ending = 'none'\nform = ['a']\n[section.a]\nchords = '''\n{chords}\n'''\n"
        );
        let source = Source::new("t", toml).unwrap();
        let mut problems = Problems::new();
        let (song, _) = read_song(&source, &mut problems).unwrap();
        let sheet = arrange(&song, &Plan::default()).unwrap();
        sheet.bars.iter().map(|bar| bar.facts.home_chord).collect()
    }

    #[test]
    fn home_is_the_keys_own_chord_for_a_whole_bar() {
        let found = at_home("G", "| G | G7 | G5 | Gm | G/B | G / D / | C | N.C. | 1 |");
        assert_eq!(found, [true, true, true, false, false, false, false, false, true]);
        assert_eq!(at_home("Am", "| Am | A | Am7 |"), [true, false, true]);
        assert_eq!(at_home("A mixolydian", "| A | G | Am |"), [true, false, false]);
    }
}
