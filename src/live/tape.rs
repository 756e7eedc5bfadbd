use super::trail::Trail;
use super::{Hearing, Status};
use crate::arrange::Arrangement;
use crate::take::{Played, Recorded};
use crate::time::{Nanos, Ticks};

/// Keeps what a player plays beside the band, and where the song was meanwhile.
#[derive(Debug)]
pub struct Tape {
    title: String,
    hearing: Hearing,
    played: Vec<(Nanos, Played)>,
    trail: Trail,
}

impl Tape {
    /// Of a player that is heard so, beside a song of that title.
    pub fn new(title: String, hearing: Hearing) -> Self {
        Self { title, hearing, played: Vec::new(), trail: Trail::default() }
    }

    /// Takes in how the band stands; to be called for every status, with the arrangement that it plays.
    pub fn follow(&mut self, status: &Status, song: &Arrangement) {
        self.trail.follow(status, song);
    }

    /// Takes in what was heard since, so that the queue does not run over. True if it is the first.
    pub fn listen(&mut self) -> bool {
        let before = self.has_heard();
        while let Some(heard) = self.hearing.take() {
            self.played.push(heard);
        }
        !before && self.has_heard()
    }

    /// True if anything was heard at all.
    pub fn has_heard(&self) -> bool {
        !self.played.is_empty()
    }

    /// Playing is over since `now`: a bar that was not heard to its end was broken off.
    pub fn stop(&mut self, now: Nanos) {
        self.listen();
        self.trail.stop(now);
    }

    /// Messages for which there was no room.
    pub fn missed(&self) -> u64 {
        self.hearing.missed()
    }

    /// The recording. What came before the count-in, or more than a bar before the song where there is
    /// none, is no part of it.
    pub fn recorded(&self) -> Recorded {
        let placed = self.played.iter().filter_map(|&(at, it)| Some((self.trail.place(at)?, it)));
        let mut played: Vec<(Ticks, Played)> = placed.collect();
        // Two inputs in a row, as when one was lost, may overlap. A stable sort keeps what is in order.
        played.sort_by_key(|&(at, _)| at);
        let mut recorded = Recorded {
            title: self.title.clone(),
            bars: self.trail.bars().to_vec(),
            tempos: self.trail.tempos(),
            played,
        };
        recorded.end_every_note();
        recorded
    }
}
