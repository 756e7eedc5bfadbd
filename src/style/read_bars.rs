use std::collections::HashSet;

use super::bar_text::BarText;
use super::numbers::lacks;
use super::when::read_when;
use super::{Condition, Pattern};
use crate::chart::Role;
use crate::text::{Field, Item, Node, Problems, Source, Table, list, nearest};
use crate::time::Meter;

/// The keys of a bar.
const KEYS: [&str; 4] = ["when", "meter", "chance", "bar"];

/// More bars than any player keeps apart; past this a file is a mistake or a trick.
const MOST_BARS: usize = 256;

/// What the bars of a part are read with.
pub(super) struct BarReader<'a> {
    pub source: &'a Source,
    pub role: Role,
    /// The style's meters; empty if they could not be read.
    pub meters: &'a [Meter],
    /// False if the file's TOML is broken somewhere: what seems to be missing may be there.
    pub complete: bool,
}

/// A bar of the file, before it is spread over the meters that it fits.
struct Written<'a> {
    node: &'a Node,
    when: Option<Condition>,
    /// `None` if the meter could not be read.
    meters: Option<Vec<Meter>>,
    chance: Option<f64>,
}

impl Written<'_> {
    /// True if it is always played where its condition holds.
    fn is_sure(&self) -> bool {
        self.chance.is_some_and(|chance| chance >= 1.0)
    }
}

