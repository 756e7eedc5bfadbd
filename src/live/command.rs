use super::Score;
use crate::chart::RoleSet;
use crate::practice::Chairs;
use crate::time::{Nanos, Tempo, Ticks};

/// When something takes effect.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Entry {
    /// At the next bar line; at once if the band is silent.
    BarLine,
    /// Where the next round of the loop begins; the next bar line where nothing loops.
    Round,
}

/// What the playing thread is told. Bars go by their number in the song as played
/// ([`Bar::number`](crate::arrange::Bar::number)), which a change of key, tempo or loop leaves alone.
#[derive(Debug)]
pub enum Command {
    /// Play on, from the beginning of the bar.
    Go,
    /// Be silent at once and wait.
    Pause,
    /// Damp everything, and tell the receiver to drop all notes on every channel; then wait.
    Silence,
    /// Hand back every output, so that it is closed; for when the band is silent. What is supplied later
    /// is taken up as ever.
    HandBack,
    /// Damp everything and end.
    End,
    /// At the next bar line, or at once if silent: so many bars of clicks, then the bar that would
    /// have come.
    CountIn(u32),
    /// Another tempo, at once.
    Tempo(Tempo),
    /// These roles, and no others, are silent by hand, at once.
    Mute(RoleSet),
    /// Whose chair is open from the next pass on; if nothing has been played yet, from this one.
    Chairs(Chairs),
    /// Clicks before chord changes, on or off.
    ChangeClicks(bool),
    /// After the next bar line, the bar of that number (the nearest there is).
    Jump(usize),
    /// Another score.
    Play {
        /// What to play. The old one comes back to be dropped elsewhere.
        score: Box<Score>,
        /// When.
        at: Entry,
        /// The bar's number to go on with; `None` for the one that would have come (or the nearest
        /// that the score has: the first, if it would have been past the last of a loop).
        from: Option<usize>,
        /// A tempo that comes with it.
        tempo: Option<Tempo>,
    },
    /// Ends after so many more rounds, the present one included; `None` never.
    Rounds(Option<u32>),
    /// An outside clock says where the song is.
    Follow(Follow),
}

/// What an outside clock says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Follow {
    /// Go from the song's first bar at this time, at this tempo.
    Start(Nanos, Tempo),
    /// Go from this place of the song.
    Continue {
        /// From the first bar of the song.
        place: Ticks,
        /// When.
        at: Nanos,
        /// How fast.
        tempo: Tempo,
    },
    /// The outside clock is at `place` at the time `at` and moves at `tempo`: be there with it.
    Beat {
        /// From the first bar of the song, or from where the clock was first heard.
        place: Ticks,
        /// When.
        at: Nanos,
        /// How fast.
        tempo: Tempo,
    },
    /// Be silent and wait.
    Stop,
}
