use std::ops::RangeInclusive;

use super::{Dynamics, Feel, RoleStyle, Tag};
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
    /// How loud it is behind whom.
    pub dynamics: Dynamics,
    /// How a tag is played.
    pub tag: Tag,
    /// The share of the tempo that the last chord stands at, 0.5 to 1: below 1 the ending slows down.
    pub ending_slow: f64,
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
