//! Players as a teacher meets them, made up and seeded, and whether the review names what a teacher would.

use crate::common::player::{Evening, Manner, band_alone, evening, evening_with, take_of};
use openchair::chart::Role;
use openchair::review::{Anchor, Part, RecordedHow, Review, recorded_how, review};
use openchair::take::{Hit, Source, Take};
use openchair::theory::MidiNote;
use openchair::time::{Nanos, Ticks};

/// How often each is played.
const SEEDS: u64 = 100;

/// When the players' recordings begin before the song does, in seconds.
const BEGINS: f64 = 2.0;

fn of(evening: &Evening, take: &Take, anchor: Anchor) -> Review {
    let told = review(&evening.song, &evening.played, &evening.open, take, anchor);
    told.unwrap_or_else(|why| panic!("{}: {why}", evening.song.title))
}

fn known() -> Anchor {
    Anchor::Begins(Nanos((BEGINS * 1e9) as i64))
}

/// Holds that each seed's take of a manner is told so.
fn told_so(what: &str, evenings: &[Evening], manner: &Manner, anchors: &[Anchor], part: Part) {
    let mut wrong = Vec::new();
    for seed in 0..SEEDS {
        let evening = &evenings[seed as usize % evenings.len()];
        let take = take_of(evening, manner, seed, BEGINS);
        let anchor = anchors[seed as usize / evenings.len() % anchors.len()];
        let told = of(evening, &take, anchor);
        if told.advice.about != part {
            let findings: Vec<_> = told.findings.iter().filter(|found| !found.good).collect();
            let (title, at) = (&evening.song.title, told.begins);
            wrong.push(format!("{seed} {title} {anchor:?} {at:.3} {:?}: {findings:?}", told.swing));
        }
    }
    println!("{what}: {} of {SEEDS}", SEEDS - wrong.len() as u64);
    let few = wrong.get(..wrong.len().min(4)).unwrap_or_default();
    assert!(wrong.is_empty(), "{what}: {} wrong, as\n{}", wrong.len(), few.join("\n"));
}

/// Songs in which a singer sings and a roll or more is wanted.
fn sung() -> Vec<Evening> {
    vec![
        evening("lantern-on-the-landing", &[], 100.0),
        evening("waltz-for-the-last-boat", &[], 100.0),
        evening("not-a-word-to-marit", &[], 100.0),
        evening("hand-on-the-rope", &[], 100.0),
    ]
}

/// All kinds of chairs to be covered.
fn chairs() -> Vec<Evening> {
    vec![
        evening("lantern-on-the-landing", &[Role::Chop], 100.0),
        evening("lantern-on-the-landing", &[], 100.0),
        evening("waltz-for-the-last-boat", &[Role::Chop], 100.0),
        evening_with("hand-on-the-rope", &[Role::Banjo], &[], 100.0),
        evening("smoke-below-the-bend", &[Role::Bass, Role::Chop], 100.0),
        evening("nine-geese-and-a-gander", &[Role::Bass], 100.0),
        evening("low-water-at-the-weir", &[Role::Guitar], 100.0),
        evening("not-a-word-to-marit", &[], 100.0),
        evening("toll-is-a-penny", &[Role::Chop], 80.0),
        evening("one-plank-short", &[Role::Guitar], 100.0),
    ]
}

const BOTH: [Anchor; 2] = [Anchor::Begins(Nanos(2_000_000_000)), Anchor::Find];

#[test]
fn good_players_are_blamed_for_nothing() {
    told_so("good", &chairs(), &Manner::GOOD, &BOTH, Part::Steady);
    let softer = Manner { loud: 0.7, ..Manner::GOOD };
    told_so("softer behind the singer", &sung(), &softer, &BOTH, Part::Steady);
}

#[test]
fn slurs_are_no_unevenness() {
    let slurred = Manner { slurs: true, ..Manner::GOOD };
    told_so("slurred", &sung(), &slurred, &BOTH, Part::Steady);
    let rushing = Manner { slurs: true, speed: 1.02, ..Manner::GOOD };
    told_so("slurred and rushing", &sung(), &rushing, &BOTH, Part::Rushing);
    // But for the song with stops of eleven seconds: who drags through one without the band is half a beat late after
    // it, and has lost something indeed.
    let mut songs = sung();
    songs.retain(|evening| evening.song.title != "Not a Word to Marit");
    assert_eq!(songs.len(), 3);
    let dragging = Manner { slurs: true, speed: 0.98, ..Manner::GOOD };
    told_so("slurred and dragging", &songs, &dragging, &BOTH, Part::Dragging);
}

