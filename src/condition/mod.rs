//! Conditions as people write them: `change next and not phrase end`. Who has something to ask brings the words for it
//! ([`Term`]); how they are joined, denied and asked of facts is the same for all.

#[allow(clippy::module_inception)] // What the module is named for.
mod condition;
mod read;
mod term;
#[cfg(test)]
mod testing;

pub use condition::Condition;
pub use read::{ConditionError, Slip, read};
pub use term::{Term, bits};
