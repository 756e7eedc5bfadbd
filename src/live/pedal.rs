//! Pedals: what their presses do.

use super::{Action, BINDINGS, Presses, Trigger};
use crate::text::{Item, Problems, Source, nearest, parse_toml};
use crate::time::Nanos;

/// Two presses of one pedal within this count once: contacts bounce, and no foot is so quick.
const BOUNCE: i64 = 30_000_000;

/// The table of the pedal file.
pub(super) const TABLE: &str = "pedal";

/// What every pedal was taught. One trigger does one thing; one thing may be done by several.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PedalMap {
    /// Sorted by trigger.
    taught: Vec<(Trigger, Action)>,
}

impl PedalMap {
    /// Nothing taught.
    pub fn new() -> Self {
        Self::default()
    }

    /// Reads a pedal file:
    ///
    /// ```toml
    /// [pedal]
    /// "note 36 channel 10" = "pause"
    /// "controller 64 channel 1" = "count-in"
    /// ```
    ///
    /// What is wrong goes to `problems`.
    pub fn read(source: &Source, problems: &mut Problems) -> Self {
        let mut map = Self::new();
        let root = parse_toml(source, problems);
        root.only(&[TABLE], "a pedal file", problems);
        let Some(node) = root.get(TABLE) else { return map };
        let Item::Table(table) = &node.item else {
            problems.add(
                node.span.clone(),
                format!("`{TABLE}` is {} where a table belongs", node.kind()),
                format!("write [{TABLE}] on a line of its own, and the pedals below"),
            );
            return map;
        };
        for field in &table.fields {
            let trigger = Trigger::parse(&field.key).map_err(|error| {
                let help = "write \"note 36 channel 10\", \"controller 64 channel 1\" or \
                            \"program 5 channel 1\"; `openchair learn` says what a pedal sends";
                problems.add(field.key_span.clone(), error.to_string(), help);
            });
            let Some(text) = field.node.text(&format!("\"{}\"", field.key), "\"pause\"", problems)
            else {
                continue;
            };
            let action = Action::parse(&text.value);
            if action.is_none() {
                problems.add(
                    field.node.span.clone(),
                    format!("there is no action `{}`", text.value),
                    match nearest(&text.value, BINDINGS.iter().map(|binding| binding.word)) {
                        Some(near) => format!("did you mean \"{near}\"?"),
                        None => "`openchair learn` lists the actions".to_owned(),
                    },
                );
            }
            if let (Ok(trigger), Some(action)) = (trigger, action)
                && map.teach(trigger, action).is_some()
            {
                problems.add(
                    field.key_span.clone(),
                    format!("{trigger} is here a second time"),
                    "keep one of the two",
                );
            }
        }
        map
    }

    /// From now on this trigger does this. Gives what it did before.
    pub fn teach(&mut self, trigger: Trigger, action: Action) -> Option<Action> {
        match self.taught.binary_search_by_key(&trigger, |taught| taught.0) {
            Ok(at) => {
                self.taught.get_mut(at).map(|taught| std::mem::replace(&mut taught.1, action))
            }
            Err(at) => {
                self.taught.insert(at, (trigger, action));
                None
            }
        }
    }

    /// What a trigger does.
    pub fn action(&self, trigger: Trigger) -> Option<Action> {
        let at = self.taught.binary_search_by_key(&trigger, |taught| taught.0).ok()?;
        self.taught.get(at).map(|taught| taught.1)
    }

    /// The triggers that do this.
    pub fn triggers(&self, action: Action) -> impl Iterator<Item = Trigger> {
        self.taught.iter().filter(move |taught| taught.1 == action).map(|taught| taught.0)
    }

    /// True if nothing was taught.
    pub fn is_empty(&self) -> bool {
        self.taught.is_empty()
    }
}

/// Turns the messages of a MIDI input into actions. Allocates nothing once it is made.
#[derive(Clone, Debug)]
pub struct Pedals {
    presses: Presses,
    /// Sorted by trigger, with the time of the last press.
    taught: Box<[(Trigger, Action, Option<Nanos>)]>,
}

