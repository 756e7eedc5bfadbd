//! What several tests share; each takes what it needs.

pub mod band;
#[cfg(unix)]
pub mod jack;
pub mod sound;
