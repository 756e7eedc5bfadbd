use std::path::Path;

use super::failure::{Failure, tell};
use super::files::find_song;
use crate::arrange::Arrangement;
use crate::rehearsal::{NoRehearsal, NotPlayed, NotRead, Rehearsal, Rendition, StyleError, Wishes};

/// The rehearsal of a song: a file, or one by its name.
pub(super) fn rehearsal(path: &Path, wishes: Wishes) -> Result<Rehearsal, Failure> {
    let (source, shelf) = find_song(path).map_err(Failure::Failed)?;
    Rehearsal::read(&source, &shelf, wishes).map_err(|why| match why {
        NoRehearsal::SitOut(why) => Failure::usage(why),
        NoRehearsal::Read(NotRead::Song(problems)) => Failure::Wrong(Box::new(source), problems),
        NoRehearsal::Read(NotRead::Wished(StyleError::No(why))) => {
            Failure::Usage(format!("--style: {why}"))
        }
        NoRehearsal::Read(NotRead::Wished(StyleError::Unreadable(why))) => Failure::Failed(why),
        NoRehearsal::Read(NotRead::Style(wrong) | NotRead::Wished(StyleError::Wrong(wrong))) => {
            Failure::Wrong(wrong.source, wrong.problems)
        }
    })
}

/// What the band plays of it. What is odd about that is told.
pub(super) fn rendition(rehearsal: &Rehearsal) -> Result<Rendition, Failure> {
    let arrangement = rehearsal.arrangement()?;
    tell_remarks(rehearsal, &arrangement);
    rehearsal.perform(arrangement).map_err(Failure::failed)
}

/// Says what is odd about what will be played, though it can be.
pub(super) fn tell_remarks(rehearsal: &Rehearsal, arrangement: &Arrangement) {
    rehearsal.remarks(arrangement).iter().for_each(tell);
}

impl From<NotPlayed> for Failure {
    fn from(why: NotPlayed) -> Self {
        match why {
            NotPlayed::Plan(why) => Self::usage(why),
            NotPlayed::Stretch(why) => Self::Usage(format!("--loop: {why}")),
            NotPlayed::NoBars { .. } => Self::Usage(format!("--loop: {why}")),
            NotPlayed::Style(why) => Self::failed(why),
        }
    }
}
