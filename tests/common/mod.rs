//! What several tests share; each takes what it needs.

pub mod likeness;
#[cfg(target_os = "linux")]
pub mod pulse;
pub mod rolls;
pub mod skip;
pub mod sound;
