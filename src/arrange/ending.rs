use crate::chart::{ChartBar, Ending, Share, Stop};
use crate::style::Tag;
use crate::theory::{Chord, Key, Mode, Quality};
use crate::time::{Meter, Ticks};

/// True if a tag has the stock line, which is in bars of two halves.
pub(super) fn has_line(tag: Tag, meter: Meter) -> bool {
    tag == Tag::Line && !matches!(meter, Meter::ThreeFour | Meter::SixEight)
}

/// The bars after the form and whatever of it is played over. `hit`, `cold` and the last lines: one bar, the home
/// chord. `tag`: a bar of home and the chord that
/// leads back to it, then the hit; with the stock line a bar of home, then half a bar of that chord and
/// the hit. That chord is the 5, or in a modal tune the flat 7, which is how
/// such tunes come home (common practice, no source).
pub(super) fn ending_bars(ending: Ending, meter: Meter, key: Key, tag: Tag) -> Vec<ChartBar> {
    let home = key.tonic_chord();
    match ending {
        Ending::None => Vec::new(),
        Ending::Hit | Ending::Cold | Ending::LastLine | Ending::LastLineTwice => {
            vec![bar(meter, vec![home])]
        }
        Ending::Tag => {
            let [.., fifth, _, seventh] = key.scale();
            let root = match key.mode {
                Mode::Major | Mode::Minor => fifth,
                Mode::Mixolydian | Mode::Dorian => seventh,
            };
            let leading = Chord { root, quality: Quality::MAJOR, bass: None };
            if has_line(tag, meter) {
                return vec![bar(meter, vec![home]), bar(meter, vec![leading, home])];
            }
            let halves =
                meter.bar().split(2).is_some_and(|half| half.is_multiple_of(Ticks::EIGHTH));
            // Three beats have no middle: the whole bar is that chord's.
            let lead_in = if halves && meter != Meter::ThreeFour {
                vec![home, leading]
            } else {
                vec![leading]
            };
            vec![bar(meter, lead_in), bar(meter, vec![home])]
        }
    }
}

fn bar(meter: Meter, chords: Vec<Chord>) -> ChartBar {
    let length = meter.bar().split(chords.len() as i64).unwrap_or(meter.bar());
    ChartBar {
        meter: meter.into(),
        chords: chords.into_iter().map(|chord| Share { length, value: Some(chord) }).collect(),
        singing: vec![Share { length: meter.bar(), value: false }],
        stops: vec![Share { length: meter.bar(), value: Stop::PlayOn }],
        melody: Vec::new(),
        line: 0,
        line_start: true,
        line_end: true,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chords(ending: Ending, meter: Meter, key: &str) -> Vec<String> {
        with(Tag::Chords, ending, meter, key)
    }

    fn with(tag: Tag, ending: Ending, meter: Meter, key: &str) -> Vec<String> {
        let bars = ending_bars(ending, meter, Key::parse(key).unwrap(), tag);
        let shares = bars.iter().flat_map(|bar| &bar.chords);
        shares.filter_map(|share| share.value).map(|chord| chord.to_string()).collect()
    }

    #[test]
    fn an_ending_comes_home() {
        assert_eq!(chords(Ending::Hit, Meter::FourFour, "G"), ["G"]);
        for ending in [Ending::Cold, Ending::LastLine, Ending::LastLineTwice] {
            assert_eq!(chords(ending, Meter::FourFour, "G"), ["G"], "{ending:?}");
        }
        assert_eq!(chords(Ending::Tag, Meter::FourFour, "G"), ["G", "D", "G"]);
        assert_eq!(chords(Ending::Tag, Meter::ThreeFour, "G"), ["D", "G"]);
        assert_eq!(chords(Ending::Tag, Meter::FourFour, "Am"), ["Am", "E", "Am"]);
        assert_eq!(chords(Ending::Tag, Meter::TwoTwo, "A mixolydian"), ["A", "G", "A"]);
        assert!(chords(Ending::None, Meter::SixEight, "D").is_empty());
        let line = |meter, key| with(Tag::Line, Ending::Tag, meter, key);
        assert_eq!(line(Meter::FourFour, "G"), ["G", "D", "G"]);
        assert_eq!(line(Meter::TwoFour, "A dorian"), ["Am", "G", "Am"]);
        assert_eq!(line(Meter::ThreeFour, "G"), ["D", "G"], "three beats have no such line");
    }
}
