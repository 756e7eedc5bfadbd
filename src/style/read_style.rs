use std::ops::RangeInclusive;

use super::numbers::{array, item, lacks, real};
use super::read_bars::BarReader;
use super::read_dynamics::{read_dynamics, read_tag};
use super::read_part::read_part;
use super::{Feel, Style};
use crate::chart::Role;
use crate::text::{Field, Item, Node, Problem, Problems, Source, Table, list, parse_toml};
use crate::time::{Meter, Tempo};

const BEATS_A_MINUTE: RangeInclusive<f64> = Tempo::SLOWEST..=Tempo::FASTEST;
/// The fastest tempo counted in half notes is this in quarters.
const QUARTERS_A_MINUTE: RangeInclusive<f64> = Tempo::SLOWEST..=2.0 * Tempo::FASTEST;
/// From even eighths to a dotted eighth and a sixteenth.
const SWING: RangeInclusive<f64> = Feel::EVEN..=0.75;
/// Below half the tempo an ending falls apart.
const ENDING_SLOW: RangeInclusive<f64> = 0.5..=1.0;
/// Straight lines between so many points are any curve that can be heard.
const MOST_SWING_POINTS: usize = 32;

const METERS_HELP: &str = "write meters = [\"4/4\", \"2/2\"]";
const TEMPO_HELP: &str = "write the slowest and the fastest, as in tempo = [80, 140]";
const SWING_HELP: &str =
    "write swing = [[100, 0.6], [200, 0.5]]: quarter notes a minute, then a share from 0.5 to 0.75";

/// The keys of a style beside its parts.
const KEYS: [&str; 7] = ["about", "meters", "tempo", "tag", "ending_slow", "feel", "dynamics"];

/// All keys of a style, in the order the messages list them.
fn keys() -> Vec<&'static str> {
    KEYS.into_iter().chain(Role::words()).collect()
}

/// Reads a style file. `name` is the word that songs call it by. Everything that is wrong with it
/// is added to `problems`, and then there is no style.
pub fn read_style(name: &str, source: &Source, problems: &mut Problems) -> Option<Style> {
    let mut broken = Problems::new();
    let root = parse_toml(source, &mut broken);
    let mut found = Problems::new();
    let style = read_root(name, source, &root, broken.is_empty(), &mut found);
    for problem in broken.in_order() {
        problems.add(problem.span.clone(), &problem.message, &problem.help);
    }
    for problem in found.in_order() {
        // What broken TOML left behind at its own place is no second mistake.
        let at = |other: &Problem| other.span.start == problem.span.start;
        if !broken.in_order().into_iter().any(at) {
            problems.add(problem.span.clone(), &problem.message, &problem.help);
        }
    }
    (broken.is_empty() && found.is_empty()).then_some(style)
}

/// The style as far as it can be read. `complete` is false if the file's TOML is broken somewhere:
/// what seems to be missing may be there.
fn read_root(
    name: &str,
    source: &Source,
    root: &Table,
    complete: bool,
    problems: &mut Problems,
) -> Style {
    root.only(&keys(), "a style", problems);
    let about = read_about(root, complete, problems);
    let meters = read_meters(root, complete, problems);
    let tempo = read_tempo(root, problems);
    let feel = read_feel(root, &meters, problems);
    let dynamics = read_dynamics(root, problems);
    let tag = read_tag(root, problems);
    let mut ending_slow = 1.0;
    real(root, "ending_slow", ENDING_SLOW, &mut ending_slow, problems);
    let mut parts = Vec::new();
    for role in Role::ALL {
        let field = root.fields.iter().find(|field| field.key == role.as_str());
        let reader = BarReader { source, role, meters: &meters, complete };
        if let Some(part) = field.and_then(|field| read_part(field, &reader, problems)) {
            parts.push((role, part));
        }
    }
    // A heading under another name is a part misspelt, and reported as that.
    let is_part = |field: &Field| {
        matches!(field.node.item, Item::Table(_) | Item::Array(_))
            && !["meters", "tempo", "feel", "dynamics"].contains(&field.key.as_str())
    };
    if complete && !root.fields.iter().any(is_part) {
        problems.add(
            0..0,
            "nobody plays in this style",
            "add [bass], [chop] or [guitar], with [[bass.bar]] and the like over their bars",
        );
    }
    let (name, about) = (name.to_owned(), about.unwrap_or_default());
    Style { name, about, meters, tempo, feel, dynamics, tag, ending_slow, parts }
}

fn read_about(root: &Table, complete: bool, problems: &mut Problems) -> Option<String> {
    const EXAMPLE: &str = "\"Bass on 1 and 3, chop on 2 and 4\"";
    if complete && lacks(root, "about", &keys()) {
        let help = format!("say in a line what it is good for: about = {EXAMPLE}");
        problems.add(0..0, "this style does not say what it is", help);
    }
    let text = root.text("about", EXAMPLE, problems)?;
    if text.value.trim().is_empty() {
        let help = format!("say in a line what it is good for: about = {EXAMPLE}");
        problems.add(text.span(0..text.value.len()), "`about` is empty", help);
    }
    Some(text.value.trim().to_owned())
}

