//! Players with one habit each, made up and seeded, and whether the review names it.

use crate::common::player;
use crate::common::player::{Evening, Habit, evening, evening_with, take};
use openchair::backup::{Level, Player, backup};
use openchair::chart::Role;
use openchair::coverage::{BarCoverage, Job, Singing};
use openchair::review::{Anchor, Finding, NotReviewed, Part, Review, TimingReference, review};
use openchair::take::{Hit, Take};
use openchair::theory::MidiNote;
use openchair::time::Nanos;
use proptest::prelude::*;

/// How often each habit is played.
const SEEDS: u64 = 100;

/// When the players' recordings begin before the song does, in seconds.
const BEGINS: f64 = 2.0;

fn known() -> Anchor {
    Anchor::Begins(Nanos((BEGINS * 1e9) as i64))
}

fn of(evening: &Evening, take: &Take, anchor: Anchor) -> Result<Review, NotReviewed> {
    review(&evening.song, &evening.played, &evening.open, take, anchor)
}

/// What a review should say of a habit. Wrong chords may be told by their names, where they are the song's.
fn named(habit: Habit, told: Part) -> Part {
    match habit {
        Habit::WrongChords if matches!(told, Part::ChordWrong | Part::ChordsMissed) => told,
        Habit::Steady => Part::Steady,
        Habit::Rushing => Part::Rushing,
        Habit::Dragging => Part::Dragging,
        Habit::Uneven => Part::Uneven,
        Habit::WrongChords => Part::Chords,
        Habit::Busy => Part::Busy,
    }
}

/// Songs in three meters from 76 to 116 beats a minute, even and swung, in which a singer sings.
fn evenings() -> Vec<Evening> {
    vec![
        evening("lantern-on-the-landing", &[Role::Chop], 100.0),
        evening("waltz-for-the-last-boat", &[], 100.0),
        evening("hand-on-the-rope", &[], 100.0),
        evening("lantern-on-the-landing", &[], 90.0),
        evening_with("waltz-for-the-last-boat", &[Role::Banjo], &[], 100.0),
        evening_with("hand-on-the-rope", &[Role::Banjo], &[], 100.0),
        evening_with("lantern-on-the-landing", &[Role::Banjo], &[], 90.0),
        evening("waltz-for-the-last-boat", &[Role::Chop], 110.0),
    ]
}

#[test]
fn each_habit_is_named_a_hundred_times_of_a_hundred() {
    let evenings = evenings();
    let mut wrong = Vec::new();
    // Who was taken for whom, with `--nocapture`.
    let columns = Habit::ALL.map(|habit| named(habit, Part::Chords));
    println!("{:12}{}", "", columns.map(|part| format!("{:>9}", format!("{part:?}"))).concat());
    for habit in Habit::ALL {
        let mut counts = [0; Habit::ALL.len()];
        // Somebody is too busy behind the singer only where another banjo has the ands.
        let is_taken = |evening: &&Evening| {
            let sung = |bar: &&BarCoverage| bar.job == Job::Sparse && bar.singing == Singing::Sings;
            habit != Habit::Busy || evening.open.bars.iter().filter(sung).count() >= 8
        };
        let evenings: Vec<&Evening> = evenings.iter().filter(is_taken).collect();
        assert!(evenings.len() >= 3);
        for seed in 0..SEEDS {
            let evening = evenings[seed as usize % evenings.len()];
            let take = take(evening, habit, seed, BEGINS);
            // Every other take says where it begins.
            let anchor = if seed % 2 == 0 { known() } else { Anchor::Find };
            let told = of(evening, &take, anchor);
            if let Ok(told) = &told
                && let Some(column) =
                    columns.iter().position(|part| *part == named(habit, told.advice.about))
            {
                counts[column] += 1;
            }
            match told {
                Ok(told) if told.advice.about == named(habit, told.advice.about) => {}
                Ok(told) => wrong.push(format!("{habit:?} {seed}: {:?}", told.findings)),
                Err(why) => wrong.push(format!("{habit:?} {seed}: {why}")),
            }
        }
        let row = counts.map(|count| format!("{count:>9}")).concat();
        println!("{:12}{row}", format!("{habit:?}"));
    }
    assert!(wrong.is_empty(), "{} wrong:\n{}", wrong.len(), wrong.join("\n"));
}

