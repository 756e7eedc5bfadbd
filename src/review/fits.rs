use super::lay::Laid;
use super::lay_tables::Unit;
use super::own_beat::{OwnBeat, other_beat};
use super::{Instead, NotReviewed};
use crate::arrange::Arrangement;
use crate::take::Hit;

/// Of strokes that are firmer on their own grid than this, nobody doubts the tempo: strokes at random reach
/// 0.2, a player whose strokes stray by 20 ms in a fast song 0.4.
const FIRM: f64 = 0.25;

/// Where fewer notes than this share belong to the chords, it is another song: who plays one bar of four a
/// fret off still has more.
const BELONGS: f64 = 0.5;

/// Where more than this share do, it is this one, in this key.
const CLEARLY: f64 = 0.85;

/// By how much another key must fit better to be the one that was played in: the keys next to each other have
/// most notes in common.
const BETTER: f64 = 0.12;

/// How well a take fits the song.
#[derive(Clone, Copy, Debug)]
pub(super) struct Fits {
    /// How firmly it goes at the tempo, 0 to 1.
    pub firm: f64,
    /// What share of its notes belongs to the chords, if enough were made out.
    pub chords: Option<f64>,
}

impl Fits {
    pub(super) fn new(beat: &OwnBeat, laid: &Laid, hits: &[&Hit]) -> Self {
        // Of fewer, the chords can't be told.
        let enough = laid.known >= 8 && laid.known * 4 >= hits.len();
        Self { firm: beat.firm, chords: enough.then_some(laid.fit) }
    }

    /// How sure it is, 0 to 1.
    pub(super) fn sure(self, anchored: bool) -> f64 {
        let time = ((self.firm - 0.1) / 0.4).clamp(0.0, 1.0);
        let place = match self.chords {
            Some(fit) => ((fit - 0.5) / 0.4).clamp(0.0, 1.0),
            None if anchored => 0.8,
            None => 0.4,
        };
        // Where the beginning is known, a beat that is hard to make out is no doubt of the place.
        if anchored { place * (0.5 + time / 2.0) } else { place * time }
    }
}

/// Why the take can't be of this song, if it can't. `lay_moved` lays it with all notes so many half steps
/// higher.
pub(super) fn does_not_fit(
    song: &Arrangement,
    times: &[f64],
    unit: Unit,
    fits: Fits,
    lay_moved: impl Fn(i32) -> Option<Laid>,
) -> Option<NotReviewed> {
    if fits.firm < FIRM {
        let tempo = song.tempo.beats_per_minute(song.meter);
        let help = match other_beat(times, unit.period) {
            Some(stretch) => {
                let full = song.pace.beats_per_minute(song.meter);
                let goes = tempo / stretch;
                Instead::Speed { goes, percent: goes / full * 100.0 }
            }
            None => Instead::Steadier,
        };
        return Some(NotReviewed::OtherTempo { wanted: tempo, help });
    }
    let fit = fits.chords.filter(|fit| *fit < CLEARLY)?;
    // Of the other keys, the one that fits best.
    let moved = (1..12).filter_map(|by| lay_moved(by).map(|laid| (by, laid.fit)));
    let best = moved.max_by(|(_, one), (_, other)| one.total_cmp(other));
    let help = match best {
        Some((by, better)) if better > (fit + BETTER).max(CLEARLY) => {
            Instead::Key(song.key.moved(-by).tonic)
        }
        _ if fit < BELONGS => Instead::Song,
        _ => return None,
    };
    Some(NotReviewed::OtherSong {
        title: song.title.clone(),
        found: format!("only {:.0} percent of its notes belong to the chords", fit * 100.0),
        help,
    })
}
