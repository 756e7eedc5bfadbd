use openchair::live::{
    BINDINGS, Clock, Control, Desk, Follower, PedalMap, Pedals, Settings, Slot, Supply, Trigger,
    Wish, ear, engine,
};
use openchair::sink::Recorder;
use openchair::time::Nanos;

use crate::texts::short_song;

/// Milliseconds that a step of the first byte stands for: up to half a second passes between two messages.
const STEP: u64 = 2;

/// The engine is asked as often as this, as a machine that is busy asks it.
const SLICE: Nanos = Nanos(10_000_000);

/// More messages than this show nothing new.
const MOST: usize = 400;

/// A clock that stands still: for the way out, on which every note is ended.
struct Standing(Nanos);

impl Clock for Standing {
    fn now(&self) -> Nanos {
        self.0
    }

    fn sleep_until(&self, _: Nanos) {}

    fn wait_until(&self, deadline: Nanos) -> Nanos {
        deadline
    }
}

/// Every action has a pedal: notes of the first channel, in the order of the table of keys.
fn pedals() -> PedalMap {
    let mut pedals = PedalMap::new();
    for (note, binding) in BINDINGS.iter().enumerate() {
        if let Ok(note @ ..=127) = u8::try_from(note) {
            pedals.teach(Trigger::Note { channel: 0, note }, binding.action);
        }
    }
    pedals
}

/// What comes in at MIDI ports, four bytes at a time: how long it takes to come, and a message. Pedals, a player who is
/// heard, and an outside clock beside each other, and a band that plays for as long.
pub fn midi_in(bytes: &[u8]) {
    let follows = bytes.first().is_some_and(|first| first % 2 == 1);
    let wish = Wish { follows, ..Wish::default() };
    let mut desk = Desk::new(short_song(), wish).expect("nothing is wished for that is not there");
    let opening = desk.open().expect("its own style goes with it");
    let settings = Settings {
        score: opening.score,
        tempo: opening.tempo,
        clock: Some(Nanos(0)),
        plays_on: true,
    };
    let (mut engine, mut ends) = engine(settings);
    let recorder =
        Recorder::new(1 << 12, || Nanos(0)).scheduling(Nanos(20_000_000), Nanos(2_000_000));
    let recording = recorder.recording();
    engine.install(Supply { slot: Slot::Port, out: Box::new(recorder) });
    for command in opening.commands {
        let _ = ends.remote.send(command);
    }
    let pedals = pedals();
    let (mut ear, mut hearing) = ear();
    let mut follow = ends.follow;
    let (mut follower, outside) = Follower::new(desk.full_tempo(), move |it| follow.send(it));
    let mut hands = Pedals::new(&pedals);
    ear.leave_out(pedals);
    let control = Control::new();
    let mut now = Nanos(1_000_000_000);
    engine.begin(now);
    let mut over = false;
    for step in bytes.chunks_exact(4).take(MOST) {
        let until = now.0 + (u64::from(step[0]) * STEP * 1_000_000) as i64;
        while now.0 < until && !over {
            now = Nanos((now.0 + SLICE.0).min(until));
            over = engine.turn(now, &control);
            while let Some(status) = ends.remote.next_status() {
                for command in desk.watch(&status) {
                    let _ = ends.remote.send(command);
                }
            }
        }
        let message = match step[1] {
            0xF1 | 0xF3 | 0xC0..=0xDF => &step[1..3],
            0xF4..=0xFF => &step[1..2],
            _ => &step[1..4],
        };
        ear.hear(now, message);
        while hearing.take().is_some() {}
        follower.heard(now, message);
        outside.at(now);
        if let Some(action) = hands.heard(now, message)
            && let Some(status) = ends.remote.status()
        {
            let answer = desk.act(action, &status, now);
            for command in answer.commands {
                let _ = ends.remote.send(command);
            }
        }
    }
    control.stop();
    let _ = engine.play(&Standing(now), &control);
    engine.close();
    assert!(recording.sounding().is_empty(), "a note that nobody ends");
}
