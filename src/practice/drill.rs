use super::Change;
use crate::arrange::Arrangement;
use crate::chart::{ChartBar, Dynamic, Ending, Kickoff, Pass, RoleSet, Section, Share, Song, Stop};
use crate::theory::Chord;
use crate::time::Meter;

/// A song of one change: `bars` bars of its first chord and as many of the other, to be played round
/// and round ([`Arrangement::excerpt`] of all its bars), so that the way back is practised too.
///
/// It has the style, meter, tempo and swing of `song`, the key, capo and line-up of `played`, which is
/// an arrangement of it. Nobody sings or leads, so the band accompanies as it does where nothing goes
/// on but the change; each chord is a line of the chart, and so a phrase.
pub fn drill(song: &Song, played: &Arrangement, change: &Change, bars: u32) -> Song {
    let bars = bars.max(1);
    let name = change.to_string();
    let lines = [(0, change.from), (1, change.to)];
    let bars = lines.into_iter().flat_map(|(line, chord)| {
        (0..bars).map(move |at| bar(song.meter, chord, line, at == 0, at + 1 == bars))
    });
    Song {
        title: song.title.clone(),
        composer: None,
        notes: None,
        key: played.key,
        meter: song.meter,
        tempo: song.tempo,
        style: song.style.clone(),
        swing: song.swing,
        drone: played.drone,
        capo: Some(played.capo),
        band: played.band,
        kickoff: Kickoff::None,
        ending: Ending::None,
        sections: vec![Section {
            name: name.clone(),
            dynamics: Dynamic::default(),
            pickup: None,
            bars: bars.collect(),
        }],
        form: vec![Pass { section: 0, lead: None, sit_out: RoleSet::EMPTY, label: name }],
    }
}

fn bar(meter: Meter, chord: Chord, line: u32, line_start: bool, line_end: bool) -> ChartBar {
    ChartBar {
        meter: meter.into(),
        chords: vec![Share::new(meter.bar(), Some(chord))],
        singing: vec![Share::new(meter.bar(), false)],
        stops: vec![Share::new(meter.bar(), Stop::PlayOn)],
        melody: Vec::new(),
        line,
        line_start,
        line_end,
    }
}

#[cfg(test)]
mod tests {
    use super::super::changes;
    use super::super::testing::song;
    use super::*;
    use crate::arrange::{Plan, arrange};
    use crate::theory::Key;

    #[test]
    fn two_chords_round_and_round_in_the_songs_key() {
        let song = song("['a: voice']", &[("a", "| G | C | D |")]);
        let plan = Plan { key: Some(Key::parse("A").unwrap()), ..Plan::default() };
        let played = arrange(&song, &plan).unwrap();
        let change = changes(&played)[0];
        assert_eq!(change.to_string(), "A to D");
        let drill = drill(&song, &played, &change, 2);
        let laid = arrange(&drill, &Plan::default()).unwrap();
        assert_eq!((laid.key, laid.capo, laid.meter), (played.key, played.capo, played.meter));
        assert_eq!(laid.tempo, played.tempo);
        let round = laid.excerpt(1..=4, 3).unwrap();
        assert_eq!(round.bars.len(), 12);
        for (bar, at) in round.bars.iter().zip(0..) {
            let chord = round.chord(round.spans[bar.spans.start].chord.unwrap()).unwrap();
            let (wanted, changes) = (if at % 4 < 2 { "A" } else { "D" }, at % 2 == 1);
            assert_eq!((chord.to_string().as_str(), bar.facts.change_next), (wanted, changes));
            assert_eq!((bar.facts.phrase_end, bar.turn), (changes, at % 2));
            assert!(!bar.facts.singer_sings && !bar.facts.singer_pauses);
            assert!(!bar.facts.instrument_leads);
        }
        assert_eq!(round.passes.len(), 3);
        assert_eq!(round.passes[0].label, "A to D");
    }
}
