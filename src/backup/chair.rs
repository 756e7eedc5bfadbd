use crate::chart::Role;

/// Whose chair the part is for: the player's own. All of this module, and the tablature of what it makes, is about
/// that instrument.
pub const CHAIR: Role = Role::Banjo;
