//! The real program follows a machine on a real JACK server: where its own clock falls, to the frame, held
//! against the machine's without its jitter.

use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::Duration;

use crate::common::name::name_of;
use crate::playing::jack::{Listener, is_inside, with_server};
use crate::playing::program::{Player, openchair};
use jack::{Client, ClientOptions, Control, MidiOut, Port, ProcessHandler, ProcessScope, RawMidi};
use rand_core::Rng;
use rand_pcg::Pcg32;

const BEAT: usize = 24;
const RATE: f64 = 48_000.0;
const PERIOD: u32 = 256;

/// Writes each message on its frame, counted from the frame in `begins`; 0 while it waits.
struct Machine {
    port: Port<MidiOut>,
    begins: Arc<AtomicU32>,
    messages: Vec<(u32, u8)>,
    sent: usize,
}

impl ProcessHandler for Machine {
    fn process(&mut self, _: &Client, scope: &ProcessScope) -> Control {
        let mut writer = self.port.writer(scope);
        let begins = self.begins.load(Ordering::Acquire);
        while begins != 0 && self.sent < self.messages.len() {
            let (at, byte) = self.messages[self.sent];
            let time = begins.wrapping_add(at).wrapping_sub(scope.last_frame_time()) as i32;
            if time >= scope.n_frames() as i32 {
                break;
            }
            writer.write(&RawMidi { time: time.max(0) as u32, bytes: &[byte] }).unwrap();
            self.sent += 1;
        }
        Control::Continue
    }
}

#[test]
fn the_program_is_with_a_machine_to_the_millisecond() {
    let test = name_of(the_program_is_with_a_machine_to_the_millisecond);
    if !is_inside(test) {
        return with_server(test, PERIOD);
    }
    // Three bars at 160, then a tenth faster for six beats; each clock up to 2 ms early or late.
    let (steady, faster) = (12 * BEAT, 6 * BEAT);
    let mut random = Pcg32::new(8, 8);
    let (mut time, mut ideal, mut messages) = (0.1 * RATE, Vec::new(), vec![(0, 0xFA)]);
    for number in 0..steady + faster {
        let late = (f64::from(random.next_u32()) / f64::from(u32::MAX) * 2.0 - 1.0) * 0.002 * RATE;
        ideal.push(time);
        messages.push(((time + late) as u32, 0xF8));
        let beats_a_minute = if number < steady { 160.0 } else { 176.0 };
        time += 60.0 / beats_a_minute / BEAT as f64 * RATE;
    }
    messages.push((time as u32, 0xFC));

    let mut listener = Listener::new("listener");
    let (client, _) = Client::new("machine", ClientOptions::NO_START_SERVER).unwrap();
    let port = client.register_port("clock", MidiOut::default()).unwrap();
    let begins = Arc::new(AtomicU32::new(0));
    let machine = Machine { port, begins: Arc::clone(&begins), messages, sent: 0 };
    let client = client.activate_async((), machine).unwrap();

    let song = concat!(env!("CARGO_MANIFEST_DIR"), "/songs/lantern-on-the-landing.toml");
    let options = ["--port", "listener", "--follow", "machine", "--clock", "--plain"];
    let mut player = Player::start(openchair().args(["play", song]).args(options));
    player.says("playing to");
    let connected = listener.until(Duration::from_secs(15), |_| {
        let port = client.as_client().port_by_name("machine:clock");
        port.is_some_and(|port| port.connected_count().unwrap() > 0)
    });
    assert!(connected, "it listens");
    listener.catch_up();
    let from = listener.all.len();
    begins.store(client.as_client().frame_time().wrapping_add(PERIOD * 4), Ordering::Release);
    let begun = begins.load(Ordering::Acquire);
    let stopped = listener.until(Duration::from_secs(20), |it| {
        it.listen()[from..].iter().any(|heard| heard.bytes[0] == 0xFC)
    });
    assert!(stopped, "it stops with the machine");
    let silent = |it: &mut Listener| it.sounding().is_empty();
    assert!(listener.until(Duration::from_secs(1), silent), "and is silent then");
    player.signal("INT");
    player.ends();

    let heard = &listener.all[from..];
    let start = heard.iter().position(|heard| heard.bytes[0] == 0xFA).unwrap();
    let clocks = heard[start..].iter().filter(|heard| heard.bytes[0] == 0xF8);
    let errors: Vec<f64> = clocks
        .zip(&ideal)
        .map(|(clock, at)| (f64::from(clock.frame.wrapping_sub(begun)) - at) / RATE * 1000.0)
        .collect();
    assert!(errors.len() + BEAT > ideal.len(), "{} of {}", errors.len(), ideal.len());
    let most = |errors: &[f64]| errors.iter().map(|error| error.abs()).fold(0.0, f64::max);
    let late = errors[steady..].iter().rposition(|error| error.abs() > 5.0);
    let beats = late.map_or(0.0, |last| (last + 1) as f64 / BEAT as f64);
    println!(
        "measured: following at 160: beat error after two bars at most {:.2} ms; a step of a tenth within \
         5 ms after {beats:.2} beats, at most {:.2} ms off",
        most(&errors[8 * BEAT..steady]),
        most(&errors[steady..])
    );
    assert!(most(&errors[8 * BEAT..steady]) < 5.0, "{errors:.1?}");
    assert!(beats <= 2.0, "{errors:.1?}");
    let notes = heard.iter().filter(|heard| heard.bytes[0] & 0xF0 == 0x90).count();
    assert!(notes > 50, "the band plays: {notes}");
}
