//! Help for the tests of this module.

use crate::chart::{Song, read_song};
use crate::text::{Problems, Source};

/// A song in G and 4/4 with the form and the sections' chords as a file has them.
pub(super) fn song(form: &str, sections: &[(&str, &str)]) -> Song {
    let mut text = format!(
        "title = 'Tar Bucket'\nkey = 'G'\nmeter = '4/4'\ntempo = 120\nstyle = 'any'\nform = {form}\n"
    );
    for (name, chords) in sections {
        text += &format!("[section.'{name}']\nchords = '{chords}'\n");
    }
    let mut problems = Problems::new();
    let song = read_song(&Source::new("song.toml", text).unwrap(), &mut problems);
    assert!(problems.is_empty(), "{problems:?}");
    song.unwrap().0
}