impl Pedals {
    /// That were taught so.
    pub fn new(map: &PedalMap) -> Self {
        let taught = map.taught.iter().map(|&(trigger, action)| (trigger, action, None)).collect();
        Self { presses: Presses::new(), taught }
    }

    /// What a message that came at `at` asks for.
    pub fn heard(&mut self, at: Nanos, bytes: &[u8]) -> Option<Action> {
        let trigger = self.presses.heard(bytes)?;
        let found = self.taught.binary_search_by_key(&trigger, |taught| taught.0).ok()?;
        let (_, action, last) = self.taught.get_mut(found)?;
        let bounced = last.is_some_and(|last| at.0.saturating_sub(last.0) < BOUNCE);
        // From the last bounce on: a contact that bounces longer is one press all the same.
        *last = Some(at);
        (!bounced).then_some(*action)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::report;

    const PAUSE: Trigger = Trigger::Note { channel: 9, note: 36 };
    const COUNT_IN: Trigger = Trigger::Controller { channel: 0, number: 64 };

    fn read(text: &str) -> Result<PedalMap, String> {
        let source = Source::new("pedals.toml", text).unwrap();
        let mut problems = Problems::new();
        let map = PedalMap::read(&source, &mut problems);
        if problems.is_empty() { Ok(map) } else { Err(report(&source, &problems, false)) }
    }

    #[test]
    fn a_file_reads_as_it_is_meant() {
        let map = read(
            "# mine\n[pedal]\n\"note 36 channel 10\" = \"pause\"\n'controller 64 channel 1' = 'count-in'\n",
        )
        .unwrap();
        assert_eq!(map.action(PAUSE), Some(Action::PauseOrGo));
        assert_eq!(map.action(COUNT_IN), Some(Action::CountIn));
        assert_eq!(map.action(Trigger::Note { channel: 0, note: 36 }), None);
        assert_eq!(map.triggers(Action::CountIn).collect::<Vec<_>>(), [COUNT_IN]);
        assert!(read("").unwrap().is_empty() && read("[pedal]\n").unwrap().is_empty());
    }

    #[test]
    fn all_mistakes_are_shown_where_they_stand() {
        let wrong = "[pedal]\n\"note 36 channel 10\" = \"puase\"\n\"nte 36 channel 10\" = \"pause\"\n\
                     \"note 200 channel 1\" = 5\n\"note  40 channel 1\" = \"bass\"\n\
                     \"note 40 channel 1\" = \"chop\"\n[pedals]\n";
        insta::assert_snapshot!(read(wrong).unwrap_err());
        insta::assert_snapshot!(read("pedal = 3\n").unwrap_err());
    }

    #[test]
    fn a_press_does_what_it_was_taught_once() {
        let mut map = PedalMap::new();
        assert_eq!(map.teach(PAUSE, Action::Help), None);
        assert_eq!(map.teach(PAUSE, Action::PauseOrGo), Some(Action::Help));
        map.teach(COUNT_IN, Action::CountIn);
        let mut pedals = Pedals::new(&map);
        let mut at = |millis: i64, bytes: &[u8]| pedals.heard(Nanos(millis * 1_000_000), bytes);
        assert_eq!(at(-50, &[0x99, 36, 90]), Some(Action::PauseOrGo));
        assert_eq!(at(-30, &[0x99, 36, 90]), None, "a bounce");
        assert_eq!(at(-10, &[0x99, 36, 90]), None, "and another");
        assert_eq!(at(25, &[0x99, 36, 90]), Some(Action::PauseOrGo));
        assert_eq!(at(30, &[0xB0, 64, 127]), Some(Action::CountIn), "two pedals at a time");
        assert_eq!(at(99, &[0xB0, 64, 127]), None, "still down");
        assert_eq!(at(110, &[0xB0, 64, 0]), None);
        assert_eq!(at(120, &[0xB0, 64, 127]), Some(Action::CountIn));
        assert_eq!(at(500, &[0x90, 36, 90]), None, "not taught");
    }
}
