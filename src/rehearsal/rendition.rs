use std::sync::Arc;

use crate::arrange::Arrangement;
use crate::chart::RoleSet;
use crate::coverage::{Coverage, coverage};
use crate::perform::Performance;

/// What the band plays: an arrangement, and its notes.
#[derive(Clone, Debug)]
pub struct Rendition {
    /// What is played.
    pub arrangement: Arc<Arrangement>,
    /// How.
    pub performance: Arc<Performance>,
}

impl Rendition {
    /// What the band covers, and what it leaves to the player, while these roles are silent beside those who
    /// rest.
    pub fn coverage(&self, silent: RoleSet) -> Coverage {
        coverage(&self.arrangement, &self.performance, silent)
    }
}