/// Where only the ands are missing a roll is what is asked for, on every place of the bar; beside another banjo's
/// it is one too many.
#[test]
fn a_roll_under_the_voice_is_busy_beside_another_banjo_alone() {
    for (more, busy) in [(&[][..], false), (&[Role::Banjo], true)] {
        let evening = evening_with("lantern-on-the-landing", more, &[], 100.0);
        let told = of(&evening, &take(&evening, Habit::Busy, 3, BEGINS), known()).unwrap();
        // In the verse in which the band comes down a roll is one too many anyway.
        let down = "in 8 of 8 bars";
        let is_busy = |found: &&Finding| found.about == Part::Busy && !found.good;
        let found = told.findings.iter().find(is_busy).is_some_and(|it| !it.words.contains(down));
        assert_eq!(found, busy, "{more:?}: {:?}", told.findings);
    }
}

#[test]
fn who_keeps_time_is_blamed_for_nothing() {
    let songs = [
        ("nine-geese-and-a-gander", vec![Role::Bass]),
        ("low-water-at-the-weir", vec![Role::Guitar]),
        ("moths-at-tobins-lamp", vec![Role::Guitar]),
        ("eels-in-the-kettle", vec![Role::Chop]),
        ("perrins-pudding-race", vec![Role::Chop]),
        ("smoke-below-the-bend", vec![Role::Bass, Role::Chop]),
    ];
    for (name, open) in songs {
        let evening = evening(name, &open, 100.0);
        for seed in 0..4 {
            for anchor in [known(), Anchor::Find] {
                let told = of(&evening, &take(&evening, Habit::Steady, seed, BEGINS), anchor);
                let told = told.unwrap_or_else(|why| panic!("{name}: {why}"));
                let blamed: Vec<_> = told.findings.iter().filter(|found| !found.good).collect();
                assert!(blamed.is_empty(), "{name} {seed} {anchor:?}: {blamed:?}");
                assert!((told.begins - BEGINS).abs() < 0.01, "{name}: {}", told.begins);
                assert_eq!(told.whole.covered, told.whole.open, "{name}");
                assert!(told.sure > 0.8, "{name}: {}", told.sure);
            }
        }
    }
}

#[test]
fn figures_are_those_that_were_played() {
    let evening = evening("lantern-on-the-landing", &[Role::Chop], 100.0);
    for (habit, against) in [
        (Habit::Steady, TimingReference::Band),
        (Habit::Uneven, TimingReference::Band),
        (Habit::Rushing, TimingReference::Own),
    ] {
        let take = take(&evening, habit, 11, BEGINS);
        let told = of(&evening, &take, known()).unwrap();
        let timing = &told.whole.timing;
        // The standard error of a standard deviation is a share of 1 / sqrt(2 n): with 400 strokes 3.5 percent;
        // three times that.
        let spread = habit.spread() * 1e3;
        assert!((timing.spread - spread).abs() < 0.11 * spread, "{habit:?} {timing:?}");
        let rushing = (habit.speed() - 1.0) * 100.0;
        assert!((timing.rushing - rushing).abs() < 0.15, "{habit:?} {timing:?}");
        assert!(timing.band_spread > 4.0 && timing.band_spread < 8.0, "{timing:?}");
        assert_eq!(told.against, against);
        assert_eq!((told.whole.hits, told.hits.len()), (take.hits.len(), take.hits.len()));
        assert_eq!(
            told.passes.iter().map(|pass| pass.figures.hits).sum::<usize>(),
            told.whole.hits
        );
        let of_bars: usize = told.bars.iter().map(|bar| bar.hits).sum();
        assert_eq!(of_bars, told.whole.hits);
    }
}

#[test]
fn late_is_late_only_where_the_beginning_is_known() {
    let evening = evening("lantern-on-the-landing", &[Role::Chop], 100.0);
    let mut take = take(&evening, Habit::Steady, 3, BEGINS);
    for hit in &mut take.hits {
        hit.at.0 += 45_000_000;
    }
    let told = of(&evening, &take, known()).unwrap();
    assert_eq!(told.advice.about, Part::Late);
    assert!((told.whole.timing.mean - 45.0).abs() < 2.0, "{:?}", told.whole.timing);
    let told = of(&evening, &take, Anchor::Find).unwrap();
    assert_eq!((told.advice.about, told.against), (Part::Steady, TimingReference::Fit));
    for hit in &mut take.hits {
        hit.at.0 -= 90_000_000;
    }
    assert_eq!(of(&evening, &take, known()).unwrap().advice.about, Part::Early);
}

