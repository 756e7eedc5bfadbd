use openchair::interchange::{Format, Given, has_no_chords, in_key, read_tunes, song_file};
use openchair::rehearsal::{Shipped, read_with_own_style};
use openchair::text::{Problems, Source};

use crate::{band, dice, shown};

/// More tunes of one file than this show nothing new.
const MOST: usize = 4;

/// A file of tunes by others: read, and each tune made a song file without mistakes.
pub fn tunes(format: Format, bytes: &[u8]) {
    let bars_per_chord = [None, Some(1), Some(2)][dice(bytes) % 3];
    let given = Given { voice: None, bars_per_chord };
    let Ok(file) = read_tunes("tunes", bytes, format, given) else { return };
    for stray in &file.strays {
        file.source.position(stray.at);
    }
    for tune in file.tunes.iter().take(MOST) {
        file.source.position(tune.at);
        let Ok((song, remarks)) = tune.song() else { continue };
        remarks.all().iter().for_each(|remark| assert!(!remark.sentence().is_empty()));
        has_no_chords(&song);
        let text = song_file(&song, "tunes", remarks.all());
        let source = Source::new("song.toml", text).expect("a song's file is a text");
        let mut problems = Problems::new();
        let _ = read_with_own_style(&source, &Shipped, &mut problems);
        shown(&source, &problems);
        if tune.own.is_some() {
            // It says itself which style it was in, which others may have made wrong since: then that is told.
            continue;
        }
        assert!(problems.is_empty(), "a song with mistakes:\n{}", source.text);
        band::written(&song);
        drop(in_key(&song, song.key));
    }
}
