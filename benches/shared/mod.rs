//! What the measurements of live playing share; each takes what it needs.
#![allow(dead_code)]

use std::fs;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use openchair::arrange::{Arrangement, Plan, arrange};
use openchair::chart::read_song;
use openchair::live::{Clock, MonotonicClock};
use openchair::perform::{Performance, perform};
use openchair::style::read_style;
use openchair::text::{Problems, Source};
use openchair::time::Tempo;

fn text(path: &str) -> Source {
    let whole = Path::new(env!("CARGO_MANIFEST_DIR")).join(path);
    Source::new(path, fs::read_to_string(whole).unwrap()).unwrap()
}

/// A shipped song, its form gone round and round for about so many seconds, to the end of a pass; at
/// so many percent of its own tempo.
pub fn song_of(seconds: f64, speed: f64) -> (Arrangement, Performance) {
    let song = read_song(&text("songs/lantern-on-the-landing.toml"), &mut Problems::new());
    let mut song = song.unwrap().0;
    let style = text("backing-styles/boom-chick.toml");
    let style = read_style("boom-chick", &style, &mut Problems::new()).unwrap();
    let bar = Tempo::new(song.tempo, song.meter, speed).nanos(song.meter.bar()).seconds();
    let mut bars = 0;
    let passes = song.form.iter().cycle().take_while(|pass| {
        let enough = f64::from(bars) * bar >= seconds;
        bars += u32::try_from(song.sections[pass.section].bars.len()).unwrap();
        !enough
    });
    song.form = passes.cloned().collect();
    let arrangement = arrange(&song, &Plan { speed, ..Plan::default() }).unwrap();
    let performance = perform(&arrangement, &style, 1).unwrap();
    (arrangement, performance)
}

/// A thread for each core, at ordinary priority, that works or sleeps.
pub struct Load {
    works: Arc<AtomicBool>,
    over: Arc<AtomicBool>,
    threads: Vec<JoinHandle<()>>,
}

impl Load {
    pub fn new() -> Self {
        let (works, over) = (Arc::new(AtomicBool::new(false)), Arc::new(AtomicBool::new(false)));
        let cores = thread::available_parallelism().map_or(1, usize::from);
        let thread = |_| {
            let (works, over) = (Arc::clone(&works), Arc::clone(&over));
            thread::spawn(move || {
                while !over.load(Ordering::Relaxed) {
                    if works.load(Ordering::Relaxed) {
                        std::hint::spin_loop();
                    } else {
                        thread::sleep(Duration::from_millis(20));
                    }
                }
            })
        };
        let threads = (0..cores).map(thread).collect();
        Self { works, over, threads }
    }

    pub fn work(&self, works: bool) {
        self.works.store(works, Ordering::Relaxed);
    }
}

impl Drop for Load {
    fn drop(&mut self) {
        self.over.store(true, Ordering::Relaxed);
        self.threads.drain(..).for_each(|thread| thread.join().unwrap());
    }
}

/// How far our clock is ahead of the JACK server's, in nanoseconds: the closest reading of many.
pub fn apart(clock: &MonotonicClock, server: &jack::Client) -> i64 {
    let read = |_| {
        let before = clock.now().0;
        let theirs = server.time().cast_signed() * 1000;
        let after = clock.now().0;
        (after - before, (before + after) / 2 - theirs)
    };
    (0..1000).map(read).min().unwrap().1
}

/// The value that a part (0 to 1) of them do not exceed. They must be sorted; of none, 0.
pub fn at(sorted: &[i64], part: f64) -> i64 {
    let rank = (sorted.len() as f64 * part).ceil() as usize;
    sorted.get(rank.saturating_sub(1)).copied().unwrap_or(0)
}

/// Sorts, and gives the median.
pub fn median(mut values: Vec<i64>) -> i64 {
    values.sort_unstable();
    at(&values, 0.5)
}

/// Nanoseconds as microseconds, for a table.
pub fn micros(nanos: i64) -> String {
    format!("{:.1}", nanos as f64 / 1000.0)
}

/// An argument that is a number, or none.
pub fn number() -> Option<f64> {
    std::env::args().skip(1).find_map(|argument| argument.parse().ok())
}

/// True under `cargo bench`, and not where a test run only looks whether this builds and starts.
pub fn measures() -> bool {
    let measures = std::env::args().any(|argument| argument == "--bench");
    if !measures {
        println!("measures only under cargo bench");
    }
    measures
}