#[test]
fn a_take_of_the_middle_is_laid_there() {
    let evening = evening("lantern-on-the-landing", &[Role::Chop], 100.0);
    let all = take(&evening, Habit::Steady, 5, BEGINS);
    let bar = evening.song.tempo.nanos(evening.song.meter.bar()).seconds();
    // The guitar's verse and the chorus after it.
    let (from, to) = (BEGINS + 32.0 * bar - 0.1, BEGINS + 64.0 * bar - 0.1);
    let within = |hit: &&Hit| (from..to).contains(&hit.at.seconds());
    let part = Take { hits: all.hits.iter().filter(within).cloned().collect(), ..all.clone() };
    let told = of(&evening, &part, Anchor::Find).unwrap();
    assert!((told.begins - BEGINS).abs() < 0.02, "{}", told.begins);
    assert_eq!(told.passes.len(), 2, "{:?}", told.passes);
    assert_eq!(told.advice.about, Part::Steady);
    // Who rests for eight bars in between has lost nothing.
    let gap = BEGINS + 40.0 * bar..BEGINS + 48.0 * bar;
    let played = |hit: &&Hit| !gap.contains(&hit.at.seconds());
    let part = Take { hits: part.hits.iter().filter(played).cloned().collect(), ..part.clone() };
    let told = of(&evening, &part, Anchor::Find).unwrap();
    assert!((told.begins - BEGINS).abs() < 0.02, "{}", told.begins);
    assert!((told.whole.timing.spread - 6.0).abs() < 1.2, "{:?}", told.whole.timing);
}

/// What the program itself would play for a banjo is found to be right.
#[test]
fn the_programs_own_backup_is_blamed_for_nothing() {
    for (name, open) in [
        ("lantern-on-the-landing", vec![Role::Chop]),
        ("waltz-for-the-last-boat", vec![]),
        ("hand-on-the-rope", vec![]),
    ] {
        let evening = evening(name, &open, 100.0);
        let part = backup(&evening.song, &evening.style, &evening.open, Player::at(Level::Full, 1));
        let take = player::picked(&evening, &part, 6, BEGINS);
        for anchor in [known(), Anchor::Find] {
            let told = of(&evening, &take, anchor).unwrap();
            let blamed: Vec<_> = told.findings.iter().filter(|found| !found.good).collect();
            assert!(blamed.is_empty(), "{name} {anchor:?}: {blamed:?} {:?}", told.whole);
        }
    }
}

/// Who strikes a few times a bar has drifted by half a second before that can be heard.
#[test]
fn a_fast_beat_is_followed_from_the_count_in_on() {
    let evening = evening("lantern-on-the-landing", &[Role::Chop], 100.0);
    let part = backup(&evening.song, &evening.style, &evening.open, Player::at(Level::Full, 1));
    let all = player::picked(&evening, &part, 6, BEGINS);
    for speed in [0.97, 0.98, 1.02, 1.03] {
        let mut take = all.clone();
        for hit in &mut take.hits {
            let since = hit.at.seconds() - BEGINS;
            hit.at = Nanos(((BEGINS + since / speed) * 1e9) as i64);
        }
        let told = of(&evening, &take, known()).unwrap();
        let rushing = told.whole.timing.rushing;
        assert!((rushing - (speed - 1.0) * 100.0).abs() < 0.2, "{speed}: {rushing}");
        assert_eq!(told.whole.covered, told.whole.open, "{speed}");
    }
}

#[test]
fn a_lost_beat_is_told_with_its_bar() {
    let evening = evening("lantern-on-the-landing", &[Role::Chop], 100.0);
    let all = take(&evening, Habit::Steady, 8, BEGINS);
    let quarter = evening.song.tempo.nanos(evening.song.meter.beat()).0;
    let bar = quarter * 4;
    for (lost, word) in [(1, "lose a beat"), (-1, "gain a beat"), (2, "lose 2 beats")] {
        let mut take = all.clone();
        let begins = (BEGINS * 1e9) as i64;
        take.hits.retain(|hit| !(0..lost * quarter).contains(&(hit.at.0 - begins - 40 * bar)));
        for hit in &mut take.hits {
            if hit.at.0 >= begins + 40 * bar {
                hit.at.0 -= lost * quarter;
            }
        }
        for anchor in [known(), Anchor::Find] {
            let told = of(&evening, &take, anchor).unwrap();
            assert_eq!(told.advice.about, Part::Lost, "{:?}", told.findings);
            let words = &told.findings[0].words;
            assert!(words.contains(word), "{words}");
            let (first, last) = told.advice.bars.unwrap();
            assert!((first..=last + 4).contains(&41), "{first} to {last}");
            assert!(
                told.whole.covered * 100 >= told.whole.open * 95,
                "the rest is laid as it is played"
            );
        }
    }
}

