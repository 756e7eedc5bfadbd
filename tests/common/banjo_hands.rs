//! What a banjo player's hands can do, asked of every pick of a part.

use std::collections::BTreeSet;

use openchair::arrange::Arrangement;
use openchair::backup::{Backup, LEAP, LEAP_MILLIS, MILLIS_A_FRET};
use openchair::coverage::{Coverage, Job};
use openchair::perform::Pick;
use openchair::theory::fretboard::banjo::Finger;
use openchair::time::Ticks;

/// gDGBD, first string first (reference/instruments.json).
const OPEN: [u8; 5] = [62, 59, 55, 50, 67];

fn together(picks: &[Pick]) -> impl Iterator<Item = &[Pick]> {
    picks.chunk_by(|a, b| a.at == b.at)
}

pub fn of_bar(part: &Backup, bar: usize) -> Vec<Pick> {
    part.picks.iter().filter(|pick| pick.bar as usize == bar).copied().collect()
}

/// The widest that stopped frets lie apart under one hand: four frets, five from the sixth up.
fn span_fits(frets: impl Iterator<Item = u8>) -> bool {
    let stopped: Vec<u8> = frets.filter(|fret| *fret > 0).collect();
    let (Some(low), Some(high)) = (stopped.iter().min(), stopped.iter().max()) else { return true };
    high - low <= if *low >= 6 { 4 } else { 3 }
}

/// How far a hand must move along the neck from one set of frets to another.
fn shift(from: &[Pick], to: &[Pick]) -> u8 {
    let range = |picks: &[Pick]| {
        let stopped = || picks.iter().map(|pick| pick.fret).filter(|fret| *fret > 0);
        Some((stopped().min()?, stopped().max()?))
    };
    let (Some((low, high)), Some((next_low, next_high))) = (range(from), range(to)) else {
        return 0;
    };
    let reach = if low.min(next_low) >= 6 { 4 } else { 3 };
    let apart = high.max(next_high) - low.min(next_low);
    // The hand lies anywhere around what it stops.
    apart.saturating_sub(reach)
}

pub fn hold_hands(name: &str, song: &Arrangement, part: &Backup) {
    let moments: Vec<&[Pick]> = together(&part.picks).collect();
    let by_fingers: Vec<Pick> =
        part.picks.iter().filter(|pick| pick.finger().is_some()).copied().collect();
    for picks in together(&by_fingers) {
        let fingers: BTreeSet<_> = picks.iter().map(Pick::finger).collect();
        assert_eq!(fingers.len(), picks.len(), "{name}: {picks:?}");
    }
    for picks in &moments {
        let strings: BTreeSet<_> = picks.iter().map(|pick| pick.string).collect();
        assert_eq!(strings.len(), picks.len(), "{name} {picks:?}");
        assert!(span_fits(picks.iter().map(|pick| pick.fret)), "{name} {picks:?}");
        for pick in *picks {
            assert!((1..=5).contains(&pick.string) && pick.fret + part.capo <= 22, "{name}");
            let open = OPEN[usize::from(pick.string) - 1];
            assert_eq!(pick.pitch.get(), open + pick.fret + part.capo, "{name} {pick:?}");
            let Some(finger) = pick.finger() else { continue };
            assert!(finger.effort(pick.string).is_some(), "{name} {pick:?}");
            assert!(pick.string != 5 || finger == Finger::Thumb && pick.fret == 0, "{name}");
        }
    }
    let picked: Vec<&[Pick]> = together(&by_fingers).collect();
    for pair in picked.windows(2) {
        let gap = pair[1][0].at - pair[0][0].at;
        assert!(gap > Ticks::ZERO, "{name}");
        for pick in pair[1] {
            let before = pair[0].iter().find(|other| other.finger() == pick.finger());
            assert!(gap > Ticks::EIGHTH || before.is_none(), "{name}: {pick:?}");
        }
    }
    let stopped: Vec<&[Pick]> =
        moments.into_iter().filter(|picks| picks.iter().any(|pick| pick.fret > 0)).collect();
    for pair in stopped.windows(2) {
        let millis = song.pace.nanos(pair[1][0].at - pair[0][0].at).seconds() * 1000.0;
        let shift = f64::from(shift(pair[0], pair[1]));
        let frets = || pair[0].iter().chain(pair[1]).map(|pick| pick.fret).filter(|fret| *fret > 0);
        let apart = frets().max().unwrap() - frets().min().unwrap();
        let least = if apart >= LEAP { LEAP_MILLIS } else { shift * MILLIS_A_FRET };
        assert!(
            least <= millis && shift * MILLIS_A_FRET <= millis,
            "{name}: {:?} to {:?}",
            pair[0],
            pair[1]
        );
    }
}

/// What sounds while one chord of one bar is held lies under one hand, but for a finger's breadth; a written tune
/// that the player breaks goes where it goes.
pub fn hold_still(name: &str, song: &Arrangement, open: &Coverage, part: &Backup) {
    for (index, bar) in song.bars.iter().enumerate() {
        if bar.melody.is_some() && open.bars[index].job == Job::Lead {
            continue;
        }
        for span in &song.spans[bar.spans.clone()] {
            let frets: Vec<u8> = of_bar(part, index)
                .iter()
                .filter(|pick| (span.start..span.end).contains(&pick.at) && pick.fret > 0)
                .map(|pick| pick.fret)
                .collect();
            if let (Some(low), Some(high)) = (frets.iter().min(), frets.iter().max()) {
                assert!(high - low <= 5, "{name} bar {}: {frets:?}", bar.number);
            }
        }
    }
}
