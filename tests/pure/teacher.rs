//! What a teacher of backup answers when asked "the band is these people, doing this: what do I play?", situation
//! by situation. Common practice, no source.

use std::fs;

use crate::common::shipped;
use openchair::arrange::{Bar, BarKind};
use openchair::chart::RoleSet;
use openchair::coverage::{BarCoverage, Job, Singing};
use openchair::practice::SitOutRule;
use openchair::rehearsal::{Rehearsal, Wishes};

/// A line of the table.
#[derive(Debug)]
struct Situation {
    meter: String,
    tempo: String,
    style: String,
    /// The band, and after a minus who sits out.
    band: String,
    /// Who leads, or what else is asked about.
    what: String,
    /// The answer, as `coverage --json` words it.
    job: String,
    why: String,
}

fn situations() -> Vec<Situation> {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/pure/situations.txt");
    let text = fs::read_to_string(path).unwrap();
    let lines = text.lines().filter(|line| !line.is_empty() && !line.starts_with('#'));
    let read = |line: &str| {
        let cells: Vec<String> = line.split('|').map(|cell| cell.trim().to_owned()).collect();
        let [time, style, band, what, job, why] =
            cells.try_into().unwrap_or_else(|_| panic!("six cells: {line}"));
        let (meter, tempo) = time.split_once(' ').unwrap();
        let (meter, tempo) = (meter.to_owned(), tempo.to_owned());
        Situation { meter, tempo, style, band, what, job, why }
    };
    lines.map(read).collect()
}

/// Two lines, a pause at the end of each; what happens asks for the rest.
fn chart(meter: &str, tempo: &str, band: &str, what: &str) -> String {
    let hushed = what.ends_with(", hushed");
    let what = what.trim_end_matches(", hushed");
    let form = match what.strip_suffix(" leads") {
        Some("nobody") => "a".to_owned(),
        Some(lead) => format!("a: {lead}"),
        None => "a: voice".to_owned(),
    };
    let half = if what == "half sung" { "= -" } else { "-" };
    let stops = if what == "stops" { "stops = '| . | x | - | . | . | . | x | . |'\n" } else { "" };
    let third = if what == "no chord" { "N.C." } else { "C" };
    let head = match what {
        "kickoff" => "kickoff = 'shuffles'\nending = 'none'",
        "tag" => "ending = 'tag'",
        "last chord" => "ending = 'hit'",
        _ => "ending = 'none'",
    };
    let band: Vec<String> = band.split_whitespace().map(|role| format!("'{role}'")).collect();
    format!(
        "title = 'Ask the Ferryman'\nkey = 'G'\nmeter = '{meter}'\ntempo = {tempo}\nstyle = 'any'\n\
         band = [{}]\nform = ['{form}', '{form}']\n{head}\n[section.a]\n\
         chords = '| G | % | {third} | G | G | Em | D | G |'\n\
         voice = '| = | = | = | {half} | = | = | = | {half} |'\n{stops}{}",
        band.join(", "),
        if hushed { "dynamics = 'p'\n" } else { "" },
    )
}

/// True for the bars that are asked about.
fn is_asked(what: &str, bar: &Bar, covered: &BarCoverage, has_chord: bool) -> bool {
    let groove = bar.kind == BarKind::Groove;
    match what.trim_end_matches(", hushed") {
        "sings" => groove && covered.singing == Singing::Sings,
        "pauses" | "half sung" => groove && covered.singing == Singing::Pauses,
        "stops" => groove && !bar.stops.is_empty(),
        "no chord" => groove && !has_chord,
        "kickoff" => bar.kind == BarKind::Kickoff,
        "tag" => bar.kind == BarKind::Tag,
        "last chord" => matches!(bar.kind, BarKind::FinalHit | BarKind::TagEnd),
        _ => groove,
    }
}

/// What the program answers in each of the bars that are asked about.
fn answers(asked: &Situation, seed: u64) -> Vec<Job> {
    let Situation { meter, tempo, style, band, what, .. } = asked;
    let (plays, out) = band.split_once(" -").unwrap_or((band, ""));
    let song = shipped::song(&chart(meter, tempo, plays, what));
    let path = format!("{}/backing-styles/{style}.toml", env!("CARGO_MANIFEST_DIR"));
    let style = shipped::style(style, &fs::read_to_string(path).unwrap());
    let sit_out = out.split(" -").filter(|role| !role.is_empty());
    let sit_out = sit_out.map(|role| SitOutRule::parse(role).unwrap()).collect();
    let rehearsal =
        Rehearsal::new(song, style, Wishes { seed, sit_out, ..Wishes::default() }).unwrap();
    let band = rehearsal.perform(rehearsal.arrangement().unwrap()).unwrap();
    let covered = band.coverage(RoleSet::EMPTY);
    let song = &band.arrangement;
    let bars = song.bars.iter().zip(&covered.bars);
    let bars = bars.filter(|(bar, covered)| {
        let spans = &song.spans[bar.spans.clone()];
        is_asked(what, bar, covered, spans.iter().all(|span| span.chord.is_some()))
    });
    bars.map(|(_, covered)| covered.job).collect()
}

fn word(job: Job) -> String {
    serde_json::to_value(job).unwrap().as_str().unwrap().to_owned()
}

#[test]
fn in_every_situation_the_answer_is_a_teachers() {
    let situations = situations();
    assert!(situations.len() >= 100, "{}", situations.len());
    let mut wrong = Vec::new();
    for asked in &situations {
        assert!(!asked.why.is_empty(), "{asked:?}");
        for seed in 1..=6 {
            let mut told: Vec<String> = answers(asked, seed).into_iter().map(word).collect();
            told.dedup();
            if told != [asked.job.as_str()] {
                wrong.push(format!("seed {seed}: {asked:?}\n    but {told:?}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{} wrong:\n{}", wrong.len(), wrong.join("\n"));
}

/// No job of the program's is left without a situation.
#[test]
fn every_job_has_a_situation() {
    let situations = situations();
    for job in Job::ALL.map(word) {
        assert!(situations.iter().any(|asked| asked.job == job), "{job}");
    }
}