#[test]
fn chords_after_their_time_are_told() {
    let by = |behind| Manner { behind, ..Manner::GOOD };
    told_so("a beat late", &sung(), &by(Ticks::QUARTER), &[known()], Part::ChordLate);
    told_so("an eighth late", &sung(), &by(Ticks::EIGHTH), &BOTH, Part::ChordLate);
    let evening = evening("lantern-on-the-landing", &[], 100.0);
    let told = of(&evening, &take_of(&evening, &by(Ticks::QUARTER), 1, BEGINS), known());
    let words = &told.findings[0].words;
    assert!(words.starts_with("You change chords a beat late: "), "{words}");
    let told = of(&evening, &take_of(&evening, &by(Ticks::EIGHTH), 1, BEGINS), known());
    let words = &told.findings[0].words;
    assert!(words.starts_with("You change chords an eighth late: "), "{words}");
}

#[test]
fn another_swing_than_the_songs_is_told() {
    let at = |share| Manner { swing: Some(share), ..Manner::GOOD };
    let swung = vec![
        evening("lantern-on-the-landing", &[], 100.0),
        evening("not-a-word-to-marit", &[], 100.0),
        evening("toll-is-a-penny", &[], 100.0),
    ];
    told_so("straight", &swung, &at(0.5), &BOTH, Part::Straight);
    let straight = vec![
        evening("smoke-below-the-bend", &[], 80.0),
        evening("lantern-on-the-landing", &[], 100.0),
    ];
    told_so("swung", &straight, &at(0.667), &BOTH, Part::TooSwung);
}

#[test]
fn too_loud_behind_the_singer_is_told() {
    let loud = Manner { loud: 2.2, ..Manner::GOOD };
    told_so("loud", &sung(), &loud, &BOTH, Part::LoudBehindSinger);
}

#[test]
fn fills_out_of_time_are_told_and_are_no_unevenness() {
    let fills = |fills| Manner { fills, ..Manner::GOOD };
    told_so("fills early", &sung(), &fills(0.035), &BOTH, Part::FillsEarly);
    told_so("fills late", &sung(), &fills(-0.035), &BOTH, Part::FillsLate);
}

#[test]
fn hurrying_into_the_changes_is_told() {
    let hurried = Manner { changes: 0.03, ..Manner::GOOD };
    let mut songs = sung();
    songs.retain(|evening| evening.song.title != "Not a Word to Marit");
    told_so("into the changes", &songs, &hurried, &BOTH, Part::IntoChanges);
}

#[test]
fn the_band_alone_is_no_player() {
    for seed in 0..SEEDS {
        let evenings = chairs();
        let evening = &evenings[seed as usize % evenings.len()];
        let mut take = band_alone(evening, BEGINS + seed as f64 * 0.013);
        // What an ear errs.
        let mut random = crate::common::rolls::Chance::new(seed);
        for hit in &mut take.hits {
            hit.at.0 += (random.normal() * 1.5e6) as i64;
        }
        take.source = Source::Sound;
        let told = of(evening, &take, BOTH[seed as usize % 2]);
        let about: Vec<Part> = told.findings.iter().map(|found| found.about).collect();
        assert_eq!(about, [Part::NobodyHeard, Part::BandHeard], "{}", evening.song.title);
        // In a room two of three strokes go under in what rings, and what is left is told to the millisecond.
        take = band_alone(evening, BEGINS);
        take.source = Source::Sound;
        for hit in &mut take.hits {
            hit.at.0 += (random.normal() * 0.7e6) as i64;
        }
        take.hits.retain(|_| random.even() < 0.35);
        let told = of(evening, &take, BOTH[seed as usize % 2]);
        assert_eq!(told.advice.about, Part::NobodyHeard, "{seed}: {}", evening.song.title);
    }
}