impl BarReader<'_> {
    /// Reads the `[[role.bar]]` tables of a part, whose own heading is `part`.
    pub fn read(&self, part: &Field, table: &Table, problems: &mut Problems) -> Vec<Pattern> {
        let Some(nodes) = self.nodes(table, problems) else { return Vec::new() };
        if let Some(extra) = nodes.get(MOST_BARS) {
            problems.add(
                extra.span.clone(),
                format!("`[{}]` has {} bars", self.role, nodes.len()),
                format!("keep the {MOST_BARS} that matter most"),
            );
            return Vec::new();
        }
        let mut patterns = Vec::new();
        let mut written = Vec::with_capacity(nodes.len());
        for node in nodes {
            written.extend(self.bar(node, &mut patterns, problems));
        }
        self.check_plain(part, &written, problems);
        self.check_order(&written, problems);
        patterns
    }

    fn nodes<'a>(&self, table: &'a Table, problems: &mut Problems) -> Option<&'a [Node]> {
        let Some(node) = table.get("bar") else { return Some(&[]) };
        if let Item::Array(nodes) = &node.item {
            return Some(nodes);
        }
        problems.add(
            node.span.clone(),
            format!("`bar` is {} where a list of bars belongs", node.kind()),
            format!(
                "write a heading [[{0}.bar]], in double brackets, over each bar of the {0}",
                self.role
            ),
        );
        None
    }

    fn bar<'a>(
        &self,
        node: &'a Node,
        patterns: &mut Vec<Pattern>,
        problems: &mut Problems,
    ) -> Option<Written<'a>> {
        let Item::Table(table) = &node.item else {
            problems.add(
                node.span.clone(),
                format!("this bar is {} where a table belongs", node.kind()),
                format!("write a heading [[{}.bar]] and under it bar = \"R . 5 .\"", self.role),
            );
            return None;
        };
        let place = format!("a bar of `[{}]`", self.role);
        table.only(&KEYS, &place, problems);
        let when = match table.get("when") {
            None => lacks(table, "when", &KEYS).then_some(Condition::ALWAYS),
            Some(node) => node
                .text("when", "\"change next\"", problems)
                .and_then(|text| read_when(text, problems)),
        };
        let chance = match table.get("chance") {
            None => lacks(table, "chance", &KEYS).then_some(1.0),
            Some(_) => table.number("chance", 0.0..=1.0, "0.5", problems),
        };
        let meters = self.bar_meters(table, problems);
        let written = Written { node, when, meters, chance };
        let Some(bar) = table.get("bar") else {
            if self.complete && lacks(table, "bar", &KEYS) {
                problems.add(
                    node.span.clone(),
                    "this bar says nothing of what is played",
                    format!("add bar = {}", self.example(Meter::FourFour)),
                );
            }
            return Some(written);
        };
        let first = written.meters.as_ref().and_then(|meters| meters.first()).copied();
        let example = self.example(first.unwrap_or(Meter::FourFour));
        if let Some(text) = bar.text("bar", &example, problems) {
            let bar = BarText { text, role: self.role, meter: first, when: written.when.as_ref() };
            let grid = bar.read(problems);
            if let (Some((slots, slot)), Some(when), Some(chance)) =
                (grid, &written.when, written.chance)
            {
                patterns.extend(written.meters.iter().flatten().map(|&meter| Pattern {
                    when: when.clone(),
                    meter,
                    chance,
                    slots: slots.clone(),
                    slot,
                }));
            }
        }
        Some(written)
    }

    /// The meters that a bar is for: its own, or the style's first and those like it.
    fn bar_meters(&self, table: &Table, problems: &mut Problems) -> Option<Vec<Meter>> {
        let first = *self.meters.first()?;
        let Some(node) = table.get("meter") else {
            if !lacks(table, "meter", &KEYS) {
                return None;
            }
            let like = |meter: &&Meter| is_like(**meter, first);
            return Some(self.meters.iter().filter(like).copied().collect());
        };
        let example = format!("\"{first}\"");
        let text = node.text("meter", &example, problems)?;
        let own: Vec<&str> = self.meters.iter().map(|meter| meter.as_str()).collect();
        match Meter::parse(&text.value) {
            Some(meter) if self.meters.contains(&meter) => Some(vec![meter]),
            known => {
                let help = match known {
                    Some(_) => format!(
                        "add \"{}\" to `meters` at the top, or write {}",
                        text.value,
                        list(&own, "or")
                    ),
                    None => nearest(&text.value, own.iter().copied()).map_or_else(
                        || format!("write one of the style's meters: {}", list(&own, "or")),
                        |near| format!("did you mean `{near}`?"),
                    ),
                };
                problems.add(
                    text.span(0..text.value.len()),
                    format!("`{}` is not among this style's meters", text.value),
                    help,
                );
                None
            }
        }
    }

    /// Every meter needs a bar that is always there to fall back on.
    fn check_plain(&self, part: &Field, written: &[Written<'_>], problems: &mut Problems) {
        // A bar that could not be read may have been the one.
        let unread = written.iter().any(|bar| bar.meters.is_none() || bar.when.is_none());
        if unread || !self.complete {
            return;
        }
        let is_plain = |bar: &&Written<'_>| {
            bar.when.as_ref().is_some_and(Condition::is_always)
                && (bar.chance.is_none() || bar.is_sure())
        };
        let covered: HashSet<Meter> = written
            .iter()
            .filter(is_plain)
            .flat_map(|bar| bar.meters.iter().flatten())
            .copied()
            .collect();
        for meter in self.meters.iter().filter(|meter| !covered.contains(meter)) {
            let own = match self.meters.first() {
                Some(first) if !is_like(*meter, *first) => format!("meter = \"{meter}\" and "),
                _ => String::new(),
            };
            problems.add(
                part.key_span.clone(),
                format!("`[{}]` has no plain bar for {meter}", self.role),
                format!(
                    "add a [[{}.bar]] with {own}bar = {}, and neither `when` nor `chance`",
                    self.role,
                    self.example(*meter)
                ),
            );
        }
    }

    /// A bar below another that is played wherever it would be is never heard.
    fn check_order(&self, written: &[Written<'_>], problems: &mut Problems) {
        for bar in written {
            let meters = bar.meters.iter().flatten();
            let hiding: Vec<_> = meters.map(|meter| hiding(bar, *meter, written)).collect();
            let Some(Some(first)) = hiding.first() else { continue };
            if hiding.iter().any(Option::is_none) {
                continue;
            }
            let (line, _) = self.source.position(first.node.span.start);
            problems.add(
                bar.node.span.clone(),
                format!("this bar is never played: the one on line {line} always comes before it"),
                "move it above that one: from the top, the first bar whose `when` holds is played",
            );
        }
    }

    /// A bar that the role could play.
    fn example(&self, meter: Meter) -> String {
        let bar = self.role.row().examples.of(meter);
        format!("\"{bar}\"")
    }
}

/// True if a bar written for one meter reads the same in the other: 4/4 and 2/2 do; 3/4 and 6/8
/// are as long, but their beats fall elsewhere.
fn is_like(a: Meter, b: Meter) -> bool {
    a.bar() == b.bar() && (a == Meter::SixEight) == (b == Meter::SixEight)
}

/// The bar that is played in `meter` wherever `bar` would be, because it stands above and asks less.
fn hiding<'a>(
    bar: &Written<'_>,
    meter: Meter,
    written: &'a [Written<'a>],
) -> Option<&'a Written<'a>> {
    let when = bar.when.as_ref()?;
    let plays = |other: &Written<'_>| other.meters.iter().flatten().any(|own| *own == meter);
    // The bars of a group all stand where the first of them stands.
    let first =
        written.iter().position(|other| plays(other) && other.when.as_ref() == Some(when))?;
    written.get(..first)?.iter().filter(|other| plays(other)).find(|other| {
        other.when.as_ref().is_some_and(|wide| wide.covers(when))
            && written
                .iter()
                .any(|member| plays(member) && member.when == other.when && member.is_sure())
    })
}
