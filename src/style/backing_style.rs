use std::ops::RangeInclusive;

use super::{Feel, RoleStyle};
use crate::chart::Role;
use crate::time::Meter;

/// One kind of groove: what every role plays in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Style {
    /// The word that songs call it by: the file's name without its ending.
    pub name: String,
    /// What it is good for, in a player's words.
    pub about: String,
    /// The meters that it plays. Never empty.
    pub meters: Vec<Meter>,
    /// Beats a minute between which it feels right. Advice: it plays at any tempo.
    pub tempo: RangeInclusive<f64>,
    /// How its beats are divided.
    pub feel: Feel,
    /// The roles that play in it, in the order of [`Role::ALL`].
    pub parts: Vec<(Role, RoleStyle)>,
}

impl Style {
    /// How `role` plays it; `None` if the style has no such part.
    pub fn part(&self, role: Role) -> Option<&RoleStyle> {
        self.parts.iter().find(|(other, _)| *other == role).map(|(_, part)| part)
    }

    /// True if it plays `meter`.
    pub fn fits(&self, meter: Meter) -> bool {
        self.meters.contains(&meter)
    }
}
