use std::sync::LazyLock;

use serde::Deserialize;
use thiserror::Error;

use super::facts::{Facts, Term};
use super::{BeatPart, Job};
use crate::chart::Role;
use crate::condition::{self, Condition};
use crate::time::Meter;

/// The table as it is shipped.
const SHIPPED: &str = include_str!("rules.toml");

/// What a rule says to do, and why.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rule {
    when: Condition<Term>,
    /// What to do.
    pub job: Job,
    say: String,
    because: String,
}

impl Rule {
    /// What to do in a few words: `vamp: no backbeat`.
    pub fn say(&self, meter: Meter) -> String {
        in_meter(&self.say, meter)
    }

    /// A teacher's reason, a sentence or two, with the beats as the meter counts them.
    pub fn because(&self, meter: Meter) -> String {
        in_meter(&self.because, meter)
    }
}

fn in_meter(words: &str, meter: Meter) -> String {
    BeatPart::ALL.into_iter().fold(words.to_owned(), |words, place| {
        words.replace(&format!("{{{place}}}"), place.beats(meter))
    })
}

/// Which rule of the table.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub(super) struct RuleId(usize);

/// The whole table.
#[derive(Debug)]
pub(super) struct Rules {
    /// Below it a half of the beat is missing, in thousandths.
    pub missing: u16,
    /// Below it the ands are empty, in thousandths.
    pub empty: u16,
    /// From so many of the ands on, in thousandths, a guitar that strikes them subdivides the beat.
    pub subdivided: u16,
    /// From so many of the backbeats on, whoever chops them is the chop.
    pub chopped: u16,
    jobs: Option<Jobs>,
    rules: Vec<Rule>,
    /// For a table that has no rule without a `when`.
    last: Rule,
}