#[test]
fn a_chair_that_stays_empty_and_pauses_without_an_answer_are_told() {
    let evening = evening("lantern-on-the-landing", &[Role::Chop], 100.0);
    let mut take = take(&evening, Habit::Steady, 2, BEGINS);
    let told = of(&evening, &take, known()).unwrap();
    let mut strokes = told.hits.iter();
    let all = take.clone();
    take.hits.retain(|_| strokes.next().is_none_or(|hit| !hit.fills || hit.bar % 4 == 0));
    let told = of(&evening, &take, known()).unwrap();
    assert_eq!(told.advice.about, Part::Uncovered, "{:?}", told.findings);
    let without_fills = |bar: usize| {
        let bar = told.bars.iter().find(|told| told.number == bar);
        bar.is_some_and(|bar| bar.job == Job::Fill)
    };
    let whole = of(&evening, &all, known()).unwrap();
    let mut strokes = whole.hits.iter();
    let mut take = all;
    take.hits.retain(|_| strokes.next().is_none_or(|hit| !without_fills(hit.bar)));
    let told = of(&evening, &take, known()).unwrap();
    assert_eq!(told.advice.about, Part::NoFills, "{:?}", told.findings);
}

#[test]
fn another_song_another_key_and_another_tempo_are_told() {
    let evening = evening("lantern-on-the-landing", &[], 100.0);
    let all = take(&evening, Habit::Steady, 4, BEGINS);
    for (by, key) in [(2, "A"), (5, "C"), (-1, "Gb"), (7, "D")] {
        let mut take = all.clone();
        let higher = |pitch: &MidiNote| MidiNote::clamped(i32::from(pitch.get()) + by);
        for hit in &mut take.hits {
            hit.pitches = hit.pitches.iter().map(higher).collect();
        }
        for anchor in [known(), Anchor::Find] {
            let why = of(&evening, &take, anchor).unwrap_err();
            let said = why.to_string();
            let same = if key == "Gb" { "F#" } else { key };
            let told =
                said.ends_with(&format!("--key {key}")) || said.ends_with(&format!("--key {same}"));
            assert!(matches!(why, NotReviewed::OtherSong { .. }) && told, "{said}");
        }
    }
    for (speed, percent) in [(0.8, "80"), (1.25, "125")] {
        let mut take = all.clone();
        for hit in &mut take.hits {
            hit.at.0 = (hit.at.0 as f64 / speed) as i64;
        }
        let why = of(&evening, &take, Anchor::Find).unwrap_err().to_string();
        assert!(why.ends_with(&format!("--speed {percent}")), "{why}");
    }
    // Songs of the same kind share most of their chords: what is not refused is called unsure.
    for other in
        ["one-plank-short", "not-a-word-to-marit", "toll-is-a-penny", "low-water-at-the-weir"]
    {
        let other = player::evening(other, &[], 100.0);
        let take = take(&other, Habit::Steady, 4, BEGINS);
        if let Ok(told) = of(&evening, &take, Anchor::Find) {
            assert!(told.sure < 0.5, "{}: {}", other.song.title, told.sure);
        }
    }
}

