use std::path::Path;

use super::args::Options;
use super::failure::{Failure, tell};
use super::library;
use super::voices::Voices;
use crate::arrange::{Arrangement, arrange};
use crate::chart::{RoleSet, Song};
use crate::perform::{Performance, perform};
use crate::style::Style;
use crate::text::Problems;

/// What the band will play, and what it comes from.
pub(super) struct Rehearsed {
    pub performance: Performance,
    /// What it is made from.
    pub arrangement: Arrangement,
    pub style: Style,
    pub song: Song,
    band: Option<RoleSet>,
    seed: u64,
}

impl Rehearsed {
    /// How it will sound.
    pub(super) fn voices(&self) -> Voices {
        Voices::of(&self.song, &self.style, self.band, self.seed)
    }
}

/// From a song file and the options to what the band will play.
pub(super) fn rehearse(
    path: &Path,
    options: &Options,
    count_in: u32,
) -> Result<Rehearsed, Failure> {
    let (song, style) = song_and_style(path, options)?;
    let (mut plan, chairs) = options.plan(count_in).map_err(Failure::usage)?;
    plan.tag = style.tag;
    let mut arrangement = arrange(&song, &plan).map_err(Failure::usage)?;
    chairs.lay_out(&mut arrangement);
    remark(&song, &style, &arrangement, options);
    let performance = perform(&arrangement, &style, options.seed).map_err(Failure::failed)?;
    Ok(Rehearsed { performance, arrangement, style, song, band: plan.band, seed: options.seed })
}

/// The song of a file, and the style that it is to be played in.
pub(super) fn song_and_style(path: &Path, options: &Options) -> Result<(Song, Style), Failure> {
    let source = library::read(path)?;
    let mut problems = Problems::new();
    let Some((song, own_style)) = library::song(path, &source, &mut problems)? else {
        return Err(Failure::Wrong(Box::new(source), problems));
    };
    let style = match &options.style {
        Some(wanted) => library::chosen_style(wanted, path, &song)?,
        None => own_style,
    };
    Ok((song, style))
}

/// Says what is odd about what will be played, though it can be.
pub(super) fn remark(song: &Song, style: &Style, arrangement: &Arrangement, options: &Options) {
    if arrangement.playing().is_empty() {
        tell("nobody plays: every chair is open");
    }
    let tempo = arrangement.tempo.beats_per_minute(arrangement.meter);
    // A practice speed is meant to be slow.
    if options.speed == 100.0 && !style.tempo.contains(&tempo.round()) {
        let (slowest, fastest) = (style.tempo.start(), style.tempo.end());
        tell(format!(
            "{} feels right from {slowest} to {fastest} beats a minute, and this is {tempo:.0}",
            style.name
        ));
    }
    for role in arrangement.playing().iter().filter(|&role| style.part(role).is_none()) {
        tell(format!("{} has nothing for the {role} to play: that chair is open", style.name));
    }
    // "G" for a song in E minor might have meant its relative major.
    if options.key.is_some_and(|asked| asked != arrangement.key) && song.key.mode.has_minor_third()
    {
        tell(format!("a song in {} stays in its mode: playing in {}", song.key, arrangement.key));
    }
}
