//! A client that records what other clients sound.
#![allow(dead_code, missing_docs, clippy::unwrap_used, clippy::panic)]

use std::time::{Duration, Instant};

use jack::{AsyncClient, AudioIn, Client, Control, Port, ProcessHandler, ProcessScope};
use rtrb::{Consumer, Producer, RingBuffer};

use super::jack::started;

/// Room for a minute at 48 kHz.
const ROOM: usize = 60 * 48_000;

struct Head {
    port: Port<AudioIn>,
    tape: Producer<f32>,
}

impl ProcessHandler for Head {
    fn process(&mut self, _: &Client, scope: &ProcessScope) -> Control {
        for &sample in self.port.as_slice(scope) {
            let _ = self.tape.push(sample);
        }
        Control::Continue
    }
}

pub struct Tape {
    client: AsyncClient<(), Head>,
    tape: Consumer<f32>,
    name: String,
}

impl Tape {
    /// Records the sum of these ports from now on.
    pub fn of(ports: &[&str]) -> Self {
        let client = started("tape");
        let port = client.register_port("in", AudioIn::default()).unwrap();
        let name = port.name().unwrap();
        let (producer, tape) = RingBuffer::new(ROOM);
        let client = client.activate_async((), Head { port, tape: producer }).unwrap();
        let tape = Self { client, tape, name };
        tape.connect(ports);
        tape
    }

    /// Records the sum of these ports as well.
    pub fn connect(&self, ports: &[&str]) {
        for from in ports {
            // Another program's ports come one after the other.
            let give_up = Instant::now() + Duration::from_secs(10);
            while let Err(error) = self.client.as_client().connect_ports_by_name(from, &self.name) {
                assert!(Instant::now() < give_up, "{error}");
                std::thread::sleep(Duration::from_millis(20));
            }
        }
    }

    /// How many frames there are so far.
    pub fn frames(&self) -> usize {
        self.tape.slots()
    }

    /// All that was recorded.
    pub fn stop(mut self) -> Vec<f32> {
        let frames = self.tape.slots();
        (0..frames).map_while(|_| self.tape.pop().ok()).collect()
    }
}
