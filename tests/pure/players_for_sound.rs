//! Players made up and seeded, written down for instruments to play: `tests/outside/ear/players.py` gives them sound, has
//! it reviewed, and counts who is named rightly.

use std::fs;
use std::path::PathBuf;

use crate::common::player::{Evening, Habit, Manner, evening, evening_with, take, take_of};
use openchair::chart::Role;
use openchair::coverage::Job;
use openchair::take::Take;
use openchair::theory::MidiNote;
use openchair::time::Ticks;
use serde_json::{Value, json};

/// A song with what is typed to have it so.
type Typed = (Evening, Vec<String>);

fn typed(name: &str, more: &[Role], open: &[Role], speed: f64) -> Typed {
    played_at(1.0, name, more, open, speed)
}

/// The same as it is played so many times as fast as what is typed says.
fn played_at(faster: f64, name: &str, more: &[Role], open: &[Role], speed: f64) -> Typed {
    let evening = evening_with(name, more, open, speed * faster);
    let words = |roles: &mut dyn Iterator<Item = Role>| {
        roles.map(|role| role.to_string()).collect::<Vec<String>>().join(",")
    };
    let mut options = vec![format!("songs/{name}.toml")];
    if !open.is_empty() {
        options.extend(["--sit-out".to_owned(), words(&mut open.iter().copied())]);
    }
    if !more.is_empty() {
        let own = self::evening(name, &[], 100.0).song.band;
        options.extend(["--band".to_owned(), words(&mut own.iter().chain(more.iter().copied()))]);
    }
    if speed != 100.0 {
        options.extend(["--speed".to_owned(), speed.to_string()]);
    }
    (evening, options)
}

fn all_of(names: &[&str]) -> Vec<Typed> {
    names.iter().map(|name| typed(name, &[], &[], 100.0)).collect()
}

/// Songs in which a singer sings and a roll or more is wanted.
fn sung() -> Vec<Typed> {
    all_of(&[
        "lantern-on-the-landing",
        "waltz-for-the-last-boat",
        "not-a-word-to-marit",
        "hand-on-the-rope",
    ])
}

/// All kinds of chairs to be covered.
fn chairs() -> Vec<Typed> {
    chairs_at(1.0)
}

fn chairs_at(faster: f64) -> Vec<Typed> {
    let typed = |name, more, open, speed| played_at(faster, name, more, open, speed);
    vec![
        typed("lantern-on-the-landing", &[], &[Role::Chop], 100.0),
        typed("lantern-on-the-landing", &[], &[], 100.0),
        typed("waltz-for-the-last-boat", &[], &[Role::Chop], 100.0),
        typed("hand-on-the-rope", &[Role::Banjo], &[], 100.0),
        typed("smoke-below-the-bend", &[], &[Role::Bass, Role::Chop], 100.0),
        typed("nine-geese-and-a-gander", &[], &[Role::Bass], 100.0),
        typed("low-water-at-the-weir", &[], &[Role::Guitar], 100.0),
        typed("not-a-word-to-marit", &[], &[], 100.0),
        typed("toll-is-a-penny", &[], &[Role::Chop], 80.0),
        typed("one-plank-short", &[], &[Role::Guitar], 100.0),
    ]
}

/// Songs whose open chair is a vamp's.
fn vamps() -> Vec<Typed> {
    vec![
        typed("lantern-on-the-landing", &[], &[Role::Chop], 100.0),
        typed("waltz-for-the-last-boat", &[], &[Role::Chop], 100.0),
        typed("toll-is-a-penny", &[], &[Role::Chop], 80.0),
    ]
}

/// A bar of count-in, in seconds.
fn count_in(evening: &Evening) -> f64 {
    evening.song.tempo.nanos(evening.song.meter.bar()).seconds()
}

/// Whether the review is told where the take begins.
#[derive(Clone, Copy, PartialEq)]
enum Told {
    Always,
    EveryOther,
    Never,
}

