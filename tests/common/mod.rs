//! What several tests share; each takes what it needs.

pub mod skip;
pub mod sound;
