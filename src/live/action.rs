use crate::chart::Role;

/// What a player can do while the band plays: by a key, a pedal or a taught MIDI message.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs)] // Each is told in BINDINGS.
pub enum Action {
    PauseOrGo,
    BarBack,
    BarForward,
    SectionBack,
    SectionForward,
    Slower,
    Faster,
    Tap,
    SpeedQuarter,
    SpeedHalf,
    SpeedThreeQuarters,
    SpeedFull,
    SitOut(Role),
    LoopSection,
    LoopFrom,
    LoopTo,
    LoopOff,
    KeyUp,
    KeyDown,
    CountIn,
    ChangeClicks,
    ChordNames,
    Tab,
    Louder,
    Softer,
    Silence,
    /// In a drill: this change is learnt, on to the next.
    GotIt,
    /// In a drill: on to the next change, this one stays open.
    NextChange,
    Help,
    Quit,
}

/// A key of the keyboard, or of a page-turning pedal, which is one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum Key {
    Char(char),
    Space,
    Enter,
    Escape,
    Backspace,
    Left,
    Right,
    Up,
    Down,
    PageUp,
    PageDown,
}

/// An action with the keys that do it and the words for it. The help, the README and the teaching of
/// pedals are all made from [`BINDINGS`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Binding {
    /// What it does.
    pub action: Action,
    /// The keys, the one to show first.
    pub keys: &'static [Key],
    /// Its word in `openchair learn` and in the pedal file.
    pub word: &'static str,
    /// What it does, in a few words.
    pub says: &'static str,
}

const fn bind(
    action: Action,
    keys: &'static [Key],
    word: &'static str,
    says: &'static str,
) -> Binding {
    Binding { action, keys, word, says }
}

/// Those before and after the roles, in the order of the help.
const BEFORE: &[Binding] = &[
    bind(Action::PauseOrGo, &[Key::Space], "pause", "pause, and go on from the bar's beginning"),
    bind(Action::CountIn, &[Key::Char('c')], "count-in", "count in, then this bar again"),
    bind(Action::BarBack, &[Key::Left], "bar-back", "back a bar"),
    bind(Action::BarForward, &[Key::Right], "bar-forward", "forward a bar"),
    bind(Action::SectionBack, &[Key::PageUp, Key::Char('p')], "section-back", "back a section"),
    bind(
        Action::SectionForward,
        &[Key::PageDown, Key::Char('n')],
        "section-forward",
        "forward a section",
    ),
    bind(
        Action::LoopSection,
        &[Key::Char('l')],
        "loop-section",
        "loop this section, or stop looping",
    ),
    bind(Action::LoopFrom, &[Key::Char('[')], "loop-from", "loop from this bar"),
    bind(Action::LoopTo, &[Key::Char(']')], "loop-to", "loop to this bar"),
    bind(Action::LoopOff, &[Key::Backspace], "loop-off", "stop looping"),
    bind(Action::Slower, &[Key::Down, Key::Char('-')], "slower", "slower by 4 %"),
    bind(Action::Faster, &[Key::Up, Key::Char('+'), Key::Char('=')], "faster", "faster by 4 %"),
    bind(Action::Tap, &[Key::Char('t')], "tap", "tap the tempo"),
    bind(Action::SpeedQuarter, &[Key::Char('1')], "speed-quarter", "a quarter of the tempo"),
    bind(Action::SpeedHalf, &[Key::Char('2')], "speed-half", "half the tempo"),
    bind(
        Action::SpeedThreeQuarters,
        &[Key::Char('3')],
        "speed-three-quarters",
        "three quarters of the tempo",
    ),
    bind(Action::SpeedFull, &[Key::Char('4')], "speed-full", "full tempo"),
];