/// Softly and in a room an ear blurs what it hears of the band, or makes up a stroke in twelve beside it.
#[test]
fn the_band_alone_heard_badly_is_no_player() {
    let evenings = chairs();
    let mut asked = 0;
    for seed in 0..SEEDS {
        let evening = &evenings[seed as usize % evenings.len()];
        for (off, spare) in [(5.5e6, 0.0), (0.8e6, 0.08)] {
            let mut take = band_alone(evening, BEGINS + seed as f64 * 0.013);
            take.source = Source::Sound;
            let mut random = crate::common::rolls::Chance::new(seed);
            for hit in &mut take.hits {
                hit.at.0 += (random.normal() * off) as i64;
                if random.even() < spare {
                    hit.at.0 += 30_000_000 + (random.even() * 90e6) as i64;
                    hit.pitches.clear();
                }
            }
            take.hits.sort_by_key(|hit| hit.at);
            let told = of(evening, &take, BOTH[seed as usize % 2]);
            // Where nothing much is left open, or that is heard by such chance, a player beside it may be meant.
            if told.advice.about != Part::NobodyHeard
                && (told.whole.open < 8 || told.whole.covered * 2 > told.whole.open)
            {
                continue;
            }
            asked += 1;
            assert_eq!(
                told.advice.about,
                Part::NobodyHeard,
                "{seed}: {} {off}",
                evening.song.title
            );
        }
    }
    assert!(asked as u64 * 2 >= SEEDS, "{asked} of {SEEDS}");
}

/// Whose first strokes are a beat apart in a fast song has gone off by more than half a place before that can be told.
#[test]
fn who_drags_from_the_first_stroke_on_is_laid_where_it_began() {
    let evening = evening("nine-geese-and-a-gander", &[Role::Bass], 100.0);
    for (speed, part) in [(0.98, Part::Dragging), (1.02, Part::Rushing)] {
        let manner = Manner { speed, ..Manner::GOOD };
        for seed in 0..8 {
            let told = of(&evening, &take_of(&evening, &manner, seed, BEGINS), known());
            assert_eq!(told.advice.about, part, "{seed}: {:?}", told.findings);
            assert!(told.whole.covered * 100 >= told.whole.open * 95, "{seed}: {:?}", told.whole);
        }
    }
}

/// The same take played so many times as fast, and moved.
fn changed(take: &Take, faster: f64, by: i32) -> Take {
    let higher = |pitch: &MidiNote| MidiNote::clamped(i32::from(pitch.get()) + by);
    let hits = take.hits.iter().map(|hit| Hit {
        at: Nanos((hit.at.0 as f64 / faster) as i64),
        loud: hit.loud,
        pitches: hit.pitches.iter().map(higher).collect(),
    });
    Take { hits: hits.collect(), ..take.clone() }
}

fn how(evening: &Evening, take: &Take) -> Option<RecordedHow> {
    recorded_how(&evening.song, &evening.played, &evening.open, take).unwrap()
}