/// What a player of a kind plays on an evening, by a number.
type Plays = Box<dyn Fn(&Evening, u64) -> Take>;

/// A player: a name, in which songs, what the review should be about, whether it is told where the take begins, and the
/// take.
struct Who {
    name: &'static str,
    songs: Vec<Typed>,
    parts: &'static [&'static str],
    begins: Told,
    take: Plays,
}

fn who(
    name: &'static str,
    songs: Vec<Typed>,
    parts: &'static [&'static str],
    manner: Manner,
) -> Who {
    let take = move |evening: &Evening, seed| take_of(evening, &manner, seed, count_in(evening));
    Who { name, songs, parts, begins: Told::EveryOther, take: Box::new(take) }
}

fn habit(name: &'static str, songs: Vec<Typed>, parts: &'static [&'static str], of: Habit) -> Who {
    let take = move |evening: &Evening, seed| take(evening, of, seed, count_in(evening));
    Who { name, songs, parts, begins: Told::EveryOther, take: Box::new(take) }
}

/// One chord's notes, whatever comes.
fn on_one_chord(evening: &Evening, seed: u64) -> Take {
    let home = evening.song.spans.iter().find_map(|span| span.chord).unwrap();
    let home = evening.song.chord(home).unwrap();
    let tones: Vec<u8> =
        (50..66).filter(|pitch| home.tones().any(|tone| tone == pitch % 12)).collect();
    let mut take = take(evening, Habit::Steady, seed, count_in(evening));
    for (number, hit) in take.hits.iter_mut().enumerate() {
        hit.pitches = vec![MidiNote::clamped(i32::from(tones[number % tones.len()]))];
    }
    take
}

fn from_the_middle(evening: &Evening, seed: u64) -> Take {
    let mut take = take_of(evening, &Manner::GOOD, seed, count_in(evening));
    let from = take.hits[take.hits.len() * (seed as usize % 7 + 1) / 10].at.0 - 700_000_000;
    take.hits.retain(|hit| hit.at.0 > from);
    take.hits.iter_mut().for_each(|hit| hit.at.0 -= from);
    take
}

fn everybody() -> Vec<Who> {
    const CHORDS: &[&str] = &["chords-missed", "chord-wrong", "chords"];
    let vamper = Manner { only: Some(Job::Vamp), ..Manner::GOOD };
    let swung = || all_of(&["lantern-on-the-landing", "not-a-word-to-marit", "toll-is-a-penny"]);
    let straight = vec![
        typed("smoke-below-the-bend", &[], &[], 80.0),
        typed("lantern-on-the-landing", &[], &[], 100.0),
    ];
    let waltz = || all_of(&["waltz-for-the-last-boat"]);
    let mut without_stops = sung();
    without_stops.remove(2);
    let found = |name, songs, parts, take: fn(&Evening, u64) -> Take| Who {
        name,
        songs,
        parts,
        begins: Told::Never,
        take: Box::new(take),
    };
    vec![
        who("good", chairs(), &["steady"], Manner::GOOD),
        who("soft-behind-singer", sung(), &["steady"], Manner { loud: 0.7, ..Manner::GOOD }),
        who("slurred", sung(), &["steady"], Manner { slurs: true, ..Manner::GOOD }),
        who(
            "slurred-rushing",
            sung(),
            &["rushing"],
            Manner { slurs: true, speed: 1.02, ..Manner::GOOD },
        ),
        found("one-chord", sung(), &["chords-missed"], on_one_chord),
        // Whose chords all come a beat late may as well have begun a beat later.
        Who {
            begins: Told::Always,
            ..who(
                "beat-late",
                sung(),
                &["chord-late"],
                Manner { behind: Ticks::QUARTER, ..Manner::GOOD },
            )
        },
        who(
            "eighth-late",
            sung(),
            &["chord-late"],
            Manner { behind: Ticks::EIGHTH, ..Manner::GOOD },
        ),
        who("straight", swung(), &["straight"], Manner { swing: Some(0.5), ..Manner::GOOD }),
        who("too-swung", straight, &["too-swung"], Manner { swing: Some(0.667), ..Manner::GOOD }),
        who("loud", sung(), &["loud-behind-singer"], Manner { loud: 2.2, ..Manner::GOOD }),
        who("fills-early", sung(), &["fills-early"], Manner { fills: 0.035, ..Manner::GOOD }),
        who("fills-late", sung(), &["fills-late"], Manner { fills: -0.035, ..Manner::GOOD }),
        who(
            "into-changes",
            without_stops,
            &["into-changes"],
            Manner { changes: 0.03, ..Manner::GOOD },
        ),
        who(
            "no-bridge",
            waltz(),
            CHORDS,
            Manner { forgets: Some(("bridge", "verse")), ..Manner::GOOD },
        ),
        found("at-60", chairs_at(0.6), &["steady"], |evening, seed| {
            take_of(evening, &Manner::GOOD, seed, count_in(evening))
        }),
        found("middle", chairs(), &["steady"], from_the_middle),
        who("vamper", vamps(), &["steady"], vamper),
        habit("rushing", chairs(), &["rushing"], Habit::Rushing),
        habit("dragging", chairs(), &["dragging"], Habit::Dragging),
        habit("uneven", chairs(), &["uneven"], Habit::Uneven),
        habit("wrong-chords", chairs(), CHORDS, Habit::WrongChords),
    ]
}

/// What of a take a hand must know: when, how hard, which notes, and whether it is a slur or choked.
fn written(take: &Take, slurs: bool) -> Vec<Value> {
    let mut rows: Vec<Value> = Vec::new();
    let mut last = None;
    for hit in &take.hits {
        let slur = slurs && last.is_some_and(|last| is_slur(last, hit));
        last = (!slur).then_some(hit);
        let pitches: Vec<u8> = hit.pitches.iter().map(|pitch| pitch.get()).collect();
        let how = if slur { "slur" } else { ["", "choked"][usize::from(pitches.len() == 3)] };
        rows.push(json!([hit.at.seconds(), hit.loud, pitches, how]));
    }
    rows
}

/// As `take_of` makes them: softer, near in time and in pitch.
fn is_slur(last: &openchair::take::Hit, hit: &openchair::take::Hit) -> bool {
    let since = hit.at.seconds() - last.at.seconds();
    let ([from], [to]) = (&last.pitches[..], &hit.pitches[..]) else { return false };
    let step = from.get().abs_diff(to.get());
    (0.055..0.125).contains(&since) && (1..=2).contains(&step) && hit.loud == last.loud * 2 / 3
}

/// `FOLDER` says where; `SEEDS` how many of each, from `SEED` on.
#[test]
#[ignore = "writes files for players.py"]
fn players_are_written_down() {
    let folder = PathBuf::from(std::env::var("FOLDER").unwrap());
    let number = |name: &str, or| std::env::var(name).map_or(or, |text| text.parse().unwrap());
    let (seeds, first) = (number("SEEDS", 10_u64), number("SEED", 0));
    fs::create_dir_all(&folder).unwrap();
    for who in everybody() {
        for seed in first..first + seeds {
            let (evening, options) = &who.songs[seed as usize % who.songs.len()];
            let take = (who.take)(evening, seed);
            let mut options = options.clone();
            // Every other take says where it begins.
            let other = (seed / who.songs.len() as u64).is_multiple_of(2);
            if who.begins == Told::Always || who.begins == Told::EveryOther && other {
                options.extend(["--count-in".to_owned(), "1".to_owned()]);
            }
            let take = json!({
                "player": who.name,
                "seed": seed,
                "options": options,
                "about": who.parts,
                "count_in": count_in(evening),
                "hits": written(&take, who.name.starts_with("slurred")),
            });
            let path = folder.join(format!("{}_{seed:03}.json", who.name));
            fs::write(path, take.to_string()).unwrap();
        }
    }
}
