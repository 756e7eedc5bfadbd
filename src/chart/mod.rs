//! The song file: sections of bars with their chords, who sings and who leads, and the form.

mod role;

pub use role::{Lead, Role, RoleSet};
