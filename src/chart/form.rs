use std::collections::HashMap;

use super::limits::{MOST_BARS, MOST_PASSES, thousands};
use super::section_rows::SectionRows;
use super::words::{check_roles, known_word, suggestion};
use super::{FormEntry, Given, Lead, Pass, RoleSet};
use crate::text::{Placed, Problems, Text, nearest};

/// Which sections are played, in order, and who leads each.
pub(super) fn check_form(
    form: &Placed<Vec<FormEntry>>,
    sections: &[SectionRows],
    example: fn(&str) -> String,
    problems: &mut Problems,
) -> Vec<Pass> {
    let entries = &form.value;
    if entries.is_empty() {
        problems.add(
            form.span.clone(),
            "the form is empty, so nothing is played",
            format!("list the sections in the order played, as in {}", example("form")),
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
    let reader = Reader::new(sections, example);
    let mut passes = Vec::new();
    let mut bars = 0usize;
    for entry in entries.iter().take(MOST_PASSES) {
        let Some(pass) = reader.entry(entry, problems) else { continue };
        let length = sections.get(pass.section).and_then(SectionRows::length).unwrap_or(0);
        let before = bars;
        bars = bars.saturating_add(length);
        if before <= MOST_BARS && bars > MOST_BARS {
            problems.add(
                entry.span.clone(),
                format!("with this pass the form has more than {} bars", thousands(MOST_BARS)),
                "end the form before this pass; so many bars are days of music",
            );
        }
        passes.push(pass);
    }
    passes
}

struct Reader<'a> {
    sections: &'a [SectionRows],
    names: Vec<&'a str>,
    /// The index of each.
    by_name: HashMap<&'a str, usize>,
    example: fn(&str) -> String,
}

impl<'a> Reader<'a> {
    fn new(sections: &'a [SectionRows], example: fn(&str) -> String) -> Self {
        let names: Vec<_> = sections.iter().map(|section| section.name.as_str()).collect();
        // The first of a name, should a format have two.
        let by_name = names.iter().enumerate().rev().map(|(at, name)| (*name, at)).collect();
        Self { sections, names, by_name, example }
    }

    fn entry(&self, entry: &FormEntry, problems: &mut Problems) -> Option<Pass> {
        let section = match &entry.play {
            Given::Here(text) => self.section(text, problems),
            Given::Missing => {
                problems.add(
                    entry.span.clone(),
                    "this entry of the form does not say what to play",
                    "name the section, as in { play = \"verse\", lead = \"guitar\" }",
                );
                None
            }
            Given::Unreadable => None,
        };
        let lead = entry.lead.here().and_then(|text| lead_word(text, problems));
        let sit_out = entry.sit_out.here().map_or(RoleSet::EMPTY, |roles| {
            check_roles(roles, "sit_out", &(self.example)("sit_out"), problems)
        });
        Some(self.pass(section?, lead, sit_out))
    }

    /// Finds a section by its name; reports one that there is not.
    fn section(&self, text: &Text, problems: &mut Problems) -> Option<usize> {
        let trimmed = text.trimmed();
        let word = trimmed.value.as_str();
        if let Some(index) = self.by_name.get(word) {
            return Some(*index);
        }
        let span = if word.is_empty() { text.inside() } else { trimmed.inside() };
        // That the song has no sections is said where they are read; and where so much is wrong,
        // no one waits for more to be compared.
        if self.names.is_empty() || problems.len() >= Problems::MOST_KEPT {
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
                None => {
                    self.joined(word).unwrap_or_else(|| suggestion(word, "section", &self.names))
                }
            };
            problems.add(span, format!("there is no section `{word}`"), help);
        }
        None
    }

    /// What to write for a section with more than its name: its lead without a colon, or how often.
    fn joined(&self, word: &str) -> Option<String> {
        // The longest name that it begins with.
        let name = self
            .names
            .iter()
            .filter(|name| !name.is_empty() && word.starts_with(**name))
            .max_by_key(|name| name.len())?;
        let more = word.get(name.len()..)?;
        let more = more.trim_matches(|c: char| c.is_whitespace() || "-–—/,;.()[]=".contains(c));
        let times = more.trim_matches(['x', 'X', '*', '×']);
        if !times.is_empty() && times.chars().all(|c| c.is_ascii_digit()) {
            return Some(format!("write \"{name}\" as often as it is played, each by itself"));
        }
        let lead = Lead::parse(more)
            .or_else(|| nearest(more, Lead::ALL.map(Lead::as_str)).and_then(Lead::parse))?;
        Some(format!("write a colon before the lead: \"{name}: {lead}\""))
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

fn lead_word(text: &Text, problems: &mut Problems) -> Option<Lead> {
    let trimmed = text.trimmed();
    let span = if trimmed.value.is_empty() { text.inside() } else { trimmed.inside() };
    let known = Lead::ALL.map(Lead::as_str);
    known_word(&trimmed.value, span, "lead", &known, Lead::parse, problems)
}
