//! An engine that plays by a script, under a fake clock.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, OnceLock};

use openchair::arrange::{Arrangement, Plan, arrange};
use openchair::chart::read_song;
use openchair::live::{
    Clock, Command, Control, Ends, FakeClock, Follow, PlayError, PlayReport, Score, Settings, Slot,
    Status, Supply, engine,
};
use openchair::perform::{Performance, perform};
use openchair::style::{Style, read_style};
use openchair::text::{Problems, Source};
use openchair::time::{Nanos, Tempo};

use super::probe::{Probe, Tape};

pub const SECOND: i64 = 1_000_000_000;
pub const MILLI: i64 = 1_000_000;
/// Before the first note of all the channels get their sounds.
pub const LEAD: i64 = SECOND / 10;

/// How outputs take messages: how far ahead, and from when on for good. No whole milliseconds, so that
/// nothing falls together by chance.
pub const DIRECT: (i64, i64) = (0, 0);
pub const QUEUED: (i64, i64) = (105_000_007, 3_000_017);

/// What happens at a time of the script.
pub enum Do {
    Tell(Command),
    Follow(Follow),
    /// The whole program stands still for so long.
    Stall(i64),
    /// The output says from now on that it is lost.
    Lose(usize),
    /// The output takes no more messages, or does again.
    Refuse(usize, bool),
    /// Another of the same kind is supplied.
    Supply(usize),
}

impl From<Command> for Do {
    fn from(command: Command) -> Self {
        Self::Tell(command)
    }
}

/// How it went.
pub struct Show {
    /// By output, in the order in which they were taken up.
    pub tapes: Vec<Tape>,
    /// Every status, and when it was seen.
    pub statuses: Vec<(i64, Status)>,
    pub result: Result<PlayReport, PlayError>,
    /// When it was over.
    pub end: i64,
    pub handed_back: Vec<Slot>,
}

struct Director {
    ends: Ends,
    script: VecDeque<(i64, Do)>,
    kinds: Vec<(i64, i64)>,
    show: Show,
}

const SLOTS: [Slot; 2] = [Slot::Port, Slot::Sound];

/// Plays a score as the script asks, to outputs of these kinds.
pub fn show(
    score: Score,
    tempo: Tempo,
    clock_out: bool,
    kinds: &[(i64, i64)],
    script: Vec<(i64, Do)>,
) -> Show {
    show_with(score, tempo, clock_out.then_some(Nanos(0)), kinds, script)
}

/// The same, with a clock sent that leaves its listener so much time.
pub fn show_with(
    score: Score,
    tempo: Tempo,
    clock_out: Option<Nanos>,
    kinds: &[(i64, i64)],
    script: Vec<(i64, Do)>,
) -> Show {
    let clock: Arc<OnceLock<Arc<FakeClock>>> = Arc::default();
    let director: Arc<Mutex<Option<Director>>> = Arc::default();
    let (its_clock, its_director) = (Arc::clone(&clock), Arc::clone(&director));
    let watch = move |now: Nanos| {
        let mut stall = 0;
        if let Some(director) = its_director.lock().unwrap().as_mut() {
            director.see(now.0);
            stall = director.direct(now.0, its_clock.get().unwrap());
        }
        if stall > 0 {
            its_clock.get().unwrap().wait_until(Nanos(now.0 + stall));
        }
    };
    let clock = clock.get_or_init(|| Arc::new(FakeClock::watched(watch)));
    let settings = Settings { score: Box::new(score), tempo, clock: clock_out, plays_on: true };
    let (mut engine, ends) = engine(settings);
    let mut tapes = Vec::new();
    for (slot, &(ahead, guard)) in SLOTS.into_iter().zip(kinds) {
        let (out, tape) = Probe::new(clock, ahead, guard);
        engine.install(Supply { slot, out });
        tapes.push(tape);
    }
    let result = Ok(PlayReport::default());
    let show = Show { tapes, statuses: Vec::new(), result, end: 0, handed_back: Vec::new() };
    let kinds = kinds.to_vec();
    *director.lock().unwrap() = Some(Director { ends, script: script.into(), kinds, show });
    let result = engine.run(clock.as_ref(), &Control::new());
    let mut director = director.lock().unwrap().take().unwrap();
    assert!(director.script.is_empty(), "it was over before its time");
    director.see(clock.now().0);
    Show { result, end: clock.now().0, ..director.show }
}

impl Director {
    fn see(&mut self, now: i64) {
        while let Some(status) = self.ends.remote.next_status() {
            self.show.statuses.push((now, status));
        }
        while let Ok(lost) = self.ends.door.lost.pop() {
            self.show.handed_back.push(lost.slot);
            lost.out.close();
        }
    }

    fn direct(&mut self, now: i64, clock: &Arc<FakeClock>) -> i64 {
        while self.script.front().is_some_and(|(at, _)| *at <= now) {
            match self.script.pop_front().unwrap().1 {
                Do::Tell(command) => self.ends.remote.send(command).unwrap(),
                Do::Follow(follow) => assert!(self.ends.follow.send(follow)),
                Do::Stall(length) => {
                    self.show.tapes.iter().for_each(Tape::may_sleep);
                    return length;
                }
                Do::Lose(tape) => self.show.tapes[tape].lose(),
                Do::Refuse(tape, refuses) => self.show.tapes[tape].refuse(refuses),
                Do::Supply(slot) => {
                    let (ahead, guard) = self.kinds[slot];
                    let (out, tape) = Probe::new(clock, ahead, guard);
                    self.show.tapes.push(tape);
                    let supply = Supply { slot: SLOTS[slot], out };
                    assert!(self.ends.door.supplies.push(supply).is_ok());
                }
            }
        }
        0
    }
}

/// A song of one section in G and 4/4 with these chords; `more` are further lines of its head.
pub fn arrangement(chords: &str, more: &str) -> Arrangement {
    let toml = format!(
        "title = 'Kettle Landing'\nkey = 'G'\nmeter = '4/4'\nstyle = 'any'\nending = 'none'\n\
         {more}\nform = ['verse']\n[section.verse]\nchords = '''\n{chords}\n'''\n"
    );
    let source = Source::new("song.toml", toml).unwrap();
    let mut problems = Problems::new();
    let song = read_song(&source, &mut problems);
    assert!(problems.is_empty(), "{problems:?}");
    arrange(&song.unwrap().0, &Plan::default()).unwrap()
}

/// In the style "drive".
pub fn performed(song: &Arrangement) -> Performance {
    perform(song, &drive(), 7).unwrap()
}

fn drive() -> Style {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/backing-styles/drive.toml");
    let source = Source::new("drive", std::fs::read_to_string(path).unwrap()).unwrap();
    let mut problems = Problems::new();
    let style = read_style("drive", &source, &mut problems);
    assert!(problems.is_empty(), "{problems:?}");
    style.unwrap()
}
