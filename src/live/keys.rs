use std::fmt;

use super::{Action, BINDINGS, Binding, Key};

/// As printed on a keyboard.
impl fmt::Display for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let name = match self {
            Self::Char(letter) => return letter.fmt(f),
            Self::Space => "Space",
            Self::Enter => "Enter",
            Self::Escape => "Esc",
            Self::Backspace => "Backspace",
            Self::Left => "Left",
            Self::Right => "Right",
            Self::Up => "Up",
            Self::Down => "Down",
            Self::PageUp => "Page Up",
            Self::PageDown => "Page Down",
        };
        f.write_str(name)
    }
}

impl Binding {
    /// Its keys in words: `Page Up  p`. Not with commas between them, for a comma is a key too.
    pub fn key_words(&self) -> String {
        let keys: Vec<String> = self.keys.iter().map(Key::to_string).collect();
        keys.join("  ")
    }
}

impl Action {
    /// The key to show for it.
    pub fn key(self) -> String {
        let binding = BINDINGS.iter().find(|binding| binding.action == self);
        binding.and_then(|binding| binding.keys.first()).map_or_else(String::new, Key::to_string)
    }
}

/// The table of keys as documents show it: a line a binding, its keys, what it does, and its word for
/// pedals.
pub fn keys_as_markdown() -> String {
    let mut table = "| key | what it does | word for a pedal |\n| --- | --- | --- |\n".to_owned();
    for binding in BINDINGS {
        let keys: Vec<String> = binding.keys.iter().map(|key| format!("`{key}`")).collect();
        table.push_str(&format!(
            "| {} | {} | `{}` |\n",
            keys.join(" "),
            binding.says,
            binding.word
        ));
    }
    table
}
