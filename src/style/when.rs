use super::{Condition, Term};
use crate::condition::{ConditionError, read};
use crate::text::{Problems, Text};

/// Reads `"change next and not phrase end"`. `None`, with its problems, if a term is unknown or two
/// contradict each other.
pub(super) fn read_when(text: &Text, problems: &mut Problems) -> Option<Condition> {
    match read(&text.value) {
        Ok(condition) => Some(condition),
        Err(slips) => {
            for slip in slips {
                let (message, help) = of_a_bar(&slip.error);
                problems.add(text.span(slip.at), message, help);
            }
            None
        }
    }
}

/// The message and the help, where it is a bar of a style that has the condition.
fn of_a_bar(error: &ConditionError<Term>) -> (String, String) {
    let (message, help) = (error.to_string(), error.help());
    match error {
        ConditionError::Empty => (message, format!("{help}, or write when = \"change next\"")),
        ConditionError::Contradiction(_) => (format!("this bar is never played: {message}"), help),
        ConditionError::OtherwiseJoined(_) => {
            let and = "join conditions that must all hold with `and`";
            (message, format!("{and}; for `or`, write the bar twice"))
        }
        _ => (message, help),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::{Item, Source, parse_toml};

    fn read(when: &str) -> (Option<Condition>, Vec<(String, String)>) {
        let source = Source::new("t", format!("when = '{when}'")).unwrap();
        let mut problems = Problems::new();
        let table = parse_toml(&source, &mut problems);
        let Item::Text(text) = &table.get("when").unwrap().item else { panic!("no text") };
        let condition = read_when(text, &mut problems);
        let found = problems
            .in_order()
            .iter()
            .map(|p| (source.text[p.span.clone()].to_owned(), p.help.clone()))
            .collect();
        (condition, found)
    }

    #[test]
    fn terms_are_joined_and_denied() {
        let (condition, problems) = read(" change next  and not  phrase end");
        assert_eq!(problems, []);
        let expected = [(false, Term::ChangeNext), (true, Term::PhraseEnd)];
        assert_eq!(condition, Some(Condition::new(expected)));
    }

    #[test]
    fn each_slip_is_pointed_at() {
        let at = |when| read(when).1.into_iter().map(|(at, _)| at).collect::<Vec<_>>();
        assert_eq!(at("changes next and braek"), ["changes next", "braek"]);
        assert_eq!(at("break and"), ["and"]);
        assert_eq!(at("and break"), ["and"]);
        assert_eq!(at("not"), ["not"]);
        assert_eq!(at("break, last bar"), ["break, last bar"]);
        assert_eq!(at("break and not break"), ["not break"]);
        assert_eq!(read("not phrase ends").1[0].1, "did you mean `not phrase end`?");
    }
}
