use openchair::interchange::{
    Format, Given, Tune, find_chords, has_no_chords, in_key, read_tunes, song_file,
};
use openchair::rehearsal::{Shipped, StylesRead, check_with_own_style};
use openchair::text::{Problems, Source};

use crate::{band, dice, shown};

/// More tunes of one file than this show nothing new.
const MOST: usize = 2;

/// A tune of more bars than this is read and made a song, and no more: what is written of it takes the time of many
/// short ones.
const MOST_MEASURES: usize = 200;

/// One input in so many becomes a song file that is checked, and one in so many of those is written in every way. What
/// strangers hand in is the tune: reading it takes a fifth of the time of all that is made of it.
const CHECKED: usize = 4;
const WRITTEN: usize = 8;

/// Voices, parts and tracks that are asked for by name. Mostly none is.
const VOICES: [Option<&str>; 8] =
    [None, None, None, None, Some("lead"), Some("2"), Some("P2"), Some("no such")];

std::thread_local! {
    /// Styles are the program's own, and the same for every tune.
    static STYLES: std::cell::RefCell<StylesRead> = std::cell::RefCell::default();
}

/// A file of tunes by others: read, and each tune made a song file without mistakes.
pub fn tunes(format: Format, bytes: &[u8]) {
    let dice = dice(bytes);
    let bars_per_chord = [None, Some(1), Some(2)][dice % 3];
    let voice = VOICES[dice / 97 % VOICES.len()];
    let given = Given { voice, bars_per_chord };
    let Ok(file) = read_tunes("tunes", bytes, format, given) else { return };
    for stray in file.strays.iter().take(MOST) {
        file.source.position(stray.at);
    }
    for tune in file.tunes.iter().take(MOST) {
        file.source.position(tune.at);
        song_of(tune, dice / 3);
    }
}

fn song_of(tune: &Tune, dice: usize) {
    let Ok((song, remarks)) = tune.song() else { return };
    if tune.measures.len() > MOST_MEASURES || dice % CHECKED != 0 {
        return;
    }
    remarks.all().iter().for_each(|remark| assert!(!remark.sentence().is_empty()));
    let text = song_file(&song, "tunes", remarks.all());
    let source = Source::new("song.toml", text).expect("a song's file is a text");
    let mut problems = Problems::new();
    STYLES.with_borrow_mut(|styles| {
        let _ = check_with_own_style(&source, &Shipped, styles, &mut problems);
    });
    shown(&source, &problems);
    if tune.own.is_some() {
        // It says itself which style it was in, which others may have made wrong since: then that is told.
        return;
    }
    assert!(problems.is_empty(), "a song with mistakes:\n{}", source.text);
    if dice / CHECKED % WRITTEN == 0 {
        band::written(&song);
        drop(in_key(&song, song.key));
        if has_no_chords(&song) {
            find_chords(&song);
        }
    }
}
