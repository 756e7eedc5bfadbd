use super::noticed::{Noticed, Stroke, noticed};
use super::trail::Trail;
use super::{Hearing, Status};
use crate::arrange::Arrangement;
use crate::perform::Swing;
use crate::take::{Hit, Played, Recorded};
use crate::time::{Nanos, Ticks};

/// Keeps what a player plays beside the band, and where the song was meanwhile.
#[derive(Debug)]
pub struct Tape {
    title: String,
    hearing: Option<Hearing>,
    played: Vec<(Nanos, Played)>,
    /// What was heard as sound, each at its time.
    hits: Vec<Hit>,
    trail: Trail,
}

impl Tape {
    /// Of a player that is heard so, beside a song of that title; `None` for one that is heard as sound.
    pub fn new(title: String, hearing: Option<Hearing>) -> Self {
        Self { title, hearing, played: Vec::new(), hits: Vec::new(), trail: Trail::default() }
    }

    /// Takes in how the band stands; to be called for every status, with the arrangement that it plays.
    pub fn follow(&mut self, status: &Status, song: &Arrangement) {
        self.trail.follow(status, song);
    }

    /// Takes in what was heard since, so that the queue does not run over. True if it is the first.
    pub fn listen(&mut self) -> bool {
        let before = self.has_heard();
        while let Some(heard) = self.hearing.as_mut().and_then(Hearing::take) {
            self.played.push(heard);
        }
        !before && self.has_heard()
    }

    /// Takes in a stroke that was heard as sound, with its time on the band's clock. True if it is the first.
    pub fn strike(&mut self, hit: Hit) -> bool {
        self.hits.push(hit);
        self.hits.len() == 1
    }

    /// Forgets what was heard as sound: for who hears all of it anew, better than in passing.
    pub fn forget_strokes(&mut self) {
        self.hits.clear();
    }

    /// True if anything was heard at all.
    pub fn has_heard(&self) -> bool {
        !self.played.is_empty() || !self.hits.is_empty()
    }

    /// How much was heard so far.
    pub fn count(&self) -> usize {
        self.played.len() + self.hits.len()
    }

    /// How it goes, by the strokes of the last bars. `song` is what the band plays now, `swing` how.
    pub fn noticed(&self, song: &Arrangement, swing: Swing) -> Option<Noticed> {
        // Far more than are played in the bars that are told of.
        const LAST: usize = 256;
        let from = self.played.len().saturating_sub(LAST);
        let played = self.played.iter().skip(from).filter_map(|&(at, played)| {
            let at = self.trail.place(at)?;
            Some(Stroke { at, pitches: vec![played.struck()?.0] })
        });
        let from = self.hits.len().saturating_sub(LAST);
        let heard = self.hits.iter().skip(from).filter_map(|hit| {
            Some(Stroke { at: self.trail.place(hit.at)?, pitches: hit.pitches.clone() })
        });
        let mut strokes: Vec<Stroke> = played.chain(heard).collect();
        strokes.sort_by_key(|stroke| stroke.at);
        noticed(&strokes, self.trail.bars(), song, swing)
    }

    /// Playing is over since `now`: a bar that was not heard to its end was broken off.
    pub fn stop(&mut self, now: Nanos) {
        self.listen();
        self.trail.stop(now);
    }

    /// Messages for which there was no room.
    pub fn missed(&self) -> u64 {
        self.hearing.as_ref().map_or(0, Hearing::missed)
    }

    /// The recording. What came before the count-in, or more than a bar before the song where there is
    /// none, is no part of it.
    pub fn recorded(&self) -> Recorded {
        let placed = self.played.iter().filter_map(|&(at, it)| Some((self.trail.place(at)?, it)));
        let mut played: Vec<(Ticks, Played)> = placed.collect();
        // Two inputs in a row, as when one was lost, may overlap. A stable sort keeps what is in order.
        played.sort_by_key(|&(at, _)| at);
        let placed =
            self.hits.iter().filter_map(|hit| Some((self.trail.place(hit.at)?, hit.clone())));
        let mut hits: Vec<(Ticks, Hit)> = placed.collect();
        hits.sort_by_key(|&(at, _)| at);
        let mut recorded = Recorded {
            title: self.title.clone(),
            bars: self.trail.bars().to_vec(),
            tempos: self.trail.tempos(),
            played,
            hits,
        };
        recorded.end_every_note();
        recorded
    }
}
