use clap::Parser;

use super::*;
use crate::cli::args::{Args, Command as Asked};
use crate::cli::play::Play;
use crate::cli::rehearse::rehearsal;
use crate::live::{Keeper, Missing, Opener, Supply, Wish};
use crate::perform::Message;
use crate::sink::{MidiOut, Recorder, Recording};
use crate::time::Nanos;

/// Room for what a band says in a minute.
const ROOM: usize = 1 << 16;

fn asked() -> Play {
    let song = concat!(env!("CARGO_MANIFEST_DIR"), "/songs/one-plank-short.toml");
    let line = ["openchair", "play", song, "--plain", "--count-in", "0"];
    let Asked::Play(play) = Args::parse_from(line).command else { panic!("it is play") };
    play
}

fn desk(play: &Play) -> Desk {
    let Ok(rehearsal) = rehearsal(&play.song, play.options.wishes().unwrap()) else {
        panic!("the song")
    };
    Desk::new(rehearsal, Wish::default()).unwrap()
}

/// A clock, and an output that writes down what it gets, queued ahead as with a server.
fn output() -> (MonotonicClock, Recorder) {
    let clock = MonotonicClock::new();
    let recorder = Recorder::new(ROOM, move || clock.now());
    (clock, recorder.scheduling(Nanos(100_000_000), Nanos(5_000_000)))
}

fn stage(recorder: Recorder, keeper: Keeper) -> Stage {
    let out: Box<dyn MidiOut> = Box::new(recorder);
    Stage {
        outputs: vec![Supply { slot: Slot::Port, out }],
        keeper,
        names: vec!["a recorder".to_owned()],
        volume: Volume::default(),
        sounds: false,
    }
}

fn silent(recording: &Recording) {
    let notes = recording.sent();
    let notes = notes.iter().filter(|it| matches!(it.message, Message::NoteOn { .. }));
    assert!(notes.count() > 0, "it played");
    assert_eq!(recording.sounding(), []);
    assert!(recording.is_closed());
}

fn ends_silently(recorder: Recorder, clock: MonotonicClock, keeper: Keeper, why: &str) {
    let recording = recorder.recording();
    let play = asked();
    let desk = desk(&play);
    let stage = stage(recorder, keeper);
    let jam =
        Jam { desk, live: &play.live, stage, clock, follow: None, listen: None, drilling: None };
    match jam.play() {
        Err(Failure::Failed(told)) => assert!(told.contains(why), "{told}"),
        other => panic!("{other:?}"),
    }
    silent(&recording);
}

/// Panics when it is looked after while the band plays.
struct Faulty(Recording);

impl Opener for Faulty {
    fn name(&self) -> String {
        "the MIDI output".to_owned()
    }

    fn open(&mut self) -> Result<Box<dyn MidiOut>, Missing> {
        Err(Missing::Gone)
    }

    fn still_there(&mut self) -> bool {
        assert!(self.0.sounding().is_empty(), "the keeper was told to panic");
        true
    }
}

#[test]
fn a_panic_of_the_keeper_silences_the_band() {
    let (clock, recorder) = output();
    let keeper = Faulty(recorder.recording());
    let keeper = Keeper::new().keeping(Slot::Port, Box::new(keeper), true);
    ends_silently(recorder, clock, keeper, "broke off");
}

#[test]
fn a_panic_in_an_output_silences_the_band() {
    let (clock, recorder) = output();
    let recorder = recorder.panicking(60);
    ends_silently(recorder, clock, Keeper::new(), "broke off");
}

#[test]
fn a_panic_beside_the_playing_thread_silences_the_band() {
    let (clock, recorder) = output();
    let recording = recorder.recording();
    let mut desk = desk(&asked());
    let opening = desk.open().unwrap();
    let (mut engine, ends) = engine(Settings {
        score: opening.score,
        tempo: opening.tempo,
        clock: None,
        plays_on: true,
    });
    engine.install(Supply { slot: Slot::Port, out: Box::new(recorder) });
    let mut remote = ends.remote;
    opening.commands.into_iter().for_each(|command| send(&mut remote, command));
    let heard = recording.clone();
    let result = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| {
        beside(engine, &clock, &Control::new(), &unbounded().0, || {
            while heard.sounding().len() < 3 {
                thread::sleep(PATIENCE);
            }
            panic!("the screen was told to panic");
        })
    }));
    assert!(result.is_err());
    silent(&recording);
}

/// Waits, not for ever; a band that never gets there fails.
fn until(what: &str, mut reached: impl FnMut() -> bool) {
    let give_up = Instant::now() + Duration::from_secs(20);
    while !reached() {
        assert!(Instant::now() < give_up, "{what}");
        thread::sleep(PATIENCE);
    }
}

#[test]
fn a_key_acts_on_what_is_heard_now_not_on_what_was_looked_at_last() {
    let (clock, recorder) = output();
    let recording = recorder.recording();
    let mut desk = desk(&asked());
    let opening = desk.open().unwrap();
    let (mut engine, ends) = engine(Settings {
        score: opening.score,
        tempo: opening.tempo,
        clock: None,
        plays_on: true,
    });
    engine.install(Supply { slot: Slot::Port, out: Box::new(recorder) });
    let mut remote = ends.remote;
    opening.commands.into_iter().for_each(|command| send(&mut remote, command));
    let keeping = keep(Keeper::new(), ends.door.lost, ends.door.supplies).unwrap();
    let Ok(hands) = Hands::open(None, None, None, clock.epoch()) else {
        panic!("no input was asked for")
    };
    let mut table = Table {
        desk: &mut desk,
        remote,
        suspension: Suspension::default(),
        front: Front::open(true),
        refusals: unbounded().1,
        keeping: &keeping,
        hands: &hands,
        outside: Outside::Awaited,
        volume: None,
        drilling: None,
        player: None,
        output: String::new(),
        clock,
        has_pedal: false,
        touched: Instant::now(),
        status: None,
        lost: [false; 2],
    };
    let done = beside(engine, &clock, &Control::new(), &unbounded().0, || {
        until("it plays", || recording.sounding().len() > 2);
        table.act(Action::PauseOrGo);
        // Nobody has looked since: by the table's last look the band still plays.
        until("it is silent", || recording.sounding().is_empty());
        thread::sleep(SILENCE);
        let notes = recording.sent().len();
        table.act(Action::PauseOrGo);
        until("it goes on", || recording.sent().len() > notes + 3);
        Ok(())
    });
    assert!(done.is_ok());
    silent(&recording);
}
