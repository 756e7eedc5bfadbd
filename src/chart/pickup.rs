use super::Share;
use super::Tune;
use crate::theory::Chord;
use crate::time::Ticks;

/// What sounds before the first bar of a section: its anacrusis.
///
/// It takes no time of its own within a song: it sounds at the end of the bar before. Before the first bar of a song
/// stands a bar that holds nothing else, which has no number and is counted in.
#[derive(Clone, Debug, PartialEq)]
pub struct Pickup {
    /// Whole eighth notes, less than a bar.
    pub length: Ticks,
    /// The chord that is written there, if one is. The band waits for the bar; so it says where the tune comes from.
    pub chord: Option<Chord>,
    /// True if a singer sings in it.
    pub sings: bool,
    /// The tune in it, notes and rests; empty where the section has none.
    pub melody: Vec<Share<Tune>>,
}
