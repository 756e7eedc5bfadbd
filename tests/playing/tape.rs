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
    /// All that was recorded so far.
    pub heard: Vec<f32>,
}

impl Tape {
    /// Records the sum of these ports from now on.
    pub fn of(ports: &[&str]) -> Self {
        let client = started("tape");
        let port = client.register_port("in", AudioIn::default()).unwrap();
        let name = port.name().unwrap();
        let (producer, tape) = RingBuffer::new(ROOM);
        let client = client.activate_async((), Head { port, tape: producer }).unwrap();
        let tape = Self { client, tape, name, heard: Vec::new() };
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

    /// Takes in what has come since.
    pub fn listen(&mut self) -> &[f32] {
        while let Ok(sample) = self.tape.pop() {
            self.heard.push(sample);
        }
        &self.heard
    }

    /// Records until `enough` has been heard.
    pub fn until(&mut self, enough: impl Fn(&[f32]) -> bool) {
        let give_up = Instant::now() + Duration::from_secs(60);
        while !enough(self.listen()) {
            assert!(Instant::now() < give_up, "never heard, in {} frames", self.heard.len());
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    /// Records until something sounds, and so many frames more.
    pub fn until_sound(&mut self, more: usize) {
        self.until(|heard| {
            let begin = heard.iter().position(|x| x.abs() > 0.01);
            begin.is_some_and(|at| heard.len() >= at + more)
        });
    }
}
