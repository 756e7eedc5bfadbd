use super::{Song, SongSpans};
use crate::text::{Problems, Source};

/// Reads a song file. `None` if anything is wrong with it; `problems` then holds all of it.
pub fn read_song(source: &Source, problems: &mut Problems) -> Option<(Song, SongSpans)> {
    problems.add(0..source.text.len().min(1), "songs are not read yet", "wait for the next build");
    None
}
