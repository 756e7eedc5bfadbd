use super::Note;
use super::feel::Feel;
use crate::arrange::Arrangement;
use crate::style::RoleStyle;

/// The fiddle's notes.
pub(super) fn play(_song: &Arrangement, _style: &RoleStyle, _feel: Feel, _seed: u64) -> Vec<Note> {
    Vec::new()
}
