use super::{Hit, Played};
use crate::chart::RoleSet;
use crate::theory::Key;
use crate::time::{BarMeter, Tempo, Ticks};

/// The damper pedal's controller (MIDI 1.0), and where it counts as held.
const DAMPER: u8 = 64;
const HELD: u8 = 64;

/// What a player played beside the band, and where the song was meanwhile. Its bars follow each other
/// without a gap from tick 0 on, as they were heard: a loop's bars come as often as they were played,
/// and a pause is as many bars as it lasted, rounded up.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Recorded {
    /// The song's title.
    pub title: String,
    /// The bars, in order.
    pub bars: Vec<RecordedBar>,
    /// The tempos and from where on, in order.
    pub tempos: Vec<(Ticks, Tempo)>,
    /// What was played, in order.
    pub played: Vec<(Ticks, Played)>,
    /// What was heard of the player as sound, in order. It goes into no MIDI file.
    pub hits: Vec<(Ticks, Hit)>,
}

/// A bar of time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RecordedBar {
    /// Where it begins.
    pub start: Ticks,
    /// How long it is.
    pub meter: BarMeter,
    /// What was heard of the song.
    pub heard: HeardBar,
    /// The pass of the form that begins with it, as the form names it.
    pub pass: Option<String>,
}

/// What was heard of the song in a bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HeardBar {
    /// Clicks.
    CountIn,
    /// Nothing: the band had not begun, was paused, or had ended.
    Silence,
    /// A bar of the song.
    Song(SongBar),
}

/// A bar of the song as it was heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SongBar {
    /// Its number in the song as played; 0 for every bar of a kickoff.
    pub number: usize,
    /// The key it sounded in.
    pub key: Key,
    /// Who was silent, of the line-up.
    pub silent: RoleSet,
    /// True if it follows on the bar before as written, or as a loop comes round, at the same tempo; or
    /// if that one broke off and this is it from its beginning.
    pub goes_on: bool,
    /// True if it was heard to its end.
    pub whole: bool,
    /// True if the sound, its server or the machine lost time in it, so that the band was not heard as it was
    /// sent.
    pub lost_time: bool,
}

impl RecordedBar {
    /// Where it ends.
    pub fn end(&self) -> Ticks {
        self.start + self.meter.bar()
    }

    /// The bar of the song that it is.
    pub const fn song(&self) -> Option<&SongBar> {
        match &self.heard {
            HeardBar::Song(bar) => Some(bar),
            HeardBar::CountIn | HeardBar::Silence => None,
        }
    }
}

impl Recorded {
    /// Where the last bar ends, or the last thing that was played comes, if that is later.
    pub fn end(&self) -> Ticks {
        let bars = self.bars.last().map_or(Ticks::ZERO, RecordedBar::end);
        self.played.last().map_or(bars, |&(at, _)| bars.max(at))
    }

    /// The tempo at a place.
    pub fn tempo_at(&self, at: Ticks) -> Option<Tempo> {
        let begun = self.tempos.partition_point(|&(from, _)| from <= at);
        self.tempos.get(begun.saturating_sub(1)).map(|&(_, tempo)| tempo)
    }

    /// How many strings were struck.
    pub fn strokes(&self) -> usize {
        let struck = self.played.iter().filter(|(_, played)| played.struck().is_some());
        struck.count() + self.hits.len()
    }

    /// Sees to it that every note ends once: before it is struck anew, and at the end at the latest. Ends
    /// that end nothing go, and no damper pedal is held for ever.
    pub fn end_every_note(&mut self) {
        let end = self.end();
        let mut sounding: Vec<(u8, u8)> = Vec::new();
        let mut dampers = [false; 16];
        let mut out = Vec::with_capacity(self.played.len());
        for (at, played) in self.played.drain(..) {
            let channel = played.channel();
            match played.parts() {
                (9, key, _) => {
                    let note = (channel, key);
                    if sounding.contains(&note) {
                        out.push((at, Played::note_off(channel, key)));
                    } else {
                        sounding.push(note);
                    }
                }
                (8, key, _) => {
                    let before = sounding.len();
                    sounding.retain(|&note| note != (channel, key));
                    if sounding.len() == before {
                        continue;
                    }
                }
                (11, DAMPER, value) => {
                    if let Some(damper) = dampers.get_mut(usize::from(channel)) {
                        *damper = value >= HELD;
                    }
                }
                _ => {}
            }
            out.push((at, played));
        }
        out.extend(sounding.iter().map(|&(channel, key)| (end, Played::note_off(channel, key))));
        let held = (0..).zip(dampers).filter(|(_, held)| *held);
        out.extend(held.map(|(channel, _)| (end, Played::control(channel, DAMPER, 0))));
        self.played = out;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_note_ends_once() {
        let says = |at: i64, bytes: &[u8]| (Ticks::new(at), Played::from_bytes(bytes).unwrap());
        let mut recorded = Recorded {
            title: String::new(),
            bars: Vec::new(),
            tempos: Vec::new(),
            played: vec![
                says(0, &[0x80, 50, 64]),
                says(1, &[0x90, 50, 90]),
                says(2, &[0x91, 50, 90]),
                says(3, &[0xB1, 64, 127]),
                says(4, &[0x90, 50, 80]),
                says(5, &[0x80, 50, 64]),
                says(6, &[0x80, 50, 64]),
            ],
            hits: Vec::new(),
        };
        recorded.end_every_note();
        let told: Vec<(i64, &[u8])> =
            recorded.played.iter().map(|(at, played)| (at.get(), played.bytes())).collect();
        let expected: [(i64, &[u8]); 7] = [
            (1, &[0x90, 50, 90]),
            (2, &[0x91, 50, 90]),
            (3, &[0xB1, 64, 127]),
            (4, &[0x80, 50, 64]),
            (4, &[0x90, 50, 80]),
            (5, &[0x80, 50, 64]),
            (6, &[0x81, 50, 64]),
        ];
        assert_eq!(told[..7], expected);
        assert_eq!(told[7..], [(6, &[0xB1, 64, 0][..])], "and the damper is up");
        assert_eq!(recorded.strokes(), 3);
    }
}
