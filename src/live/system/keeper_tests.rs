use std::sync::{Arc, Mutex};

use super::*;
use crate::live::FakeClock;
use crate::perform::Message;
use crate::sink::{Recorder, Recording};

/// A port that tests pull out and plug in.
#[derive(Default)]
struct Socket {
    plugged: bool,
    refusal: Option<String>,
    tries: usize,
    looks: usize,
    opened: Vec<Recording>,
}

#[derive(Clone, Default)]
struct FakeOpener(Arc<Mutex<Socket>>);

impl FakeOpener {
    fn set(&self, plugged: bool, refusal: Option<&str>) {
        let mut socket = self.0.lock().unwrap();
        socket.plugged = plugged;
        socket.refusal = refusal.map(str::to_owned);
    }

    fn tries(&self) -> usize {
        self.0.lock().unwrap().tries
    }

    fn opened(&self) -> Vec<Recording> {
        self.0.lock().unwrap().opened.clone()
    }
}

impl Opener for FakeOpener {
    fn name(&self) -> String {
        "the MIDI output synth (jack)".to_owned()
    }

    fn open(&mut self) -> Result<Box<dyn MidiOut>, Missing> {
        let mut socket = self.0.lock().unwrap();
        socket.tries += 1;
        match (&socket.refusal, socket.plugged) {
            (Some(why), _) => Err(Missing::Refused(why.clone())),
            (None, false) => Err(Missing::Gone),
            (None, true) => {
                let recorder = Recorder::new(16, || Nanos(0));
                socket.opened.push(recorder.recording());
                Ok(Box::new(recorder))
            }
        }
    }

    fn still_there(&mut self) -> bool {
        let mut socket = self.0.lock().unwrap();
        socket.looks += 1;
        socket.plugged
    }
}

/// A keeper under a fake clock, with all that it hands out and says.
struct Desk {
    keeper: Keeper,
    clock: FakeClock,
    supplied: Vec<Supply>,
    said: Vec<String>,
}

impl Desk {
    fn new(keeper: Keeper) -> Self {
        Self { keeper, clock: FakeClock::new(), supplied: Vec::new(), said: Vec::new() }
    }

    /// Lets time go by in the steps of the real thread.
    fn pass(&mut self, millis: i64) {
        let end = self.clock.now().0 + millis * 1_000_000;
        while self.clock.now().0 < end {
            let glance = i64::try_from(GLANCE.as_nanos()).unwrap();
            self.clock.sleep_until(Nanos(self.clock.now().0 + glance));
            let (supplied, said) = (&mut self.supplied, &mut self.said);
            self.keeper.look(
                self.clock.now(),
                &mut |supply| supplied.push(supply),
                &mut |notice| said.push(notice.to_string()),
            );
        }
    }

    fn lose(&mut self, slot: Slot) -> Recording {
        let recorder = Recorder::new(16, || Nanos(0));
        let recording = recorder.recording();
        let said = &mut self.said;
        self.keeper.take_in(Supply { slot, out: Box::new(recorder) }, &mut |notice| {
            said.push(notice.to_string());
        });
        recording
    }
}

#[test]
fn what_is_lost_is_closed_looked_for_and_supplied_when_it_is_back() {
    let opener = FakeOpener::default();
    opener.set(true, None);
    let mut desk = Desk::new(Keeper::new().keeping(Slot::Port, Box::new(opener.clone()), true));
    desk.pass(2_000);
    assert_eq!((opener.tries(), desk.said.len()), (0, 0), "an open one is left alone");
    assert_eq!(opener.0.lock().unwrap().looks, 10, "but looked after five times a second");

    opener.set(false, None);
    assert!(desk.lose(Slot::Port).is_closed());
    desk.pass(2_000);
    assert_eq!((opener.tries(), desk.supplied.len()), (10, 0));
    opener.set(true, None);
    desk.pass(200);
    assert_eq!((opener.tries(), desk.supplied.len()), (11, 1));
    assert_eq!(desk.supplied[0].slot, Slot::Port);
    assert_eq!(
        desk.said,
        [
            "the MIDI output synth (jack) has gone: the beat goes on, and it is taken up when it is back",
            "the MIDI output synth (jack) is back",
        ]
    );
    desk.pass(2_000);
    assert_eq!((opener.tries(), desk.supplied.len()), (11, 1), "it is opened once");
}

#[test]
fn two_of_the_same_name_are_said_once_and_still_looked_for() {
    let opener = FakeOpener::default();
    let mut desk = Desk::new(Keeper::new().keeping(Slot::Port, Box::new(opener.clone()), true));
    desk.lose(Slot::Port);
    opener.set(true, Some("two ports bear its name"));
    desk.pass(1_000);
    opener.set(false, None);
    desk.pass(1_000);
    opener.set(true, Some("two ports bear its name"));
    desk.pass(1_000);
    assert!(desk.supplied.is_empty());
    let refused = desk.said.iter().filter(|it| it.ends_with("two ports bear its name")).count();
    assert_eq!(refused, 2, "each time it comes: {:?}", desk.said);
    opener.set(true, None);
    desk.pass(200);
    assert_eq!(desk.supplied.len(), 1);
    assert!(desk.said.last().unwrap().ends_with("is back"));
}