fn read_meters(root: &Table, complete: bool, problems: &mut Problems) -> Vec<Meter> {
    if complete && lacks(root, "meters", &keys()) {
        problems.add(0..0, "this style does not say which meters it plays", METERS_HELP);
    }
    let Some(nodes) = array(root, "meters", METERS_HELP, problems) else { return Vec::new() };
    if let (true, Some(node)) = (nodes.is_empty(), root.get("meters")) {
        problems.add(node.span.clone(), "`meters` is empty", METERS_HELP);
    }
    let before = problems.len();
    let mut meters = Vec::new();
    for node in nodes {
        let Some(text) = node.text("meters", "[\"4/4\", \"2/2\"]", problems) else { continue };
        let span = text.span(0..text.value.len());
        match Meter::parse(&text.value) {
            Some(meter) if meters.contains(&meter) => {
                problems.add(span, format!("{meter} is listed twice"), "remove one of the two");
            }
            Some(meter) => meters.push(meter),
            None => {
                let all = Meter::ALL.map(Meter::as_str);
                problems.add(
                    span,
                    format!("the band does not play in `{}`", text.value),
                    format!("write {}", list(&all, "or")),
                );
            }
        }
    }
    // With half of the meters, every bar for the others would seem wrong.
    if problems.len() == before { meters } else { Vec::new() }
}

fn read_tempo(root: &Table, problems: &mut Problems) -> RangeInclusive<f64> {
    let Some(node) = root.get("tempo") else { return BEATS_A_MINUTE };
    match pair(node, &BEATS_A_MINUTE, &BEATS_A_MINUTE) {
        Some((slow, fast)) if slow <= fast => slow..=fast,
        Some((slow, fast)) => {
            problems.add(
                node.span.clone(),
                format!("`tempo` runs backwards, from {slow} to {fast}"),
                format!("write tempo = [{fast}, {slow}]"),
            );
            BEATS_A_MINUTE
        }
        None => {
            problems.add(
                node.span.clone(),
                format!(
                    "`tempo` is not two numbers of beats a minute from {} to {}",
                    Tempo::SLOWEST,
                    Tempo::FASTEST
                ),
                TEMPO_HELP,
            );
            BEATS_A_MINUTE
        }
    }
}

fn read_feel(root: &Table, meters: &[Meter], problems: &mut Problems) -> Feel {
    let mut feel = Feel::default();
    let Some(node) = root.get("feel") else { return feel };
    let Item::Table(table) = &node.item else {
        problems.add(
            node.span.clone(),
            format!("`feel` is {} where a table belongs", node.kind()),
            "write a heading [feel] and under it swing = [[100, 0.6], [200, 0.5]]",
        );
        return feel;
    };
    table.only(&["swing"], "`[feel]`", problems);
    let Some(points) = array(table, "swing", SWING_HELP, problems) else { return feel };
    let key = table.fields.iter().find(|field| field.key == "swing");
    let key_span = |field: &Field| field.key_span.clone();
    if points.len() > MOST_SWING_POINTS {
        problems.add(
            key.map_or(0..0, key_span),
            format!("`swing` has {} points", points.len()),
            format!("keep {MOST_SWING_POINTS} at most; between two it goes in a straight line"),
        );
        return feel;
    }
    if !points.is_empty() && !meters.is_empty() && meters.iter().all(|m| *m == Meter::SixEight) {
        problems.add(
            key.map_or(0..0, key_span),
            "6/8 has three eighths to a beat, and swing shares a quarter between two",
            "leave `swing` out of a style that plays 6/8 alone",
        );
    }
    for node in points {
        match pair(node, &QUARTERS_A_MINUTE, &SWING) {
            Some((tempo, _)) if feel.swing.last().is_some_and(|last| last.0 >= tempo) => {
                problems.add(
                    node.span.clone(),
                    format!("the point at {tempo} stands after one as fast or faster"),
                    "write the points from the slowest tempo to the fastest, each tempo once",
                );
            }
            Some(point) => feel.swing.push(point),
            None => problems.add(
                node.span.clone(),
                format!(
                    "this is no swing point: a tempo from {} to {} and a share from {} to {}",
                    QUARTERS_A_MINUTE.start(),
                    QUARTERS_A_MINUTE.end(),
                    SWING.start(),
                    SWING.end()
                ),
                SWING_HELP,
            ),
        }
    }
    feel
}

/// `[a, b]` with each in its range.
fn pair(
    node: &Node,
    first: &RangeInclusive<f64>,
    second: &RangeInclusive<f64>,
) -> Option<(f64, f64)> {
    match &node.item {
        Item::Array(items) => match items.as_slice() {
            [a, b] => Some((item(a, first)?, item(b, second)?)),
            _ => None,
        },
        _ => None,
    }
}
