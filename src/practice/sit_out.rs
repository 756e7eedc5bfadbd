use std::fmt;

use thiserror::Error;

use super::Chairs;
use crate::arrange::SitOut;
use crate::chart::Role;
use crate::text::{list, meant};

/// Who leaves a chair open, as a player writes it: `chop`, `guitar@chorus`, `turns`, `surprise` or
/// `surprise-called`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum SitOutRule {
    /// One role, all the way or in one section.
    Role(SitOut),
    /// Another role in each pass.
    Turns,
    /// Whoever it turns out to be, in each pass anew.
    Surprise {
        /// True if it is called beforehand, as a leader calls who is next; otherwise only the ear
        /// tells.
        announced: bool,
    },
}

/// A rule that cannot be used.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
pub enum SitOutError {
    /// No role, and no rule.
    #[error("{help}")]
    Word {
        /// What to write instead.
        help: String,
    },
    /// Nothing follows the @.
    #[error("name the section after the @, as in guitar@chorus")]
    NoSection,
    /// A rule for all passes is given a section.
    #[error("`{rule}` is for the whole song; leave the section out")]
    RuleInSection {
        /// The rule.
        rule: &'static str,
    },
    /// Two rules for all passes at once.
    #[error("`{one}` and `{other}` can't both say who sits out; leave one of them out")]
    TwoRules {
        /// The first.
        one: &'static str,
        /// Another.
        other: &'static str,
    },
}

const TURNS: &str = "turns";
const SURPRISE: &str = "surprise";
const CALLED: &str = "surprise-called";

impl SitOutRule {
    /// Reads one.
    ///
    /// # Errors
    /// [`SitOutError`], with what to write.
    pub fn parse(text: &str) -> Result<Self, SitOutError> {
        let (word, section) = match text.split_once('@') {
            Some((word, section)) => (word.trim(), Some(section.trim())),
            None => (text.trim(), None),
        };
        let rule = match word {
            TURNS => Some(Self::Turns),
            SURPRISE => Some(Self::Surprise { announced: false }),
            CALLED => Some(Self::Surprise { announced: true }),
            _ => None,
        };
        if section == Some("") {
            return Err(SitOutError::NoSection);
        }
        if let Some(rule) = rule {
            return match section {
                Some(_) => Err(SitOutError::RuleInSection { rule: rule.word() }),
                None => Ok(rule),
            };
        }
        let role = Role::parse(word).ok_or_else(|| no_role(word))?;
        Ok(Self::Role(SitOut { role, section: section.map(str::to_owned) }))
    }

    /// Parts what the arranger does from what changes from pass to pass.
    ///
    /// # Errors
    /// [`SitOutError::TwoRules`].
    pub fn split(rules: &[Self], seed: u64) -> Result<(Vec<SitOut>, Chairs), SitOutError> {
        let mut outs = Vec::new();
        let mut chosen: Option<&Self> = None;
        for rule in rules {
            match (rule, chosen) {
                (Self::Role(out), _) => outs.push(out.clone()),
                (other, Some(one)) if one != other => {
                    return Err(SitOutError::TwoRules { one: one.word(), other: other.word() });
                }
                (rule, _) => chosen = Some(rule),
            }
        }
        let chairs = match chosen {
            Some(Self::Turns) => Chairs::Turns,
            Some(&Self::Surprise { announced }) => Chairs::Surprise { seed, announced },
            Some(Self::Role(_)) | None => Chairs::AsWritten,
        };
        Ok((outs, chairs))
    }

    const fn word(&self) -> &'static str {
        match self {
            Self::Role(out) => out.role.as_str(),
            Self::Turns => TURNS,
            Self::Surprise { announced: false } => SURPRISE,
            Self::Surprise { announced: true } => CALLED,
        }
    }
}

impl fmt::Display for SitOutRule {
    /// As it is read.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())?;
        match self {
            Self::Role(SitOut { section: Some(section), .. }) => write!(f, "@{section}"),
            _ => Ok(()),
        }
    }
}

fn no_role(word: &str) -> SitOutError {
    let mut words = Role::words();
    words.extend([TURNS, SURPRISE, CALLED]);
    let help = meant(word, words.iter().copied())
        .unwrap_or_else(|| format!("write one of {}", list(&words, "or")));
    SitOutError::Word { help }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn out(role: Role, section: Option<&str>) -> SitOut {
        SitOut { role, section: section.map(Into::into) }
    }

    #[test]
    fn rules_read_as_written() {
        let read = |text: &str| SitOutRule::parse(text);
        assert_eq!(read(" chop "), Ok(SitOutRule::Role(out(Role::Chop, None))));
        assert_eq!(
            read("guitar@ high part"),
            Ok(SitOutRule::Role(out(Role::Guitar, Some("high part"))))
        );
        assert_eq!(read("turns"), Ok(SitOutRule::Turns));
        assert_eq!(read("surprise"), Ok(SitOutRule::Surprise { announced: false }));
        assert_eq!(read("surprise-called"), Ok(SitOutRule::Surprise { announced: true }));
        for (text, said) in [
            ("gutar", "did you mean `guitar`?"),
            ("suprise", "did you mean `surprise`?"),
            ("mandolin", "did you mean `chop`?"),
            ("violin", "did you mean `fiddle`?"),
            ("singer", "name `voice` as the lead of a pass"),
            (
                "kazoo",
                "write one of bass, chop, guitar, banjo, fiddle, lead, turns, surprise or surprise-called",
            ),
            ("bass@", "name the section"),
            ("turns@verse", "whole song"),
        ] {
            let error = read(text).unwrap_err().to_string();
            assert!(error.contains(said), "{text}: {error}");
        }
        for text in ["chop", "guitar@high part", "turns", "surprise", "surprise-called"] {
            assert_eq!(read(text).unwrap().to_string(), text);
        }
    }

    #[test]
    fn one_rule_for_all_passes() {
        let rules = |texts: &[&str]| -> Vec<SitOutRule> {
            texts.iter().map(|text| SitOutRule::parse(text).unwrap()).collect()
        };
        let split = |texts: &[&str]| SitOutRule::split(&rules(texts), 7);
        assert_eq!(split(&[]), Ok((vec![], Chairs::AsWritten)));
        assert_eq!(
            split(&["bass", "turns", "turns"]),
            Ok((vec![out(Role::Bass, None)], Chairs::Turns))
        );
        assert_eq!(
            split(&["surprise-called"]),
            Ok((vec![], Chairs::Surprise { seed: 7, announced: true }))
        );
        assert!(split(&["turns", "surprise"]).is_err());
        assert!(split(&["surprise", "surprise-called"]).is_err());
    }
}
