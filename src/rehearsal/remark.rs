use thiserror::Error;

use super::Rehearsal;
use crate::arrange::Arrangement;
use crate::chart::Role;
use crate::theory::Key;

/// What is odd about what will be played, though it can be.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum Remark {
    /// Nobody plays.
    #[error("nobody plays: every chair is open")]
    Nobody,
    /// The tempo is not one for the style.
    #[error(
        "{style} feels right from {slowest} to {fastest} beats a minute, and this is {tempo:.0}"
    )]
    Tempo {
        /// The style's name.
        style: String,
        /// The slowest tempo for it, in beats a minute.
        slowest: f64,
        /// The fastest.
        fastest: f64,
        /// What will be played.
        tempo: f64,
    },
    /// Somebody of the line-up is not known to the style.
    #[error("{style} has nothing for the {role} to play: that chair is open")]
    NoPart {
        /// The style's name.
        style: String,
        /// Who.
        role: Role,
    },
    /// A key was asked for, and its mode is not the song's.
    #[error("a song in {song} stays in its mode: playing in {played}")]
    Mode {
        /// The song's own key.
        song: Key,
        /// What will be played.
        played: Key,
    },
}

impl Rehearsal {
    /// What is odd about an arrangement of it.
    pub fn remarks(&self, arrangement: &Arrangement) -> Vec<Remark> {
        let (song, style, wishes) = (self.song(), self.style(), self.wishes());
        let mut remarks = Vec::new();
        if arrangement.playing().is_empty() {
            remarks.push(Remark::Nobody);
        }
        let tempo = arrangement.tempo.beats_per_minute(arrangement.meter);
        // A practice speed is meant to be slow.
        if wishes.speed == 100.0 && !style.tempo.contains(&tempo.round()) {
            let (slowest, fastest) = (*style.tempo.start(), *style.tempo.end());
            remarks.push(Remark::Tempo { style: style.name.clone(), slowest, fastest, tempo });
        }
        for role in arrangement.playing().iter().filter(|&role| style.part(role).is_none()) {
            remarks.push(Remark::NoPart { style: style.name.clone(), role });
        }
        // "G" for a song in E minor might have meant its relative major.
        if wishes.key.is_some_and(|asked| asked != arrangement.key)
            && song.key.mode.has_minor_third()
        {
            remarks.push(Remark::Mode { song: song.key, played: arrangement.key });
        }
        remarks
    }
}