#[test]
fn port_and_sound_are_kept_apart() {
    let (port, sound) = (FakeOpener::default(), FakeOpener::default());
    let keeper = Keeper::new().keeping(Slot::Port, Box::new(port.clone()), true).keeping(
        Slot::Sound,
        Box::new(sound.clone()),
        true,
    );
    let mut desk = Desk::new(keeper);
    sound.set(true, None);
    desk.lose(Slot::Sound);
    desk.pass(500);
    assert_eq!((port.tries(), sound.tries()), (0, 1));
    assert_eq!(desk.supplied.iter().map(|it| it.slot).collect::<Vec<_>>(), [Slot::Sound]);
    // One that is lost twice, as when it goes again at once, is said once each time it goes.
    desk.lose(Slot::Port);
    desk.lose(Slot::Port);
    assert_eq!(desk.said.iter().filter(|it| it.contains("has gone")).count(), 2);
}

#[test]
fn one_that_was_never_there_is_looked_for_from_the_beginning() {
    let opener = FakeOpener::default();
    let mut desk = Desk::new(Keeper::new().keeping(Slot::Sound, Box::new(opener.clone()), false));
    desk.pass(1_000);
    assert!(desk.supplied.is_empty());
    opener.set(true, None);
    desk.pass(200);
    assert_eq!(desk.supplied.len(), 1);
}

#[test]
fn the_thread_hands_on_through_queues_and_closes_what_is_left() {
    let opener = FakeOpener::default();
    opener.set(true, None);
    let (mut give, lost) = rtrb::RingBuffer::new(4);
    let (supplies, mut taken) = rtrb::RingBuffer::<Supply>::new(1);
    let keeper = Keeper::new().keeping(Slot::Port, Box::new(opener.clone()), true);
    let keeping = keep(keeper, lost, supplies).unwrap();
    let mut lose = || {
        let recorder = Recorder::new(1, || Nanos(0));
        let recording = recorder.recording();
        assert!(give.push(Supply { slot: Slot::Port, out: Box::new(recorder) }).is_ok());
        recording
    };
    let wait_for = |what: &str| {
        let deadline = std::time::Duration::from_secs(30);
        keeping.channel().recv_timeout(deadline).unwrap_or_else(|_| panic!("no notice: {what}"))
    };
    let first = lose();
    assert!(matches!(wait_for("lost"), KeeperNotice::Lost { slot: Slot::Port, .. }));
    assert!(matches!(wait_for("back"), KeeperNotice::Back { slot: Slot::Port, .. }));
    assert!(first.is_closed());
    let mut out = taken.pop().unwrap().out;
    out.send(Nanos(0), Message::Control { channel: 0, controller: 120, value: 0 }).unwrap();
    assert_eq!(opener.opened()[0].sent().len(), 1);
    // Nobody takes the next two any more: the one without room is closed, not lost.
    for _ in 0..2 {
        lose();
        assert!(matches!(wait_for("lost"), KeeperNotice::Lost { .. }));
        assert!(matches!(wait_for("back"), KeeperNotice::Back { .. }));
    }
    assert_eq!(
        opener.opened().iter().map(Recording::is_closed).collect::<Vec<_>>(),
        [false, false, true]
    );
    let last = lose();
    drop(keeping);
    assert!(last.is_closed());
}

#[test]
fn what_rests_is_closed_and_opened_again_without_a_word() {
    let opener = FakeOpener::default();
    opener.set(true, None);
    let mut desk = Desk::new(Keeper::new().keeping(Slot::Port, Box::new(opener.clone()), true));
    desk.keeper.rest();
    assert!(!desk.keeper.is_all_closed());
    assert!(desk.lose(Slot::Port).is_closed());
    assert!(desk.keeper.is_all_closed());
    desk.pass(2_000);
    assert_eq!((opener.tries(), desk.supplied.len()), (0, 0), "it rests");
    desk.keeper.wake();
    desk.pass(20);
    assert_eq!(desk.supplied.len(), 1);
    assert_eq!(desk.said, [""; 0]);

    // What is not there any more by then is told as lost, and then as back.
    desk.keeper.rest();
    desk.lose(Slot::Port);
    opener.set(false, None);
    desk.keeper.wake();
    desk.pass(1_000);
    assert_eq!(desk.said.len(), 1, "{:?}", desk.said);
    opener.set(true, None);
    desk.pass(1_000);
    assert_eq!(desk.said.len(), 2);
    assert!(desk.said[0].contains("has gone") && desk.said[1].contains("is back"));
}