const AFTER: &[Binding] = &[
    bind(Action::KeyUp, &[Key::Char('k')], "key-up", "a half step up"),
    bind(Action::KeyDown, &[Key::Char('j')], "key-down", "a half step down"),
    bind(
        Action::ChangeClicks,
        &[Key::Char('u')],
        "cues",
        "clicks before a chord change, on or off",
    ),
    bind(
        Action::ChordNames,
        &[Key::Char('v')],
        "names",
        "chords as names, numbers or banjo shapes",
    ),
    bind(Action::Tab, &[Key::Char('r')], "tab", "the coming bar's tab: another level, or none"),
    bind(Action::Louder, &[Key::Char('.'), Key::Char('>')], "louder", "built-in sound louder"),
    bind(Action::Softer, &[Key::Char(','), Key::Char('<')], "softer", "built-in sound softer"),
    bind(Action::GotIt, &[Key::Enter], "got-it", "in a drill: learnt, on to the next change"),
    bind(Action::NextChange, &[Key::Char('x')], "next", "in a drill: on to the next change"),
    bind(Action::Silence, &[Key::Char('0')], "silence", "silence everything at once"),
    bind(Action::Help, &[Key::Char('?'), Key::Char('h')], "help", "these keys, and away again"),
    bind(Action::Quit, &[Key::Char('q'), Key::Escape], "quit", "stop"),
];

/// Every action, in the order of the help.
pub const BINDINGS: &[Binding] = &{
    const COUNT: usize = BEFORE.len() + Role::ALL.len() + AFTER.len();
    let mut all = [BEFORE[0]; COUNT];
    let mut at = 0;
    while at < COUNT {
        let (role, after) = (at.wrapping_sub(BEFORE.len()), at.wrapping_sub(COUNT - AFTER.len()));
        all[at] = if at < BEFORE.len() {
            BEFORE[at]
        } else if role < Role::ALL.len() {
            sit_out(role)
        } else {
            AFTER[after]
        };
        at += 1;
    }
    all
};

/// The key that makes each role sit out.
const SIT_OUT_KEYS: &[Key; Role::ALL.len()] = &{
    let mut keys = [Key::Space; Role::ALL.len()];
    let mut at = 0;
    while at < keys.len() {
        keys[at] = Key::Char(Role::ALL[at].row().key);
        at += 1;
    }
    keys
};

/// What makes a role sit out, by its number.
const fn sit_out(role: usize) -> Binding {
    let keys = std::slice::from_ref(&SIT_OUT_KEYS[role]);
    let role = Role::ALL[role];
    bind(Action::SitOut(role), keys, role.as_str(), role.row().key_says)
}

impl Action {
    /// What a key does.
    pub fn of_key(key: Key) -> Option<Self> {
        BINDINGS.iter().find(|binding| binding.keys.contains(&key)).map(|binding| binding.action)
    }

    /// From its word.
    pub fn parse(word: &str) -> Option<Self> {
        BINDINGS.iter().find(|binding| binding.word == word).map(|binding| binding.action)
    }

    /// Its word, for pedals.
    pub fn word(self) -> &'static str {
        BINDINGS.iter().find(|binding| binding.action == self).map_or("", |binding| binding.word)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_key_and_word_does_one_thing() {
        let keys: Vec<Key> = BINDINGS.iter().flat_map(|b| b.keys).copied().collect();
        let words: Vec<&str> = BINDINGS.iter().map(|b| b.word).collect();
        for (at, key) in keys.iter().enumerate() {
            assert!(!keys[..at].contains(key), "{key:?} twice");
        }
        for (at, word) in words.iter().enumerate() {
            assert!(!words[..at].contains(word), "{word} twice");
        }
        for binding in BINDINGS {
            assert!(!binding.keys.is_empty() && !binding.says.is_empty());
            assert_eq!(Action::parse(binding.action.word()), Some(binding.action));
            assert_eq!(Action::of_key(binding.keys[0]), Some(binding.action));
        }
        for role in Role::ALL {
            assert!(words.contains(&role.as_str()), "a key for the {role}");
        }
    }
}
