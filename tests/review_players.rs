//! Players with one habit each, and whether the review names it.
#![allow(clippy::unwrap_used)] // A test fails by panicking.

#[path = "common/player.rs"]
mod player;

use openchair::chart::Role;
use openchair::review::{Anchor, Review, review};
use openchair::time::Nanos;
use player::{Evening, Habit, evening, take};

#[test]
#[ignore]
fn look() {
    let songs: Vec<(&str, Vec<Role>)> = vec![
        ("lantern-on-the-landing", vec![Role::Chop]),
        ("lantern-on-the-landing", vec![]),
        ("waltz-for-the-last-boat", vec![Role::Chop]),
        ("waltz-for-the-last-boat", vec![]),
        ("nine-geese-and-a-gander", vec![Role::Bass]),
        ("eels-in-the-kettle", vec![Role::Chop]),
        ("hand-on-the-rope", vec![]),
        ("moths-at-tobins-lamp", vec![Role::Guitar]),
    ];
    for (name, open) in &songs {
        let evening = evening(name, open, 100.0);
        let mut jobs = std::collections::BTreeMap::new();
        for bar in &evening.open.bars {
            *jobs.entry((format!("{}", bar.job), format!("{:?}", bar.singing))).or_insert(0) += 1;
        }
        println!(
            "== {name} {open:?} {} {:.0} swing {} {jobs:?}",
            evening.song.meter,
            evening.song.tempo.beats_per_minute(evening.song.meter),
            evening.played.swing.share()
        );
        for habit in Habit::ALL {
            for anchor in [Some(2.0), None] {
                let take = take(&evening, habit, 3, 2.0);
                let from = std::time::Instant::now();
                let got = review(
                    &evening.song,
                    &evening.played,
                    &evening.open,
                    &take,
                    anchor.map_or(Anchor::Find, |s| Anchor::Begins(Nanos((s * 1e9) as i64))),
                );
                let ms = from.elapsed().as_millis();
                match got {
                    Ok(r) => println!(
                        "{habit:?} {anchor:?} {} -> {:?} | sure {:.2} begins {:.3} {:?} mean {:.1} spread {:.1} band {:.1} rush {:.2} tones {:?} busy {:?} open {}/{} bars {:?} {ms} ms",
                        r.hits.len(),
                        r.advice.about,
                        r.sure,
                        r.begins,
                        r.against,
                        r.whole.timing.mean,
                        r.whole.timing.spread,
                        r.whole.timing.band_spread,
                        r.whole.timing.rushing,
                        r.whole.tones,
                        r.whole.busy,
                        r.whole.covered,
                        r.whole.open,
                        r.advice.bars
                    ),
                    Err(e) => println!("{habit:?} {anchor:?} {e}"),
                }
            }
        }
    }
}

#[test]
#[ignore]
fn strangers() {
    use openchair::review::NotReviewed;
    let names: Vec<String> = std::fs::read_dir("songs")
        .unwrap()
        .map(|e| e.unwrap().path())
        .filter(|p| p.extension().is_some_and(|e| e == "toml"))
        .map(|p| p.file_stem().unwrap().to_str().unwrap().to_owned())
        .collect();
    let evenings: Vec<(String, Evening)> =
        names.iter().map(|n| (n.clone(), evening(n, &[], 100.0))).collect();
    let tell = |r: Result<Review, NotReviewed>| match r {
        Ok(r) => format!("ok {:.2}", r.sure),
        Err(NotReviewed::OtherTempo { help, .. }) => {
            format!("TEMPO {}", &help[..help.len().min(26)])
        }
        Err(NotReviewed::OtherSong { found, help, .. }) => {
            format!("SONG {} {}", &found[5..8], &help[..help.len().min(20)])
        }
        Err(e) => format!("{e}"),
    };
    for (name, one) in &evenings {
        println!(
            "== {name} {} {} {:.0}",
            one.song.key,
            one.song.meter,
            one.song.tempo.beats_per_minute(one.song.meter)
        );
        for (other, two) in &evenings {
            let mut take = take(two, Habit::Steady, 5, 2.0);
            let plain = tell(review(&one.song, &one.played, &one.open, &take, Anchor::Find));
            // The same in the key and at the tempo of this one.
            let by = (i32::from(one.song.key.tonic.pitch_class())
                - i32::from(two.song.key.tonic.pitch_class()))
            .rem_euclid(12);
            let ratio = f64::from(one.song.tempo.micros_per_quarter())
                / f64::from(two.song.tempo.micros_per_quarter());
            for hit in &mut take.hits {
                hit.at = Nanos((hit.at.0 as f64 * ratio) as i64);
                hit.pitches = hit
                    .pitches
                    .iter()
                    .map(|p| openchair::theory::MidiNote::clamped(i32::from(p.get()) + by))
                    .collect();
            }
            let adapted = tell(review(&one.song, &one.played, &one.open, &take, Anchor::Find));
            println!("   {other:28} {} {:36} | {adapted}", two.song.meter, plain);
        }
        for key in [1, 2, 5, 7] {
            let mut t = take(one, Habit::Steady, 5, 2.0);
            for hit in &mut t.hits {
                hit.pitches = hit
                    .pitches
                    .iter()
                    .map(|p| openchair::theory::MidiNote::clamped(i32::from(p.get()) + key))
                    .collect();
            }
            print!(
                "   key +{key}: {}",
                tell(review(&one.song, &one.played, &one.open, &t, Anchor::Find))
            );
        }
        println!();
        for speed in [0.7, 0.8, 0.9, 0.95, 0.97, 1.03, 1.06, 1.1, 1.25] {
            let mut t = take(one, Habit::Steady, 5, 2.0);
            for hit in &mut t.hits {
                hit.at = Nanos((hit.at.0 as f64 / speed) as i64);
            }
            print!(
                "   x{speed} {}",
                tell(review(&one.song, &one.played, &one.open, &t, Anchor::Find))
            );
        }
        println!();
    }
}
