//! What the band leaves open, and what is said of it: the real program, and every shipped song in every
//! style that plays it. What a teacher of backup would say is common practice, no source.

use std::collections::BTreeSet;

use crate::common::shipped;
use openchair::arrange::{BarKind, Plan, arrange};
use openchair::chart::{Role, RoleSet};
use openchair::coverage::{BeatPart, Job, coverage};
use openchair::perform::perform;
use serde_json::Value;

fn run(args: &[&str]) -> (i32, String, String) {
    let done = assert_cmd::Command::new(env!("CARGO_BIN_EXE_openchair"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .arg("coverage")
        .args(args)
        .output()
        .unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (done.status.code().unwrap(), text(done.stdout), text(done.stderr))
}

fn json(args: &[&str]) -> Value {
    let (status, out, err) = run(&[args, &["--json"]].concat());
    assert_eq!((status, err.as_str()), (0, ""), "{args:?}");
    serde_json::from_str(&out).unwrap()
}

/// The line-ups that a teacher would answer differently.
const LINE_UPS: [(&str, &[&str]); 7] = [
    ("all play", &[]),
    ("duo with guitar", &["--band", "guitar"]),
    ("duo with bass", &["--band", "bass"]),
    ("bass out", &["--sit-out", "bass"]),
    ("chop out", &["--sit-out", "chop"]),
    ("guitar out", &["--sit-out", "guitar"]),
    ("another banjo", &["--band", "bass,chop,guitar,banjo"]),
];

/// A line for each pass: shares in percent, and in how many bars what is to be done.
fn short(report: &Value) -> String {
    let pass = |pass: &Value| {
        let covered = match &pass["covered"] {
            Value::Null => "-".to_owned(),
            it => format!("{}/{}/{}", it["downbeats"], it["backbeats"], it["ands"]),
        };
        let mut jobs: Vec<(String, u64)> = Vec::new();
        for run in pass["jobs"].as_array().unwrap() {
            let (say, count) = (run["say"].as_str().unwrap(), run["count"].as_u64().unwrap());
            match jobs.iter_mut().find(|(other, _)| other == say) {
                Some((_, sum)) => *sum += count,
                None => jobs.push((say.to_owned(), count)),
            }
        }
        let jobs: Vec<String> = jobs.iter().map(|(say, count)| format!("{count} {say}")).collect();
        format!("  {:<18}{covered:<13}{}\n", pass["label"].as_str().unwrap(), jobs.join("; "))
    };
    report["passes"].as_array().unwrap().iter().map(pass).collect()
}

fn tables(song: &str) -> String {
    let path = format!("songs/{song}.toml");
    let table = |(name, args): (&str, &[&str])| {
        format!("{name}\n{}", short(&json(&[&[path.as_str()], args].concat())))
    };
    LINE_UPS.into_iter().map(table).collect::<Vec<_>>().join("\n")
}

#[test]
fn a_song_with_a_singer_in_every_line_up() {
    insta::assert_snapshot!(tables("lantern-on-the-landing"));
}

#[test]
fn a_waltz_in_every_line_up() {
    insta::assert_snapshot!(tables("waltz-for-the-last-boat"));
}

#[test]
fn a_fiddle_tune_in_every_line_up() {
    insta::assert_snapshot!(tables("goat-on-the-ferry-rail"));
}

#[test]
fn the_report_for_people_reads_well() {
    let (status, out, err) = run(&["songs/lantern-on-the-landing.toml"]);
    assert_eq!((status, err.as_str()), (0, ""));
    assert!(out.lines().all(|line| line.chars().count() < 80), "{out}");
    insta::assert_snapshot!(out);
    let args = ["songs/one-plank-short.toml", "--bars", "--key", "A", "--sit-out", "turns"];
    let (_, by_bars, _) = run(&args);
    assert!(by_bars.lines().all(|line| line.chars().count() < 80), "{by_bars}");
    insta::assert_snapshot!(by_bars);
}

/// What is to be done in a pass, as far as it lasts more than a third of it.
fn mainly(song: &str, args: &[&str], pass: usize) -> BTreeSet<String> {
    let path = format!("songs/{song}.toml");
    let report = json(&[&[path.as_str()], args].concat());
    let pass = &report["passes"][pass];
    let all: u64 =
        pass["jobs"].as_array().unwrap().iter().map(|job| job["count"].as_u64().unwrap()).sum();
    let of = |job: &str| -> u64 {
        let runs = pass["jobs"].as_array().unwrap().iter().filter(|run| run["job"] == job);
        runs.map(|run| run["count"].as_u64().unwrap()).sum()
    };
    let jobs = Job::ALL.map(|job| serde_json::to_value(job).unwrap().as_str().unwrap().to_owned());
    jobs.into_iter().filter(|job| of(job) * 3 > all).collect()
}

/// Behind a singer, with one chair after the other open (common practice, no source).
#[test]
fn behind_a_singer_the_advice_goes_with_the_open_chair() {
    let verse = |args: &[&str]| {
        mainly("lantern-on-the-landing", args, 0).into_iter().collect::<Vec<_>>().join(" ")
    };
    assert_eq!(verse(&[]), "fill roll-soft");
    assert_eq!(verse(&["--sit-out", "bass"]), "boom fill");
    assert_eq!(verse(&["--sit-out", "chop"]), "fill vamp");
    assert_eq!(verse(&["--sit-out", "guitar"]), "fill roll-soft");
    assert_eq!(verse(&["--band", "guitar"]), "fill roll-soft");
    assert_eq!(verse(&["--band", "bass"]), "fill vamp");
    assert_eq!(verse(&["--sit-out", "bass,guitar"]), "boom");
}

/// While the guitar has its break (common practice, no source).
#[test]
fn a_guitar_break_takes_the_guitars_rhythm_with_it() {
    let job = |args: &[&str]| {
        mainly("lantern-on-the-landing", args, 2).into_iter().collect::<Vec<_>>().join(" ")
    };
    assert_eq!(job(&[]), "roll-soft");
    assert_eq!(job(&["--band", "guitar"]), "boom-vamp");
    assert_eq!(job(&["--band", "bass,guitar"]), "vamp");
    assert_eq!(job(&["--band", "chop,guitar"]), "boom");
}

/// Every shipped song whose mandolin breaks: the chop is gone, and the vamp is the banjo's (common practice,
/// no source).
#[test]
fn a_mandolin_break_wants_a_vamp() {
    for song in ["lantern-on-the-landing", "goat-on-the-ferry-rail"] {
        let path = format!("songs/{song}.toml");
        let report = json(&[&path]);
        let breaks = report["passes"].as_array().unwrap().iter();
        for pass in breaks.filter(|pass| pass["lead"] == "mandolin") {
            assert_eq!(pass["jobs"][0]["job"], "vamp", "{song}: {pass}");
        }
    }
}

#[test]
fn chairs_by_turns_are_heard_pass_by_pass() {
    let report = json(&["songs/lantern-on-the-landing.toml", "--sit-out", "turns"]);
    let open: BTreeSet<String> = report["passes"]
        .as_array()
        .unwrap()
        .iter()
        .flat_map(|pass| pass["open"].as_array().unwrap().clone())
        .map(|role| role.as_str().unwrap().to_owned())
        .collect();
    assert!(open.len() > 1, "{open:?}");
}

#[test]
fn what_is_written_wrong_is_said() {
    let (status, out, err) = run(&["songs/lantern-on-the-landing.toml", "--sit-out", "base"]);
    assert_eq!((status, out.as_str()), (2, ""));
    assert!(err.contains("did you mean `bass`?"), "{err}");
    let (status, out, err) = run(&["songs/lantern-on-the-landing.toml", "--sit-out", "bass@verze"]);
    assert_eq!((status, out.as_str()), (2, ""));
    assert!(err.contains("verse"), "{err}");
    let (status, out, err) = run(&["songs/no-such-song.toml"]);
    assert_eq!((status, out.as_str()), (1, ""));
    assert!(err.contains("no-such-song"), "{err}");
    let (status, out, err) = run(&["songs/waltz-for-the-last-boat.toml", "--style", "breakdown"]);
    assert_eq!((status, out.as_str()), (2, ""));
    assert!(err.contains("3/4"), "{err}");
}

/// Every song in every style, with all and with each chair open: each bar has its answer, and the answer
/// goes with what is heard; and one role less never covers more.
#[test]
fn every_shipped_song_has_an_answer_in_every_bar() {
    for (path, song, style) in shipped::pairs() {
        let plan = Plan { tag: style.tag, ..Plan::default() };
        let song = arrange(&song, &plan).unwrap();
        let played = perform(&song, &style, 1).unwrap();
        let whole = coverage(&song, &played, RoleSet::EMPTY);
        let at = format!("{} in {}", path.display(), style.name);
        for silent in [None, Some(Role::Bass), Some(Role::Chop), Some(Role::Guitar)] {
            let silenced = silent.into_iter().collect();
            let heard = coverage(&song, &played, silenced);
            assert_eq!(heard.bars.len(), song.bars.len());
            for (bar, (covered, all)) in song.bars.iter().zip(heard.bars.iter().zip(&whole.bars)) {
                let at = || format!("{at}, {silent:?} out, bar {}: {covered:?}", bar.number);
                assert!(!covered.rule().say(song.meter).is_empty(), "{}", at());
                let stops = !bar.stops.is_empty() || bar.kind != BarKind::Groove;
                let no_chord = song.spans[bar.spans.clone()].iter().any(|it| it.chord.is_none());
                let rests = covered.job == Job::Rest;
                assert!(!rests || stops || no_chord, "{}", at());
                for place in BeatPart::ALL {
                    assert!(covered.shares.of(place) <= all.shares.of(place), "{}", at());
                    assert!(covered.shares.of(place) <= 1000, "{}", at());
                }
            }
            for pass in heard.passes(&song) {
                let jobs: BTreeSet<Job> = pass.jobs.iter().map(|run| run.job).collect();
                let missing = pass.missing();
                let holds_back = jobs.contains(&Job::Sparse);
                let floor = missing.contains(&BeatPart::Down);
                assert!(!(holds_back && floor), "{at}, {silent:?} out: {pass:?}");
            }
        }
    }
}
