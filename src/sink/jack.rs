//! JACK, loaded when the program runs if it is there. The only file that names the jack crate.
//!
//! Every message is written on its exact frame. The server counts time by a clock of its own, which
//! differs from the system's by a constant; so each period's start is brought over to our clock by
//! reading both together.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, AtomicU64, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use jack::{
    AsyncClient, Client, ClientOptions, ClientStatus, Control, Error, Frames, NotificationHandler,
    Port, PortFlags, PortSpec, ProcessHandler, ProcessScope, RawMidi,
};

use super::{
    Cycle, FrameQueue, FrameWriter, Losses, MidiOut, PortError, frame_guard, frame_queue, quietly,
};
use crate::perform::Message;
use crate::time::Nanos;

/// The name that other programs see.
const CLIENT: &str = "openchair";

/// The name of the port under it.
const PORT: &str = "band";

/// How long before its period a message is queued. Under load and without raised priority the
/// playing thread wakes up to 10 ms late; ten times that costs nothing, since what is queued can be
/// taken back.
const MARGIN: i64 = 100_000_000;

/// A server that runs no period for this long has died or lost its device (it says so only to code
/// that must run as a signal handler); the longest period, 8,192 frames at 44.1 kHz, is 0.19 s.
const STOPPED: Duration = Duration::from_secs(1);

/// A server refuses a client while another is just being let in (one in ten was, with two at a time),
/// so ask it again for up to half a second.
const OPEN_TRIES: u32 = 10;
const OPEN_AGAIN: Duration = Duration::from_millis(50);

/// How long the last messages get to leave.
const LEAVING: Duration = Duration::from_millis(500);

/// The MIDI ports of a running server that can be played to, and those that play. None if JACK is
/// not installed or no server runs.
pub(super) fn ports() -> Option<(Vec<String>, Vec<String>)> {
    let client = client()?;
    let spec = jack::MidiIn::default();
    let midi = spec.jack_port_type();
    let ports = |flags| client.ports(None, Some(midi), flags);
    // A port that takes input is our output.
    Some((ports(PortFlags::IS_INPUT), ports(PortFlags::IS_OUTPUT)))
}

fn client() -> Option<Client> {
    for _ in 0..OPEN_TRIES {
        // A libjack that lacks a function makes the crate panic; to us it is a JACK that isn't there.
        match catch_unwind(|| Client::new(CLIENT, ClientOptions::NO_START_SERVER)) {
            Ok(Ok((client, _))) => return Some(client),
            // A server is there but refused.
            Ok(Err(Error::ClientError(status))) if status.contains(ClientStatus::SERVER_ERROR) => {
                thread::sleep(OPEN_AGAIN);
            }
            Ok(Err(_)) | Err(_) => return None,
        }
    }
    None
}

/// Opens a port of our own, connected to the input of exactly that name if one is given.
pub(super) fn open(to: Option<&str>, epoch: Instant) -> Result<Box<dyn MidiOut>, PortError> {
    let will_not = |cause: String| PortError::WillNotOpen {
        port: to.unwrap_or("openchair:band").to_owned(),
        cause,
    };
    let client = client().ok_or_else(|| will_not("no JACK server answers".to_owned()))?;
    let port = client
        .register_port(PORT, jack::MidiOut::default())
        .map_err(|error| will_not(error.to_string()))?;
    let name = port.name().map_err(|error| will_not(error.to_string()))?;
    let rate = client.sample_rate();
    let (queue, writer) = frame_queue(rate);
    let period = Arc::new(AtomicU32::new(client.buffer_size()));
    let dropouts = Arc::new(AtomicU64::new(0));
    let process = Process { port, writer, epoch, period: Arc::clone(&period) };
    let client = client
        .activate_async(Watch(Arc::clone(&dropouts)), process)
        .map_err(|error| will_not(error.to_string()))?;
    if let Some(to) = to {
        client
            .as_client()
            .connect_ports_by_name(&name, to)
            .map_err(|error| will_not(error.to_string()))?;
    }
    let seen = (queue.cycles(), Instant::now());
    Ok(Box::new(JackPort { client, queue, period, dropouts, rate, seen }))
}

