//! Songs, and a band that stands somewhere in them, for the screen to show.
#![allow(dead_code, missing_docs)]

use openchair::arrange::{Arrangement, Plan, arrange};
use openchair::chart::{RoleSet, read_song};
use openchair::coverage::{Coverage, coverage};
use openchair::live::{ChordsAs, Standing, Status};
use openchair::perform::perform;
use openchair::practice::Chairs;
use openchair::screen::{Facts, Open, View};
use openchair::style::read_style;
use openchair::text::{Problems, Source, report};
use openchair::time::{Meter, Nanos, Ticks};

/// Every kind of thing the screen has to show: breaks, pauses, a short bar, N.C., stops, long names.
pub const FERRY: &str = r#"
title = "Cable and Crank"
key = "G"
meter = "4/4"
tempo = 100
style = "boom-chick"
capo = 0
form = ["verse: voice", "verse: guitar", "odd", "hush: voice"]
[section.verse]
chords = """
| G | C / D / | G / / D | Em |
| G | G | D | G |
"""
voice = """
| ==== | ==-- | ==== | ---- |
| ==== | ==== | ==-- | ---- |
"""
[section.odd]
chords = """
| F#m7b5/C | (2/4) G | Bbmaj13/Ab / C#mMaj7/G# / | Cadd9 |
"""
[section.hush]
chords = """
| G | N.C. | C | D |
"""
voice = """
| ==== | ---- | ==== | ---- |
"""
stops = """
| x--- | ---- | . | x-x- |
"""
"#;

pub fn song(toml: &str) -> Arrangement {
    with_plan(toml, &Plan::default())
}

pub fn with_plan(toml: &str, plan: &Plan) -> Arrangement {
    let source = Source::new("song.toml", toml).unwrap();
    let mut problems = Problems::new();
    let song = read_song(&source, &mut problems);
    assert!(problems.is_empty(), "{}", report(&source, &problems, false));
    arrange(&song.unwrap().0, plan).unwrap()
}

/// A song of one section in some meter.
pub fn in_meter(meter: &str, chords: &str) -> Arrangement {
    song(&format!(
        "title = \"Ford\"\nkey = \"D\"\nmeter = \"{meter}\"\ntempo = 90\nstyle = \"waltz\"\n\
         ending = \"none\"\nform = [\"a: fiddle\"]\n[section.a]\nchords = \"{chords}\"\n"
    ))
}

/// Playing the bar of that number; `now` is 0 on its first beat.
pub fn playing(song: &Arrangement, number: usize) -> Status {
    Status {
        score: 1,
        standing: Standing::Playing,
        bar: song.bars.iter().position(|bar| bar.number == number).unwrap(),
        bar_start: Nanos(0),
        tempo: song.tempo,
        since: Nanos(0),
        round: 0,
        visit: 0,
        pass: 0,
        muted: RoleSet::EMPTY,
        out: RoleSet::EMPTY,
        dropped: 0,
        lost: false,
        lost_time: None,
    }
}

pub fn facts(song: &Arrangement) -> Facts<'_> {
    Facts {
        style: "boom-chick",
        base: song.tempo,
        whole: song,
        loop_bars: None,
        mark: None,
        rounds: None,
        rounds_before: 0,
        chairs: Chairs::AsWritten,
        output: "attic synth",
        message: None,
        drill: None,
        open: None,
        chords: ChordsAs::Names,
        tab: None,
        listens: false,
        noticed: None,
    }
}

/// The time of a beat of the bar, from 0, and a little more.
pub fn on_beat(song: &Arrangement, status: &Status, beat: i64) -> Nanos {
    let at = song.bars[status.bar].beat() * beat + Ticks::new(1);
    Nanos(status.bar_start.0 + status.tempo.nanos(at).0 + 1)
}

/// The view of that bar on that beat.
pub fn view(song: &Arrangement, number: usize, beat: i64) -> View {
    let status = playing(song, number);
    let covered = covered(song, status.muted);
    let open = Some(Open { now: &covered, next: Some(&covered) });
    View::new(&status, song, &Facts { open, ..facts(song) }, on_beat(song, &status, beat))
}

/// What the band covers there in the plainest style of the song's meter.
pub fn covered(song: &Arrangement, silenced: RoleSet) -> Coverage {
    let style = match song.meter {
        Meter::ThreeFour => "waltz",
        Meter::SixEight => "jig",
        _ => "boom-chick",
    };
    let path = format!("{}/backing-styles/{style}.toml", env!("CARGO_MANIFEST_DIR"));
    let source = Source::new(style, std::fs::read_to_string(path).unwrap()).unwrap();
    let style = read_style(style, &source, &mut Problems::new()).unwrap();
    coverage(song, &perform(song, &style, 1).unwrap(), silenced)
}
