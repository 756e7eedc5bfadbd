use super::Slowing;
use crate::arrange::{Arrangement, BarKind};
use crate::time::Ticks;

/// Where an ending slows down and by how much: beat by beat through the bar before the last chord, which
/// then stands at `share` of the tempo. Nothing for a song without an ending, and for a share of 1.
///
/// The tempo falls as a runner's does who comes to a stop, v(x) = sqrt(1 + (w² − 1)·x), where x is the
/// way gone and w the share at its end (Friberg & Sundberg 1999, "Does music performance allude to
/// locomotion?", J. Acoust. Soc. Am. 105, from memory).
pub(super) fn slowing(song: &Arrangement, share: f64) -> Vec<Slowing> {
    let [.., before, last] = song.bars.as_slice() else { return Vec::new() };
    let ends = song.passes.get(last.pass).is_some_and(|pass| pass.is_ending);
    if !ends || share >= 1.0 {
        return Vec::new();
    }
    let chord = match last.kind {
        BarKind::TagEnd => last.start + Ticks::new(last.meter.bar().get() / 2),
        _ => last.start,
    };
    let way = (chord - before.start).get() as f64;
    let beats = [before, last]
        .into_iter()
        .flat_map(|bar| (0..bar.beats()).map(|beat| (bar.start + bar.beat() * beat, bar.beat())));
    let mut out: Vec<Slowing> = beats
        .take_while(|&(at, _)| at < chord)
        .map(|(at, beat)| {
            // As slow as in the middle of the beat.
            let gone = ((at - before.start).get() as f64 + beat.get() as f64 / 2.0) / way;
            let speed = (1.0 + (share * share - 1.0) * gone.min(1.0)).max(share * share).sqrt();
            Slowing { at, permille: permille(speed) }
        })
        .collect();
    out.push(Slowing { at: chord, permille: permille(share) });
    out
}

/// The time of a quarter in thousandths of what it is at full tempo.
fn permille(speed: f64) -> u32 {
    (1000.0 / speed).round() as u32
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::arrange::{Plan, arrange};
    use crate::chart::read_song;
    use crate::text::{Problems, Source};

    fn song(ending: &str) -> Arrangement {
        let toml = format!(
            "title = 'Tar Bucket'\nkey = 'G'\nmeter = '4/4'\ntempo = 120\nstyle = 'any'\n\
             ending = '{ending}'\nform = ['a']\n[section.a]\nchords = '| G | C |'\n"
        );
        let source = Source::new("song.toml", toml).unwrap();
        let (song, _) = read_song(&source, &mut Problems::new()).unwrap();
        arrange(&song, &Plan::default()).unwrap()
    }

    #[test]
    fn it_slows_down_beat_by_beat_and_stands() {
        let found = slowing(&song("hit"), 0.8);
        let at: Vec<i64> = found.iter().map(|slow| slow.at.get()).collect();
        assert_eq!(at, [3840, 4800, 5760, 6720, 7680]);
        let by: Vec<u32> = found.iter().map(|slow| slow.permille).collect();
        assert!(by.is_sorted() && by[0] > 1000 && by[4] == 1250, "{by:?}");
        assert_eq!(slowing(&song("tag"), 0.8)[0].at.get(), 7680, "through the tag");
    }

    #[test]
    fn no_end_and_no_share_is_no_slowing() {
        assert_eq!(slowing(&song("none"), 0.8), []);
        assert_eq!(slowing(&song("hit"), 1.0), []);
        assert_eq!(slowing(&song("hit").excerpt(1..=2, 1).unwrap(), 0.8), []);
    }
}
