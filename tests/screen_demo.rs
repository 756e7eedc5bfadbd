//! The screen for the eye: plays a song in silence, by the clock on the wall.
//!
//! `SONG=songs/FILE.toml cargo test --test screen_demo -- --ignored --nocapture`, in a terminal.

use std::fs;
use std::time::{Duration, Instant};

use openchair::arrange::{Arrangement, Plan, arrange};
use openchair::chart::{RoleSet, read_song};
use openchair::live::{Action, Standing, Status};
use openchair::practice::Chairs;
use openchair::screen::{Facts, Input, Screen, View};
use openchair::text::{Problems, Source};
use openchair::time::Nanos;

fn song() -> Arrangement {
    let path = std::env::var("SONG").unwrap_or("songs/lantern-on-the-landing.toml".to_owned());
    let source = Source::new(&path, fs::read_to_string(&path).unwrap()).unwrap();
    let (song, _) = read_song(&source, &mut Problems::new()).unwrap();
    arrange(&song, &Plan { count_in: 1, ..Plan::default() }).unwrap()
}

fn jump(status: &mut Status, song: &Arrangement, now: Nanos, bars: isize) {
    status.bar = status.bar.saturating_add_signed(bars).min(song.bars.len() - 1);
    status.bar_start = now;
}

#[test]
#[ignore = "for the eye, in a terminal"]
fn play_by_the_clock_on_the_wall() {
    let song = song();
    let began = Instant::now();
    let now = || Nanos(i64::try_from(began.elapsed().as_nanos()).unwrap());
    let mut status = Status {
        score: 0,
        standing: Standing::CountingIn { bars: 1 },
        bar: 0,
        bar_start: song.tempo.nanos(song.meter.bar()),
        tempo: song.tempo,
        round: 0,
        pass: 0,
        muted: RoleSet::EMPTY,
        out: RoleSet::EMPTY,
        dropped: 0,
        lost: false,
    };
    let facts = Facts {
        style: "boom-chick",
        base: song.tempo,
        loop_bars: None,
        chairs: Chairs::AsWritten,
        output: "a port",
        message: None,
        drill: None,
    };
    let mut screen = Screen::new().unwrap();
    loop {
        let time = now();
        let length = status.tempo.nanos(song.bars[status.bar].meter.bar());
        if status.standing != Standing::Paused && time >= status.bar_start {
            status.standing = Standing::Playing;
            if time.0 >= status.bar_start.0 + length.0 {
                status.bar_start.0 += length.0;
                status.bar = (status.bar + 1) % song.bars.len();
            }
        }
        screen.draw(&View::new(&status, &song, &facts, time)).unwrap();
        match screen.poll(Duration::from_millis(20)).unwrap() {
            Some(Input::Action(Action::Quit)) => return,
            Some(Input::Action(Action::BarForward)) => jump(&mut status, &song, now(), 1),
            Some(Input::Action(Action::BarBack)) => jump(&mut status, &song, now(), -1),
            Some(Input::Action(Action::SectionForward)) => {
                let pass = song.bars[status.bar].pass;
                let bars = song.bars.iter().filter(|bar| bar.pass <= pass).count();
                let ahead = (bars - status.bar) as isize;
                jump(&mut status, &song, now(), ahead);
            }
            Some(Input::Action(Action::PauseOrGo)) => {
                status.standing = match status.standing {
                    Standing::Paused => Standing::Playing,
                    _ => Standing::Paused,
                };
                status.bar_start = now();
            }
            Some(Input::Action(Action::SitOut(role))) => {
                let out = status.muted.contains(role);
                status.muted = status.muted.iter().filter(|other| *other != role).collect();
                if !out {
                    status.muted = status.muted.with(role);
                }
            }
            Some(Input::Action(Action::Silence)) => panic!("to see the terminal given back"),
            Some(Input::Action(Action::Cues)) => status.lost = !status.lost,
            _ => {}
        }
    }
}