/// Counts what the server tells of.
struct Watch(Arc<AtomicU64>);

impl NotificationHandler for Watch {
    fn xrun(&mut self, _: &Client) -> Control {
        self.0.fetch_add(1, Ordering::Relaxed);
        Control::Continue
    }
}

struct Process {
    port: Port<jack::MidiOut>,
    writer: FrameWriter,
    epoch: Instant,
    period: Arc<AtomicU32>,
}

impl ProcessHandler for Process {
    fn process(&mut self, client: &Client, scope: &ProcessScope) -> Control {
        let cycle = Cycle {
            first_frame: scope.last_frame_time(),
            frames: scope.n_frames(),
            starts_at: start_of(self.epoch, client, scope),
        };
        let mut port = self.port.writer(scope);
        self.writer.cycle(cycle, |time, bytes| port.write(&RawMidi { time, bytes }).is_ok());
        Control::Continue
    }

    fn buffer_size(&mut self, _: &Client, frames: Frames) -> Control {
        self.period.store(frames, Ordering::Relaxed);
        Control::Continue
    }
}

/// When the period starts, on our clock.
fn start_of(epoch: Instant, client: &Client, scope: &ProcessScope) -> Nanos {
    let ours = || i64::try_from(epoch.elapsed().as_nanos()).unwrap_or(i64::MAX);
    // Both clocks read within 10 µs of each other, or the closest of three tries: the thread may
    // have been put aside between the readings.
    let mut closest = i64::MAX;
    let mut offset = 0;
    for _ in 0..3 {
        let before = ours();
        let theirs = i64::try_from(client.time()).unwrap_or(i64::MAX).saturating_mul(1000);
        let apart = ours() - before;
        if apart < closest {
            closest = apart;
            offset = before + apart / 2 - theirs;
        }
        if closest < 10_000 {
            break;
        }
    }
    let started = match scope.cycle_times() {
        Ok(times) => times.current_usecs,
        // An old server keeps no such times: count back from now.
        Err(_) => client.frames_to_time(scope.last_frame_time()),
    };
    Nanos(i64::try_from(started).unwrap_or(i64::MAX).saturating_mul(1000).saturating_add(offset))
}

struct JackPort {
    client: AsyncClient<Watch, Process>,
    queue: FrameQueue,
    /// Frames in a period.
    period: Arc<AtomicU32>,
    dropouts: Arc<AtomicU64>,
    rate: u32,
    /// The last count of periods and when it was new.
    seen: (u64, Instant),
}

impl MidiOut for JackPort {
    fn ahead(&self) -> Nanos {
        let period = i64::from(self.period.load(Ordering::Relaxed));
        Nanos(MARGIN + 2 * period * 1_000_000_000 / i64::from(self.rate.max(1)))
    }

    fn send(&mut self, due: Nanos, message: Message) -> Result<(), PortError> {
        let cycles = self.queue.cycles();
        let pushed = self.queue.push(due, message);
        if cycles != self.seen.0 {
            self.seen = (cycles, Instant::now());
        } else if self.seen.1.elapsed() > STOPPED {
            return Err(PortError::ServerStopped);
        }
        if !pushed {
            return Err(PortError::ServerStopped);
        }
        Ok(())
    }

    fn guard(&self) -> Nanos {
        frame_guard(self.rate, self.period.load(Ordering::Relaxed))
    }

    fn take_back(&mut self, from: Nanos) {
        self.queue.take_back(from);
    }

    fn losses(&self) -> Losses {
        Losses { dropouts: self.dropouts.load(Ordering::Relaxed), late: self.queue.late() }
    }

    fn close(self: Box<Self>) {
        let give_up = Instant::now() + LEAVING;
        let pause = || thread::sleep(Duration::from_millis(1));
        while !self.queue.is_empty() && Instant::now() < give_up {
            pause();
        }
        // What was written is with its reader once the next period has begun.
        let written_in = self.queue.cycles();
        while self.queue.cycles() < written_in + 2 && Instant::now() < give_up {
            pause();
        }
        // The library prints when the server has died meanwhile.
        quietly(|| {
            let _ = catch_unwind(AssertUnwindSafe(|| self.client.deactivate()));
        });
    }
}