#[test]
fn what_can_not_be_judged_is_told() {
    let evening = evening("lantern-on-the-landing", &[], 100.0);
    let all = take(&evening, Habit::Busy, 4, BEGINS);
    let first = |count: usize| Take { hits: all.hits[..count].to_vec(), ..all.clone() };
    let nobody = of(&evening, &first(0), Anchor::Find).unwrap();
    assert_eq!(nobody.advice.about, Part::NobodyHeard);
    for few in [1, 7] {
        let why = of(&evening, &first(few), Anchor::Find).unwrap_err();
        assert!(matches!(why, NotReviewed::TooShort { .. }), "{why}");
    }
    // What is said of where it begins may be wrong.
    let far = Anchor::Begins(Nanos(-3_600_000_000_000));
    let told = of(&evening, &all, far).unwrap();
    assert_eq!(told.against, TimingReference::Fit);
    assert!(told.remarks[0].contains("does not begin"), "{:?}", told.remarks);
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(24) })]

    #[test]
    fn when_the_recording_began_changes_nothing_else(
        millis in -100_000_i64..100_000,
        seed in 0_u64..1000,
        habit in 0_usize..6,
    ) {
        let evening = evening("lantern-on-the-landing", &[Role::Chop], 100.0);
        let habit = Habit::ALL[habit];
        let mut take = take(&evening, habit, seed, BEGINS);
        let before = of(&evening, &take, Anchor::Find).unwrap();
        for hit in &mut take.hits {
            hit.at.0 += millis * 1_000_000;
        }
        let mut after = of(&evening, &take, Anchor::Find).unwrap();
        let moved = after.begins - before.begins;
        prop_assert!((moved - millis as f64 * 1e-3).abs() < 1e-6, "{moved}");
        after.begins = before.begins;
        prop_assert_eq!(after, before);
    }

    #[test]
    fn any_strokes_get_a_review_or_a_reason(
        strokes in prop::collection::vec((any::<i64>(), 0_u8..128, 0_usize..4), 0..40),
        scale in 0_u32..64,
        begins in any::<i64>(),
        find in any::<bool>(),
    ) {
        let evening = evening("waltz-for-the-last-boat", &[Role::Chop], 100.0);
        let hits = strokes.into_iter().map(|(at, pitch, count)| Hit {
            at: Nanos(at >> scale),
            loud: 64,
            pitches: vec![MidiNote::clamped(i32::from(pitch)); count],
        });
        let source = openchair::take::Source::Midi;
        let take = Take { hits: hits.collect(), length: Nanos(0), source };
        let anchor = if find { Anchor::Find } else { Anchor::Begins(Nanos(begins >> scale)) };
        if let Ok(told) = of(&evening, &take, anchor) {
            let timing = &told.whole.timing;
            prop_assert!([timing.mean, timing.spread, timing.rushing].iter().all(|t| t.is_finite()));
            prop_assert!((0.0..=1.0).contains(&told.sure));
            prop_assert!(told.whole.covered <= told.whole.open);
        }
    }
}

/// Who never leaves the first chord, and rolls on as well as can be.
#[test]
fn who_stays_on_one_chord_is_told_which_and_where() {
    let evenings = [
        evening("lantern-on-the-landing", &[], 100.0),
        evening("not-a-word-to-marit", &[], 100.0),
        evening("hand-on-the-rope", &[], 100.0),
    ];
    for seed in 0..SEEDS {
        let evening = &evenings[seed as usize % evenings.len()];
        let home = evening.song.spans.iter().find_map(|span| span.chord).unwrap();
        let home = evening.song.chord(home).unwrap();
        let tones: Vec<u8> =
            (50..66).filter(|pitch| home.tones().any(|tone| tone == pitch % 12)).collect();
        let mut take = take(evening, Habit::Steady, seed, BEGINS);
        for (number, hit) in take.hits.iter_mut().enumerate() {
            hit.pitches = vec![MidiNote::clamped(i32::from(tones[number % tones.len()]))];
        }
        let anchor = if seed % 2 == 0 { known() } else { Anchor::Find };
        let told = of(evening, &take, anchor).unwrap();
        assert_eq!(told.advice.about, Part::ChordsMissed, "{seed}: {:?}", told.findings);
        let words = &told.findings[0].words;
        assert!(words.starts_with(&format!("You stay on {home} where the ")), "{words}");
    }
}

/// Who plays another of the song's chords in one place is told where, and in no other.
#[test]
fn one_wrong_chord_is_named_with_its_bar() {
    let evening = evening("lantern-on-the-landing", &[], 100.0);
    let bar = evening.song.tempo.nanos(evening.song.meter.bar()).0;
    for seed in 0..SEEDS {
        let mut take = take(&evening, Habit::Steady, seed, BEGINS);
        // Bar 8 is all D; A minor's or E minor's neighbours would share tones with it, C shares none.
        let begins = (BEGINS * 1e9) as i64 + 7 * bar;
        let within =
            |hit: &&mut Hit| (begins - bar / 20..begins + bar * 19 / 20).contains(&hit.at.0);
        let wrong = [48, 52, 55, 60, 64];
        for (number, hit) in take.hits.iter_mut().filter(within).enumerate() {
            hit.pitches = vec![MidiNote::clamped(wrong[number % wrong.len()])];
        }
        let told = of(&evening, &take, known()).unwrap();
        let chords = told.findings.iter().find(|found| found.about == Part::ChordWrong).unwrap();
        assert_eq!(chords.bars, [(8, 8)]);
        let words = "You play C where the D (bar 8) is.";
        assert!(!chords.good && chords.words == words, "{seed}: {chords:?}");
    }
}
