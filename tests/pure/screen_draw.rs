//! The screen as it looks, at every size it is made for and at some that are too small.
//!
//! `INSTA_UPDATE=always cargo test --test pure screen_draw`, then look at the snapshots from two metres.

use crate::common::stage::{
    FERRY, covered, facts, in_meter, on_beat, playing, song, view, with_plan,
};
use openchair::arrange::Plan;
use openchair::chart::{Role, RoleSet};
use openchair::coverage::Job;
use openchair::live::{ChordsAs, Noticed, Standing};
use openchair::practice::Chairs;
use openchair::screen::{Drill, Facts, Look, Open, Tab, View, draw, draw_help};
use openchair::theory::MidiNote;
use openchair::time::{Nanos, Ticks};
use ratatui::Terminal;
use ratatui::backend::TestBackend;

const SMALL: &[(u16, u16)] = &[(60, 16), (60, 20), (80, 24), (40, 10), (20, 5), (1, 1)];
const ALL: &[(u16, u16)] =
    &[(60, 16), (60, 20), (80, 24), (120, 40), (200, 60), (40, 10), (20, 5), (1, 1)];

fn screen(width: u16, height: u16, view: &View) -> String {
    let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
    let look = Look { colour: true };
    let drawn = terminal.draw(|frame| draw(view, look, frame.area(), frame.buffer_mut())).unwrap();
    text(drawn.buffer)
}

fn text(buffer: &ratatui::buffer::Buffer) -> String {
    let area = buffer.area;
    let row = |y| (0..area.width).map(|x| buffer[(x, y)].symbol()).collect::<String>();
    (0..area.height).map(|y| row(y).trim_end().to_owned() + "\n").collect()
}

fn snapshot(name: &str, sizes: &[(u16, u16)], draw: impl Fn(u16, u16) -> String) {
    let screens: Vec<String> = sizes
        .iter()
        .map(|&(width, height)| format!("{width}x{height}\n{}", draw(width, height)))
        .collect();
    insta::with_settings!({ omit_expression => true, prepend_module_to_snapshot => false }, {
        insta::assert_snapshot!(format!("screen_{name}"), screens.join("\n"));
    });
}

fn shows(name: &str, sizes: &[(u16, u16)], view: &View) {
    snapshot(name, sizes, |width, height| screen(width, height, view));
}

#[test]
fn playing_on() {
    shows("playing", ALL, &view(&song(FERRY), 2, 1));
}

#[test]
fn count_in() {
    let song = with_plan(FERRY, &Plan { count_in: 1, ..Plan::default() });
    let mut status = playing(&song, 1);
    status.standing = Standing::CountingIn { bars: 1 };
    status.bar_start = song.tempo.nanos(song.meter.bar());
    let third = song.tempo.nanos(song.meter.beat() * 2);
    shows("count_in", SMALL, &View::new(&status, &song, &facts(&song), Nanos(third.0 + 1000)));
}

#[test]
fn paused() {
    let song = song(FERRY);
    let mut status = playing(&song, 7);
    status.standing = Standing::Paused;
    shows("paused", ALL, &View::new(&status, &song, &facts(&song), Nanos(0)));
}

#[test]
fn ended() {
    let song = song(FERRY);
    let mut status = playing(&song, song.bars.len());
    status.standing = Standing::Ended;
    shows("ended", SMALL, &View::new(&status, &song, &facts(&song), Nanos(0)));
}

#[test]
fn a_guitar_break_with_two_open_chairs() {
    let song = song(FERRY);
    let mut status = playing(&song, 10);
    status.muted = RoleSet::EMPTY.with(Role::Bass);
    let covered = covered(&song, status.muted);
    let open = Some(Open { now: &covered, next: Some(&covered) });
    let told = Facts { open, ..facts(&song) };
    shows("break", ALL, &View::new(&status, &song, &told, on_beat(&song, &status, 2)));
}

#[test]
fn a_crooked_bar_among_long_names() {
    shows("crooked", SMALL, &view(&song(FERRY), 18, 1));
}

#[test]
fn long_names() {
    shows("long_names", ALL, &view(&song(FERRY), 19, 0));
}

#[test]
fn no_chord_and_stops() {
    shows("no_chord", SMALL, &view(&song(FERRY), 22, 3));
}

#[test]
fn three_beats_and_two_of_three() {
    shows("waltz", SMALL, &view(&in_meter("3/4", "| D | G / A | Bm7 | D |"), 2, 2));
    shows("jig", SMALL, &view(&in_meter("6/8", "| D | G / A | D | D |"), 2, 1));
}

#[test]
fn a_loop_with_a_ramp_and_a_surprise() {
    let whole = song(FERRY);
    let song = whole.excerpt(10..=13, 2).unwrap();
    let mut status = playing(&song, 10);
    status.tempo = song.tempo.at_speed(64.0);
    status.round = 1;
    let told = Facts {
        whole: &whole,
        loop_bars: Some((10, 13)),
        rounds: Some(4),
        chairs: Chairs::Surprise { seed: 4, announced: true },
        message: Some("64 % from this round on"),
        ..facts(&song)
    };
    shows("loop", ALL, &View::new(&status, &song, &told, on_beat(&song, &status, 0)));
}

#[test]
fn a_drill() {
    let mut song = in_meter("4/4", "| G | G | C | C |");
    song.round = Some(4);
    let status = playing(&song, 2);
    let told = Facts {
        drill: Some(Drill { change: ("G", "C"), number: (2, 7), mark: Some(72.0) }),
        loop_bars: Some((1, 4)),
        ..facts(&song)
    };
    shows("drill", SMALL, &View::new(&status, &song, &told, on_beat(&song, &status, 3)));
}

