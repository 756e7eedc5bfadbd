use super::listen::Meanwhile;
use super::microphone::Ears;
use crate::arrange::Arrangement;
use crate::live::{Noticed, Status, Tape};
use crate::perform::Swing;
use crate::take::Hit;

/// What is heard of the player.
pub(super) struct Player<'a> {
    /// Keeps it.
    pub tape: &'a mut Tape,
    /// And writes it now and then.
    pub meanwhile: Option<Meanwhile>,
    /// The microphone, if that is how.
    pub ears: Option<&'a Ears>,
    /// How they do, as it was when so much had been heard in so many bars.
    pub noticed: Option<Noticed>,
    pub seen: (usize, u32),
}

impl Player<'_> {
    /// Takes in what was heard since. True if it is the first.
    pub(super) fn listen(&mut self) -> bool {
        let first = self.tape.listen();
        if let Some(meanwhile) = &mut self.meanwhile {
            meanwhile.keep(self.tape);
        }
        let heard = self.ears.map(|ears| (ears, ears.fresh.try_iter()));
        heard.into_iter().fold(first, |first, (ears, hits)| {
            hits.fold(first, |first, hit| {
                let at = ears.played(hit.at);
                self.tape.strike(Hit { at, ..hit }) || first
            })
        })
    }

    /// Looks how they do, if anything is new.
    pub(super) fn look(&mut self, song: &Arrangement, status: &Status, swing: Option<Swing>) {
        let seen = (self.tape.count(), status.visit);
        if self.seen != seen {
            self.seen = seen;
            self.noticed = self.tape.noticed(song, swing.unwrap_or(Swing::EVEN));
        }
    }
}
