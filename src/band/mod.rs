//! Who may be in the band: the roles with all that is data about them, a row each, and who may lead.

mod drops;
mod lead;
mod role;
mod role_set;
mod roles;
mod row;

pub use lead::Lead;
pub use role_set::RoleSet;
pub use roles::Role;
pub use row::{
    BeatShares, Covers, Defaults, Examples, Home, InTag, NewChord, Notation, Playing, Right, Row,
    Shuffles, StrokeKeys,
};
