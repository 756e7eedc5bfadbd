use crate::live::{Action, BINDINGS, Key};

/// A key as it is marked on a keyboard.
pub(super) fn key_name(key: Key) -> String {
    match key {
        Key::Char(sign) => return sign.to_string(),
        Key::Space => "Space",
        Key::Enter => "Enter",
        Key::Escape => "Esc",
        Key::Backspace => "Backspace",
        Key::Left => "Left",
        Key::Right => "Right",
        Key::Up => "Up",
        Key::Down => "Down",
        Key::PageUp => "Page Up",
        Key::PageDown => "Page Down",
    }
    .to_owned()
}

/// The key to show for an action.
pub(super) fn key_for(action: Action) -> String {
    let binding = BINDINGS.iter().find(|binding| binding.action == action);
    binding.and_then(|binding| binding.keys.first()).map_or_else(String::new, |key| key_name(*key))
}
