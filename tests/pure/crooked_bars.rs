//! Bars of lengths that no song goes by: written, played, and kept as others read them.

use openchair::arrange::{Arrangement, Plan, arrange};
use openchair::band::Role;
use openchair::chart::{Song, Tune, read_song, write_song};
use openchair::interchange::read_abc;
use openchair::perform::{Performance, perform};
use openchair::text::{Problems, Source};
use openchair::time::{BarMeter, Crooked, Meter, Ticks};

use crate::common::shipped;

fn song(meter: Meter, style: &str, chords: &str) -> Song {
    shipped::song(&format!(
        "title = 'Stile and Ladder'\nkey = 'G'\nmeter = '{meter}'\ntempo = 100\nstyle = '{style}'\nform = ['a']\n\
         band = ['bass', 'chop', 'guitar', 'banjo', 'fiddle']\nending = 'none'\n[section.a]\nchords = '{chords}'\n"
    ))
}

fn played(song: &Song) -> (Arrangement, Performance) {
    let arrangement = arrange(song, &Plan::default()).unwrap();
    let style = shipped::styles().into_iter().find(|style| style.name == song.style).unwrap();
    let performance = perform(&arrangement, &style, 1).unwrap();
    (arrangement, performance)
}

const STYLES: [(Meter, &str); 5] = [
    (Meter::FourFour, "boom-chick"),
    (Meter::TwoTwo, "breakdown"),
    (Meter::TwoFour, "boom-chick"),
    (Meter::ThreeFour, "waltz"),
    (Meter::SixEight, "jig"),
];

#[test]
fn every_length_is_read_played_and_written_in_every_meter() {
    for (meter, style) in STYLES {
        for crooked in Crooked::ALL {
            let own = BarMeter::Crooked(crooked);
            let song = song(meter, style, &format!("| G | (bar {own}) D | C | G |"));
            let bars = &song.sections[0].bars;
            assert_eq!(bars[1].meter, own);
            let back = write_song(&song);
            assert!(back.contains(&format!("({own}) D")), "{back}");
            let read = read_song(&Source::new("s", back).unwrap(), &mut Problems::new());
            assert_eq!(read.unwrap().0, song);
            let (arranged, performance) = played(&song);
            let bar = &arranged.bars[1];
            assert_eq!((bar.meter, bar.gait, bar.end() - bar.start), (own, meter, own.bar()));
            assert_eq!(arranged.bars[2].start, bar.end());
            // The bass is on the root where the bar begins, and nobody plays over its end as if it were a whole one.
            let bass = performance.parts.iter().find(|part| part.role == Role::Bass).unwrap();
            let notes: Vec<_> = bass.notes.iter().filter(|note| note.bar == 1).collect();
            assert_eq!(notes[0].pitch.pitch_class(), 2, "{own} in {meter}");
            for part in &performance.parts {
                let own_notes = part.notes.iter().filter(|note| note.bar == 1);
                let late = own_notes.filter(|note| note.start >= bar.end() + Ticks::EIGHTH).count();
                assert_eq!(late, 0, "{} {own} in {meter}", part.role);
            }
        }
    }
}

#[test]
fn a_longer_bar_goes_on_with_boom_and_chick() {
    let song = song(Meter::FourFour, "boom-chick", "| G | (5/4) G | (6/4) G | (1/4) G | G |");
    let (arranged, performance) = played(&song);
    let beats = |role, bar: usize| -> Vec<i64> {
        let part = performance.parts.iter().find(|part| part.role == role).unwrap();
        let start = arranged.bars[bar].start;
        let own = part.notes.iter().filter(|note| note.bar as usize == bar);
        let mut beats: Vec<i64> = own
            .map(|note| (note.start - start + Ticks::EIGHTH).get().div_euclid(Ticks::QUARTER.get()))
            .collect();
        beats.dedup();
        beats
    };
    assert_eq!(beats(Role::Chop, 0), [1, 3]);
    assert_eq!(beats(Role::Chop, 1), [1, 3]);
    assert_eq!(beats(Role::Chop, 2), [1, 3, 5]);
    assert!(beats(Role::Chop, 3).is_empty());
    assert_eq!(beats(Role::Bass, 3), [0]);
    assert!(beats(Role::Bass, 1).contains(&4) && beats(Role::Bass, 2).contains(&4));
}

#[test]
fn what_stands_first_and_is_short_is_a_pickup_unless_it_says_that_it_is_a_bar() {
    let first = |chords: &str| {
        let song = song(Meter::FourFour, "boom-chick", chords);
        let section = song.sections[0].clone();
        (section.pickup.map(|pickup| pickup.length), section.bars[0].meter.to_string())
    };
    assert_eq!(first("| (1/4) D | G |"), (Some(Ticks::QUARTER), "4/4".to_owned()));
    assert_eq!(first("| (bar 1/4) D | G |"), (None, "1/4".to_owned()));
    assert_eq!(first("| (5/4) D | G |"), (None, "5/4".to_owned()));
    assert_eq!(first("| (1/4) D | (1/4) D | G |"), (Some(Ticks::QUARTER), "1/4".to_owned()));
}

#[test]
fn a_tune_with_bars_of_many_lengths_is_as_long_as_others_read_it() {
    let text = include_str!("../reference/crooked.abc");
    let theirs: Vec<(i64, u8)> =
        serde_json::from_str(include_str!("../reference/crooked.json")).unwrap();
    let (song, _) = read_abc(&Source::new("x", text).unwrap(), None).tunes[0].song().unwrap();
    let mut ours: Vec<(i64, u8)> = Vec::new();
    let mut at = Ticks::ZERO;
    let mut add = |shares: &[openchair::chart::Share<Tune>], mut at: Ticks| {
        for share in shares {
            if let Tune::Note(note) = share.value {
                ours.push((at.get() / Ticks::EIGHTH.get(), note.get()));
            }
            at += share.length;
        }
    };
    // Once through: the fiddle's.
    let once = song.form.iter().filter(|pass| pass.label.ends_with("fiddle"));
    for section in once.map(|pass| &song.sections[pass.section]) {
        if let Some(pickup) = &section.pickup {
            add(&pickup.melody, at - pickup.length);
        }
        for bar in &section.bars {
            add(&bar.melody, at);
            at += bar.meter.bar();
        }
    }
    let lead_in = ours[0].0;
    let ours: Vec<_> = ours.into_iter().map(|(at, pitch)| (at - lead_in, pitch)).collect();
    assert_eq!(ours, theirs);
}
