//! A role is a row: no file names one beside the table, its hands and its sound, and where a document must know
//! of it, a test says so.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use crate::common::shipped;
use openchair::arrange::{Plan, arrange};
use openchair::chart::Role;
use openchair::perform::{Message, messages, perform};
use openchair::style::Style;
use openchair::synth::{Renderer, Synth};
use openchair::text::list;
use openchair::time::Meter;

/// Where a role has its own lines: its row, its hands, its sound.
const OWN: [&str; 3] = ["src/band/roles.rs", "src/perform/hands/", "src/synth/sound.rs"];

/// Who else names roles, how often, and why that is no property that another could have.
const NAMED: [(&str, usize, &str); 5] = [
    ("src/arrange/kickoff.rs", 1, "a banjo that leads kicks off, if it is the player's own too"),
    (
        "src/arrange/unroll.rs",
        7,
        "a style's conditions have the words `no bass`, `no chop`, `no guitar`, and whose turn a line's end is",
    ),
    ("src/style/condition.rs", 3, "the words `bass fills`, `chop fills`, `guitar fills`"),
    ("src/coverage/coverage.rs", 2, "the rules have the words `no guitar` and `guitar subdivides`"),
    ("src/backup/chair.rs", 1, "the part that is written for the player is a banjo's"),
];

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The program's files, by their path from the root, without their tests.
fn files(folder: &Path, out: &mut Vec<(String, String)>) {
    for entry in fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()) {
        let path = entry.strip_prefix(root()).unwrap().to_string_lossy().replace('\\', "/");
        if entry.is_dir() {
            files(&entry, out);
        } else if path.ends_with(".rs") && !path.ends_with("tests.rs") {
            let text = fs::read_to_string(&entry).unwrap();
            let program = text.split("#[cfg(test)]\nmod tests {").next().unwrap();
            out.push((path, program.to_owned()));
        }
    }
}

/// How often a text names one role: `Role::Bass`, but not `Role::ALL`, `Role::parse` or `SitOutRule::Role`.
fn names(text: &str) -> usize {
    let named = |line: &str| {
        let places = line.match_indices("Role::").filter(|(at, _)| {
            let before = line[..*at].chars().next_back();
            let mut after = line[at + "Role::".len()..].chars();
            let (first, second) = (after.next(), after.next());
            let whole = before.is_none_or(|c| !c.is_alphanumeric() && c != '_');
            let one =
                first.is_some_and(char::is_uppercase) && second.is_some_and(|c| !c.is_uppercase());
            whole && (one || matches!(first, Some('{' | '*')))
        });
        places.count()
    };
    text.lines().filter(|line| !line.trim_start().starts_with("//")).map(named).sum()
}

#[test]
fn no_other_file_names_a_role() {
    let mut all = Vec::new();
    files(&root().join("src"), &mut all);
    let found: BTreeMap<&str, usize> = all
        .iter()
        .filter(|(path, _)| !OWN.iter().any(|own| path.starts_with(own)))
        .map(|(path, text)| (path.as_str(), names(text)))
        .filter(|(_, count)| *count > 0)
        .collect();
    let allowed: BTreeMap<&str, usize> =
        NAMED.iter().map(|&(path, count, _)| (path, count)).collect();
    assert_eq!(
        found, allowed,
        "what holds for one role is a property of its row (src/band/roles.rs), or has its reason here"
    );
    assert!(NAMED.iter().all(|(_, _, why)| !why.is_empty()));
    // Its place in the list is a set's alone: it changes when another comes or goes.
    let numbered = all.iter().filter(|(_, text)| text.contains("role as u"));
    let numbered: Vec<&str> = numbered.map(|(path, _)| path.as_str()).collect();
    assert_eq!(numbered, ["src/band/role_set.rs"], "take `Role::stream` or `Role::channel`");
}

#[test]
fn a_name_is_found_where_one_stands() {
    for (text, count) in [
        ("Role::Bass | Role::Chop => 1,", 2),
        ("use Role::{Bass, Chop};", 1),
        ("use Role::*;", 1),
        ("crate::chart::Role::Bass", 1),
        ("Role::ALL, Role::BAND, Role::parse(word)", 0),
        ("SitOutRule::Role(out), WhichRole::Bass", 0),
        ("    // Role::Bass", 0),
    ] {
        let found = names(text);
        assert_eq!(found, count, "{text}");
    }
}

/// A style in which a role plays its example, and nobody else plays.
fn alone(role: Role, meter: Meter) -> Style {
    let bar = role.row().examples.of(meter);
    let toml = format!("about = 'a'\nmeters = ['{meter}']\n[[{role}.bar]]\nbar = '{bar}'\n");
    shipped::style("alone", &toml)
}

/// What the messages show as an example is right, and is heard: on the role's own channel, in the built-in sound.
#[test]
fn every_role_plays_its_example() {
    for role in Role::ALL {
        for meter in Meter::ALL {
            let style = alone(role, meter);
            // Led by an instrument that no role of the rhythm shares: so everybody plays.
            let toml = format!(
                "title = 'a'\nkey = 'G'\nmeter = '{meter}'\ntempo = 100\nstyle = 'a'\nband = ['{role}']\n\
                 form = ['a: resonator']\n[section.a]\nchords = '| G | C | D | G |'\n"
            );
            let song = arrange(&shipped::song(&toml), &Plan::default()).unwrap();
            let played = perform(&song, &style, 1).unwrap();
            let strikes = messages(&played).into_iter().filter_map(|timed| match timed.message {
                Message::NoteOn { channel, .. } => Some(channel),
                _ => None,
            });
            let channels: Vec<u8> = strikes.collect();
            assert!(channels.len() >= 4, "{role} in {meter}: {} notes", channels.len());
            assert!(channels.iter().all(|channel| *channel == role.channel()), "{role}");
            if meter == Meter::FourFour {
                let mut synth = Synth::new(&played, 8_000);
                let (mut left, mut right) = (vec![0.0; 16_000], vec![0.0; 16_000]);
                synth.render(&mut left, &mut right);
                let loudest = left.iter().fold(0.0_f32, |most, sample| most.max(sample.abs()));
                assert!(loudest > 0.01, "the {role} makes no sound: {loudest}");
            }
        }
    }
}

/// A document without its line breaks.
fn document(path: &str) -> String {
    let text = fs::read_to_string(root().join(path)).unwrap();
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn the_documents_know_every_role() {
    let readme = document("README.md");
    let words = Role::words();
    let quoted: Vec<String> = words.iter().map(|word| format!("`{word}`")).collect();
    let band = format!("the line-up: any of {}", quoted.join(", "));
    assert!(readme.contains(&band), "README.md, `--band`: {band}");
    // Counted from 1, and the tenth is the count-in's.
    let channels: Vec<u8> = Role::ALL.iter().map(|role| role.channel() + 1).collect();
    let row: Vec<u8> = (1..=16).filter(|channel| *channel != 10).take(channels.len()).collect();
    assert_eq!(channels, row, "channels are given out in order");
    let list = list(&words, "and");
    let (first, rest) = list.split_at(1);
    let line =
        format!("{}{rest} are on channels 1 to {}", first.to_uppercase(), channels.last().unwrap());
    assert!(readme.contains(&line), "README.md, on ports: {line}");
    let styles = document("backing-styles/README.md");
    for role in Role::ALL {
        let known =
            styles.contains(&format!("`[{role}]`")) || styles.contains(&format!("| {role} |"));
        assert!(known, "backing-styles/README.md says nothing of the defaults of `[{role}]`");
    }
}
