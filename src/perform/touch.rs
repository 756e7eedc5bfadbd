use crate::chart::Role;
use crate::style::{Loudness, RoleStyle};

/// How loud a performance means to be: what its velocities are to be held against.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Touch {
    /// How loud each role of the style usually plays, there or not.
    pub usual: Vec<Usual>,
    /// Each bar's share of that in thousandths, by who leads and by the section's mark; as many as the
    /// arrangement has bars.
    pub levels: Vec<u16>,
}

/// How loud a role usually plays.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Usual {
    /// Which.
    pub role: Role,
    /// The velocity of a plain strike, 1 to 127.
    pub velocity: u8,
    /// Its channel's volume, 0 to 127.
    pub volume: u8,
    /// The velocities that it may mean: a ghost, a plain strike, an accent, and the first two as up-strokes.
    pub meant: [u8; 5],
}

impl Usual {
    /// In a style.
    pub(super) fn of(role: Role, part: &RoleStyle) -> Self {
        let Loudness { ghost, normal, accent, up, .. } = part.loudness;
        let up = |velocity: u8| (f64::from(velocity) * up) as u8;
        let meant = [ghost, normal, accent, up(ghost), up(normal)];
        Self { role, velocity: normal, volume: part.instrument.volume, meant }
    }

    /// What a stroke was meant to be, of a velocity that strays as hands do: the nearest.
    pub fn meant(&self, velocity: f64) -> f64 {
        let near =
            |one: &f64, other: &f64| (one - velocity).abs().total_cmp(&(other - velocity).abs());
        self.meant.into_iter().map(f64::from).min_by(near).unwrap_or(velocity)
    }
}

impl Touch {
    /// How loud a role usually plays, in this style or, if it has no such part, in any.
    pub fn usual(&self, role: Role) -> Usual {
        let of_style = self.usual.iter().find(|usual| usual.role == role);
        of_style.map_or_else(|| Usual::of(role, &RoleStyle::plain(role)), |usual| *usual)
    }

    /// The share of a bar, in thousandths.
    pub fn level(&self, bar: usize) -> u16 {
        self.levels.get(bar).map_or(1000, |level| *level)
    }
}
