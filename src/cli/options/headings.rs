//! Under which the help has its options, in the order in which a player needs them.

pub(in crate::cli) const SONG: &str = "The song and the band";
pub(in crate::cli) const PRACTICE: &str = "Practising";
pub(in crate::cli) const PLACES: &str = "Where it is heard";
pub(in crate::cli) const HANDS: &str = "Hands and eyes";
