use std::ops::Range;

use super::limits::{MOST_BARS, MOST_PASSES, thousands};
use super::section_table::SectionDraft;
use super::words::{known_word, roles, suggestion};
use super::{Lead, Pass, RoleSet};
use crate::text::{Item, Node, Problems, Table, Text};

const EXAMPLE: &str = "form = [\"verse: voice\", \"chorus: voice\", \"verse: guitar\"]";

/// Reads the form: which sections are played, in order, and who leads each. A section that `may_be`
/// in the file though it was not found is not reported.
pub(super) fn read_form(
    node: &Node,
    sections: &[SectionDraft],
    may_be: impl Fn(&str) -> bool,
    problems: &mut Problems,
) -> Vec<Pass> {
    let Item::Array(entries) = &node.item else {
        problems.add(
            node.span.clone(),
            format!("`form` is {} where a list belongs", node.kind()),
            format!("write {EXAMPLE}"),
        );
        return Vec::new();
    };
    if entries.is_empty() {
        problems.add(
            node.span.clone(),
            "the form is empty, so nothing is played",
            format!("list the sections in the order played: {EXAMPLE}"),
        );
    }
    if let Some(first_too_many) = entries.get(MOST_PASSES) {
        problems.add(
            first_too_many.span.clone(),
            format!(
                "the form has {} passes, of which this is number {}",
                entries.len(),
                MOST_PASSES + 1
            ),
            format!("take passes out until there are at most {}", thousands(MOST_PASSES)),
        );
    }
    let names = sections.iter().map(|section| section.name.as_str()).collect();
    let reader = Reader { sections, names, may_be: &may_be };
    let mut form = Vec::new();
    let mut bars = 0usize;
    for entry in entries.iter().take(MOST_PASSES) {
        let Some(pass) = reader.entry(entry, problems) else { continue };
        let length = sections.get(pass.section).and_then(SectionDraft::length).unwrap_or(0);
        let before = bars;
        bars = bars.saturating_add(length);
        if before <= MOST_BARS && bars > MOST_BARS {
            problems.add(
                entry.span.clone(),
                format!("with this pass the form has more than {} bars", thousands(MOST_BARS)),
                "end the form before this pass; so many bars are days of music",
            );
        }
        form.push(pass);
    }
    form
}

struct Reader<'a> {
    sections: &'a [SectionDraft],
    names: Vec<&'a str>,
    may_be: &'a dyn Fn(&str) -> bool,
}

impl Reader<'_> {
    fn entry(&self, node: &Node, problems: &mut Problems) -> Option<Pass> {
        match &node.item {
            Item::Text(text) => self.line(text, problems),
            Item::Table(table) => self.table(table, node, problems),
            _ => {
                problems.add(
                    node.span.clone(),
                    format!("this entry of the form is {}", node.kind()),
                    "write a section in quotes, with its lead if it has one: \"verse: guitar\"",
                );
                None
            }
        }
    }

    /// `SECTION` or `SECTION: LEAD`.
    fn line(&self, text: &Text, problems: &mut Problems) -> Option<Pass> {
        let whole = 0..text.value.len();
        let (section, lead) = match text.value.find(':') {
            Some(colon) => (0..colon, Some(colon + 1..whole.end)),
            None => (whole, None),
        };
        let section = self.section(text, section, problems);
        let lead = match lead {
            Some(range) => Some(lead_word(text, range, problems)?),
            None => None,
        };
        Some(self.pass(section?, lead, RoleSet::EMPTY))
    }

    /// `{ play = "verse", lead = "guitar", sit_out = ["chop"] }`.
    fn table(&self, table: &Table, node: &Node, problems: &mut Problems) -> Option<Pass> {
        table.only(&["play", "lead", "sit_out"], "an entry of the form", problems);
        let section = match table.text("play", "\"verse\"", problems) {
            Some(text) => self.section(text, 0..text.value.len(), problems),
            None => {
                if table.get("play").is_none() {
                    problems.add(
                        node.span.clone(),
                        "this entry of the form does not say what to play",
                        "name the section, as in { play = \"verse\", lead = \"guitar\" }",
                    );
                }
                None
            }
        };
        let lead = table
            .text("lead", "\"guitar\"", problems)
            .and_then(|text| lead_word(text, 0..text.value.len(), problems));
        let sit_out = table
            .get("sit_out")
            .map_or(RoleSet::EMPTY, |roles_node| roles(roles_node, "sit_out", problems));
        Some(self.pass(section?, lead, sit_out))
    }

    fn section(&self, text: &Text, range: Range<usize>, problems: &mut Problems) -> Option<usize> {
        let (word, at) = word(text, range);
        if let Some(index) = self.names.iter().position(|name| *name == word) {
            return Some(index);
        }
        let span = text.span(at);
        // That the song has no sections is said where they are read; and where so much is wrong,
        // no one waits for more to be compared.
        let known_wrong = self.names.is_empty() || (self.may_be)(word);
        if known_wrong || problems.len() >= Problems::MOST_KEPT {
            return None;
        }
        if word.is_empty() {
            let help = suggestion("", "section", &self.names);
            problems.add(span, "this entry of the form names no section", help);
        } else if let Some((section, _)) = word.split_once(':') {
            problems.add(
                span,
                format!("there is no section `{word}`"),
                format!(
                    "in a table the lead stands apart: play = \"{}\", lead = …",
                    section.trim()
                ),
            );
        } else {
            let help = match Lead::parse(word) {
                Some(lead) => {
                    let section = self.names.first().copied().unwrap_or("verse");
                    format!("a lead follows its section, as in \"{section}: {lead}\"")
                }
                None => suggestion(word, "section", &self.names),
            };
            problems.add(span, format!("there is no section `{word}`"), help);
        }
        None
    }

    fn pass(&self, section: usize, lead: Option<Lead>, sit_out: RoleSet) -> Pass {
        let name = self.sections.get(section).map_or("", |section| section.name.as_str());
        let label = match lead {
            Some(lead) => format!("{name}: {lead}"),
            None => name.to_owned(),
        };
        Pass { section, lead, sit_out, label }
    }
}

fn lead_word(text: &Text, range: Range<usize>, problems: &mut Problems) -> Option<Lead> {
    let (word, at) = word(text, range);
    let known = Lead::ALL.map(Lead::as_str);
    known_word(word, text.span(at), "lead", &known, Lead::parse, problems)
}

/// The trimmed word in a range, and where it stands (the whole range if there is none).
fn word(text: &Text, range: Range<usize>) -> (&str, Range<usize>) {
    let part = &text.value[range.clone()];
    let trimmed = part.trim();
    if trimmed.is_empty() {
        return (trimmed, range);
    }
    let start = range.start + (part.len() - part.trim_start().len());
    (trimmed, start..start + trimmed.len())
}