/// What a banjo player sees in A with the tab shown.
fn behind_a_capo(chords: ChordsAs, number: usize) -> View {
    let song = song(
        &FERRY
            .replace("key = \"G\"", "key = \"A\"")
            .replace("| G | C / D / | G / / D | Em |", "| A | D / E7 / | A / / E | F#m |"),
    );
    let bar = "   A\n\
               D|-----------0---0-|\n\
               B|-----0-------0---|\n\
               G|-0-------2-------|\n\
               D|-----------------|\n\
               g|-----------------|\n   \
                  1 & 2 & 3 & 4 &\n   \
                  T   I   T M I M\n";
    let tab = vec![bar.to_owned(); song.bars.len()];
    let mut status = playing(&song, number);
    status.muted = RoleSet::EMPTY.with(Role::Chop);
    let covered = covered(&song, status.muted);
    let told = Facts {
        open: Some(Open { now: &covered, next: Some(&covered) }),
        chords,
        tab: Some(Tab { now: &tab, next: None }),
        ..facts(&song)
    };
    View::new(&status, &song, &told, on_beat(&song, &status, 1))
}

#[test]
fn the_banjo_behind_its_capo() {
    shows("capo", ALL, &behind_a_capo(ChordsAs::Names, 2));
    shows("numbers", SMALL, &behind_a_capo(ChordsAs::Numbers, 2));
}

#[test]
fn a_player_who_is_heard() {
    let song = song(FERRY);
    let chord = song.spans[1].chord.unwrap();
    let noticed = Noticed {
        last: vec![MidiNote::new(67).unwrap()],
        late: song.tempo.ticks(Nanos(26_000_000)),
        missed: Some((chord, 2)),
    };
    let told = |noticed| Facts { listens: true, noticed, ..facts(&song) };
    let status = playing(&song, 4);
    let covered = covered(&song, status.muted);
    let open = Some(Open { now: &covered, next: Some(&covered) });
    let told = Facts { open, ..told(Some(&noticed)) };
    shows("heard", ALL, &View::new(&status, &song, &told, on_beat(&song, &status, 1)));
}

#[test]
fn early_and_late_are_seen_by_eye() {
    let song = song(FERRY);
    let status = playing(&song, 4);
    let line = |millis: i64| {
        let late =
            Ticks::new(millis.signum() * song.tempo.ticks(Nanos(millis.abs() * 1_000_000)).get());
        let noticed = Noticed { last: Vec::new(), late, missed: None };
        let told = Facts { listens: true, noticed: Some(&noticed), ..facts(&song) };
        View::new(&status, &song, &told, Nanos(0)).heard.unwrap().line
    };
    assert_eq!(line(0), "heard ?     early ·····●····· late");
    assert_eq!(line(5), line(-5));
    assert_eq!(line(26), "heard ?     early ·····│·●··· late");
    assert_eq!(line(-13), "heard ?     early ····●│····· late");
    assert_eq!(line(-200), "heard ?     early ●····│····· late");
    let told = Facts { listens: true, ..facts(&song) };
    let heard = View::new(&status, &song, &told, Nanos(0)).heard;
    assert_eq!(heard.unwrap().line, "heard: nothing yet");
}

/// The job's word in letters of several rows, the next chord in none higher.
#[test]
fn what_to_do_is_read_from_two_metres() {
    for (width, height) in [(60, 16), (80, 24), (120, 40), (200, 60), (40, 14)] {
        let mut view = behind_a_capo(ChordsAs::Names, 3);
        for job in Job::ALL {
            if width == 40 && job.as_str().len() > 10 {
                // In 40 columns a long word stands in plain letters, whole.
                continue;
            }
            view.task.as_mut().unwrap().now.short = job.as_str().to_owned();
            let with = screen(width, height, &view);
            let mut bare = view.clone();
            bare.task.as_mut().unwrap().now.short = String::new();
            let without = screen(width, height, &bare);
            let rows: Vec<usize> = with
                .lines()
                .zip(without.lines())
                .enumerate()
                .filter(|(_, (a, b))| a != b && a.contains(['▀', '▄', '█', '▌', '▐']))
                .map(|(row, _)| row)
                .collect();
            assert!(rows.len() >= 3, "{width}x{height} {job}:\n{with}");
        }
    }
}

#[test]
fn a_short_bar_is_drawn_shorter() {
    shows("short_bar", SMALL, &view(&in_meter("3/4", "| D | (2/4) G | A | D |"), 2, 1));
}

#[test]
fn a_lost_port() {
    let song = song(FERRY);
    let mut status = playing(&song, 1);
    status.lost = true;
    shows("lost", ALL, &View::new(&status, &song, &facts(&song), on_beat(&song, &status, 3)));
}

#[test]
fn help() {
    let page = |width, height| {
        let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
        let drawn = terminal.draw(|frame| draw_help(0, frame.area(), frame.buffer_mut())).unwrap();
        text(drawn.buffer)
    };
    snapshot("help", &[(60, 16), (80, 24), (120, 40), (200, 60), (20, 5)], page);
}

/// A band that goes on playing: what stands beside the moving beat never moves.
#[test]
fn nothing_jumps_from_beat_to_beat() {
    let song = song(FERRY);
    for &(width, height) in ALL {
        let rows = |beat| -> Vec<String> {
            let shown = screen(width, height, &view(&song, 5, beat));
            shown.lines().map(str::to_owned).collect()
        };
        let first = rows(0);
        for beat in 1..4 {
            // Same bar, same chords: only figures and the beat's own row may differ.
            let differing = first.iter().zip(rows(beat)).filter(|(a, b)| *a != b).count();
            let allowed = if height >= 16 { usize::from(height) / 4 + 1 } else { 2 };
            assert!(differing <= allowed, "{width}x{height}: {differing} rows");
        }
    }
}