/// A table of rules that can't be read.
#[derive(Debug, Error)]
pub(super) enum RulesError {
    #[error(transparent)]
    Toml(#[from] toml::de::Error),
    #[error("{0}")]
    When(String),
    #[error("the last rule has a `when`: some bars would have no job")]
    NoLast,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RulesFile {
    missing: u16,
    empty: u16,
    subdivided: u16,
    chopped: u16,
    job_of: Jobs,
    rule: Vec<RuleRow>,
}

/// Whose job each part of the beat is.
#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Jobs {
    downbeats: Role,
    backbeats: Role,
    ands: Role,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RuleRow {
    when: Option<String>,
    job: Job,
    say: String,
    because: String,
}

impl RuleRow {
    fn read(self) -> Result<Rule, RulesError> {
        let when = self.when.as_deref().map_or(Ok(Condition::ALWAYS), condition::read);
        let when = when.map_err(|slips| {
            let told: Vec<String> = slips.iter().map(|slip| slip.error.to_string()).collect();
            RulesError::When(told.join("; "))
        })?;
        Ok(Rule { when, job: self.job, say: self.say, because: self.because })
    }
}

impl Rules {
    /// The shipped table.
    pub(super) fn shipped() -> &'static Self {
        static RULES: LazyLock<Rules> = LazyLock::new(|| {
            // That it can be read is tested; without it there is nothing to advise.
            Rules::read(SHIPPED).unwrap_or_else(|_| Rules::none())
        });
        &RULES
    }

    fn none() -> Self {
        let last = Rule {
            when: Condition::ALWAYS,
            job: Job::Sparse,
            say: Job::Sparse.to_string(),
            because: String::new(),
        };
        Self {
            missing: 0,
            empty: 0,
            subdivided: 0,
            chopped: 0,
            jobs: None,
            rules: Vec::new(),
            last,
        }
    }

    fn read(text: &str) -> Result<Self, RulesError> {
        let table: RulesFile = toml::from_str(text)?;
        let mut rules: Vec<Rule> =
            table.rule.into_iter().map(RuleRow::read).collect::<Result<_, _>>()?;
        let last = rules.pop().filter(|last| last.when.is_always()).ok_or(RulesError::NoLast)?;
        Ok(Self {
            missing: table.missing,
            empty: table.empty,
            subdivided: table.subdivided,
            chopped: table.chopped,
            jobs: Some(table.job_of),
            rules,
            last,
        })
    }

    /// The player whose job a part of the beat is.
    pub(super) fn whose(&self, place: BeatPart) -> Option<Role> {
        self.jobs.map(|jobs| match place {
            BeatPart::Down => jobs.downbeats,
            BeatPart::Back => jobs.backbeats,
            BeatPart::And => jobs.ands,
        })
    }

    /// True if a part of the beat is a role's job.
    pub(super) fn is_job_of(&self, place: BeatPart, role: Role) -> bool {
        self.whose(place) == Some(role)
    }

    /// The first rule that holds.
    pub(super) fn first(&self, facts: &Facts) -> RuleId {
        let facts = facts.bits();
        let found = self.rules.iter().position(|rule| rule.when.holds_for(facts));
        RuleId(found.unwrap_or(self.rules.len()))
    }

    /// A rule by its number.
    pub(super) fn rule(&self, id: RuleId) -> &Rule {
        self.rules.get(id.0).unwrap_or(&self.last)
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::super::Singing;
    use super::super::facts::Moment;
    use super::*;
    use crate::chart::Lead;

    /// Every combination of facts that a bar can have.
    fn all_facts() -> Vec<Facts> {
        use Moment::{ColdEnd, Groove, Kickoff, KickoffOpen, LastChord, Stop, Tag};
        let voices = [Singing::Sings, Singing::Pauses, Singing::Nobody].map(|voice| (voice, None));
        let leads = Lead::ALL.into_iter().filter(|lead| *lead != Lead::Voice);
        let leaders: Vec<_> =
            voices.into_iter().chain(leads.map(|lead| (Singing::Nobody, Some(lead)))).collect();
        let mut all = Vec::new();
        for moment in [Groove, Kickoff, KickoffOpen, Tag, LastChord, ColdEnd, Stop] {
            for &(singing, lead) in &leaders {
                for bits in 0..1024_u16 {
                    let [
                        downbeats_missing,
                        backbeats_missing,
                        guitar_subdivides,
                        banjo_rolls,
                        ands_taken,
                        soft_pass,
                        player_leads,
                        no_bass,
                        no_chop,
                        no_guitar,
                    ] = [0, 1, 2, 3, 4, 5, 6, 7, 8, 9].map(|bit| bits >> bit & 1 == 1);
                    all.push(Facts {
                        moment,
                        downbeats_missing,
                        backbeats_missing,
                        guitar_subdivides,
                        banjo_rolls,
                        ands_taken,
                        soft_pass,
                        singing,
                        lead,
                        player_leads,
                        no_bass,
                        no_chop,
                        no_guitar,
                    });
                }
            }
        }
        // A guitar that isn't there strikes nothing.
        all.retain(|facts| !(facts.no_guitar && facts.guitar_subdivides));
        all
    }

    #[test]
    fn the_table_can_be_read_and_leaves_no_bar_without_a_job() {
        let rules = Rules::read(SHIPPED).unwrap();
        let first: BTreeSet<RuleId> = all_facts().iter().map(|facts| rules.first(facts)).collect();
        let never: Vec<&str> = (0..=rules.rules.len())
            .filter(|id| !first.contains(&RuleId(*id)))
            .map(|id| rules.rule(RuleId(id)).say.as_str())
            .collect();
        assert_eq!(never, [""; 0], "rules that never come first");
    }

    #[test]
    fn every_job_is_somebodys_answer() {
        let rules = Rules::shipped();
        let jobs: BTreeSet<Job> =
            all_facts().iter().map(|facts| rules.rule(rules.first(facts)).job).collect();
        assert_eq!(jobs.into_iter().collect::<Vec<_>>(), Job::ALL);
    }

    #[test]
    fn what_is_said_fits_the_screen_and_names_its_job() {
        let rules = Rules::shipped();
        for rule in rules.rules.iter().chain([&rules.last]) {
            for meter in Meter::ALL {
                let (say, because) = (rule.say(meter), rule.because(meter));
                assert!(say.chars().count() <= 38, "{say}");
                assert!(!(say + &because).contains(['{', '}']), "{because}");
                assert!(because.ends_with('.'), "{because}");
            }
            if !matches!(rule.job, Job::Lead | Job::Rest) {
                let job = rule.job.as_str();
                assert!(rule.say.starts_with(job), "{job}: {}", rule.say);
            }
        }
    }

    #[test]
    fn a_missing_half_is_covered_before_anything_is_embellished() {
        let rules = Rules::shipped();
        for facts in all_facts() {
            let job = rules.rule(rules.first(&facts)).job;
            let fills = facts.singing == Singing::Pauses;
            if facts.moment != Moment::Groove || facts.player_leads {
                assert!(matches!(job, Job::Lead | Job::Rest), "{facts:?}");
            } else if facts.downbeats_missing {
                let expected = if facts.backbeats_missing { Job::BoomVamp } else { Job::Boom };
                assert_eq!(job, expected, "{facts:?}");
            } else if facts.no_chop && facts.no_guitar && facts.lead != Some(Lead::Bass) {
                assert!(job == Job::Vamp || fills && job == Job::Fill, "{facts:?} {job}");
            }
        }
    }

    #[test]
    fn slips_in_a_table_are_told() {
        let rule = "[[rule]]\njob = 'roll'\nsay = 's'\nbecause = 'b'\n";
        let head = "missing = 1\nempty = 1\nsubdivided = 1\nchopped = 1\n\
                    job_of = { downbeats = 'bass', backbeats = 'bass', ands = 'bass' }\n";
        assert!(Rules::read(&format!("{head}{rule}")).is_ok());
        let told = |text: String| Rules::read(&text).unwrap_err().to_string();
        assert!(told(format!("{head}{rule}when = 'full moon'\n{rule}")).contains("`full moon`"));
        assert!(told(format!("{head}{rule}when = 'no bass'\n")).contains("the last rule"));
        assert!(told(format!("{head}{rule}soy = 'x'\n")).contains("soy"));
    }
}