#[test]
fn a_speed_that_nobody_said_is_found() {
    let mut wrong = Vec::new();
    let evenings = chairs();
    for seed in 0..SEEDS {
        let evening = &evenings[seed as usize % evenings.len()];
        let take = take_of(evening, &Manner::GOOD, seed, BEGINS);
        let asked = f64::from(evening.song.pace.micros_per_quarter())
            / f64::from(evening.song.tempo.micros_per_quarter())
            * 100.0;
        let speed = [25.0, 40.0, 50.0, 60.0, 65.0, 75.0, 85.0, 110.0, 125.0, 150.0]
            [seed as usize / evenings.len() % 10];
        let found = how(evening, &changed(&take, speed / asked, 0));
        // So near to what was asked for, it may as well be a player whose beat goes off.
        let same = (speed / asked - 1.0).abs() < 0.07;
        let right = match found {
            Some(found) => (found.speed, found.moved) == (speed, 0),
            None => same,
        };
        if !right {
            wrong.push(format!("{speed} of {} at {asked:.0}: {found:?}", evening.song.title));
        }
    }
    println!("speed: {} of {SEEDS}", SEEDS - wrong.len() as u64);
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn a_key_that_nobody_said_is_found() {
    let mut wrong = Vec::new();
    let evenings = chairs();
    for seed in 0..SEEDS {
        let evening = &evenings[seed as usize % evenings.len()];
        let take = take_of(evening, &Manner::GOOD, seed, BEGINS);
        let moved = (seed as i32 / 10) % 12 - 5;
        let speed = if seed % 3 == 0 { 0.7 } else { 1.0 };
        let found = how(evening, &changed(&take, speed, moved));
        let right = match found {
            Some(found) => found.moved == moved,
            None => moved == 0 && speed == 1.0,
        };
        if !right {
            wrong.push(format!("{moved} {speed} of {}: {found:?}", evening.song.title));
        }
    }
    println!("key: {} of {SEEDS}", SEEDS - wrong.len() as u64);
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn a_take_that_begins_in_the_middle_is_laid_there() {
    let mut wrong = Vec::new();
    let evenings = chairs();
    for seed in 0..SEEDS {
        let evening = &evenings[seed as usize % evenings.len()];
        let mut take = take_of(evening, &Manner::GOOD, seed, BEGINS);
        let all = take.hits.len();
        let from = take.hits[all * (seed as usize % 7 + 1) / 10].at.0 - 700_000_000;
        take.hits.retain(|hit| hit.at.0 > from);
        for hit in &mut take.hits {
            hit.at.0 -= from;
        }
        let told = of(evening, &take, Anchor::Find);
        let off = told.begins - (BEGINS - Nanos(from).seconds());
        // Where a later pass has the same chords, the take may as well be of that.
        if told.advice.about != Part::Steady {
            let findings: Vec<_> = told.findings.iter().filter(|found| !found.good).collect();
            wrong.push(format!("{seed} {}: {off:.2} {findings:?}", evening.song.title));
        }
    }
    println!("middle: {} of {SEEDS}", SEEDS - wrong.len() as u64);
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Where a bridge comes, the verse goes on; and in one bar alone the chord of another.
#[test]
fn a_forgotten_bridge_and_a_single_wrong_chord_are_told() {
    let evening = evening("waltz-for-the-last-boat", &[], 100.0);
    let first = |label: &str| {
        let pass = evening.song.passes.iter().position(|pass| pass.label.starts_with(label));
        evening.song.bars.iter().find(|bar| Some(bar.pass) == pass).unwrap().number
    };
    let (bridge, last) = (first("bridge"), evening.song.passes.len());
    assert!(last > 2);
    let manner = Manner { forgets: Some(("bridge", "verse")), ..Manner::GOOD };
    for seed in 0..SEEDS {
        let take = take_of(&evening, &manner, seed, BEGINS);
        let told = of(&evening, &take, BOTH[seed as usize % 2]);
        let about = told.advice.about;
        let is = matches!(about, Part::ChordsMissed | Part::ChordWrong | Part::Chords);
        assert!(is, "{seed}: {:?}", told.findings);
        let (from, to) = told.advice.bars.unwrap();
        assert!(from >= bridge && to < bridge + 16, "{seed}: {from} to {to}, {bridge}");
    }
    // D where the A7 of two bars later is played.
    let (verse, other) = (first("verse") + 5, first("verse") + 7);
    assert_eq!([verse, other].map(|bar| chord_of(&evening, bar)), ["D", "A7"]);
    let manner = Manner { wrong: Some((verse, other)), ..Manner::GOOD };
    let mut silent = 0;
    for seed in 0..SEEDS {
        let take = take_of(&evening, &manner, seed, BEGINS);
        let told = of(&evening, &take, BOTH[seed as usize % 2]);
        let wrong = told.findings.iter().find(|found| !found.good);
        let Some(wrong) = wrong else {
            silent += 1;
            continue;
        };
        assert!(matches!(wrong.about, Part::ChordWrong | Part::ChordsMissed), "{seed}: {wrong:?}");
        assert_eq!(wrong.bars, [(verse, verse)], "{seed}: {wrong:?}");
    }
    println!("wrong once: {} of {SEEDS}", SEEDS - silent);
    // Of six strokes in a bar of three, some are of both chords, and some lead into the next: where fewer than three
    // tell, nothing is said.
    assert!(silent <= 25, "{silent}");
}

/// Who plays the verse's chords in the chorus too has played what two other verses have; but it was said where the take
/// begins.
#[test]
fn where_a_take_begins_is_believed_before_its_chords() {
    let evening = evening("hand-on-the-rope", &[], 100.0);
    let manner = Manner { forgets: Some(("chorus", "verse")), ..Manner::GOOD };
    let mut take = take_of(&evening, &manner, 1, BEGINS);
    let bar = evening.song.tempo.nanos(evening.song.meter.bar()).seconds();
    take.hits.retain(|hit| hit.at.seconds() < BEGINS + 31.5 * bar);
    let told = of(&evening, &take, known());
    assert!(told.remarks.is_empty(), "{:?}", told.remarks);
    let about = told.advice.about;
    let is = matches!(about, Part::ChordsMissed | Part::ChordWrong | Part::Chords);
    assert!(is, "{:?}", told.findings);
}

fn chord_of(evening: &Evening, number: usize) -> String {
    let song = &evening.song;
    let bar = song.bars.iter().find(|bar| bar.number == number).unwrap();
    let span = song.spans.iter().rev().find(|span| span.start <= bar.start).unwrap();
    span.chord.and_then(|chord| song.chord(chord)).map(ToString::to_string).unwrap_or_default()
}
