//! JACK, loaded when the program runs if it is there. The only file that names the jack crate.
//!
//! Every message is written on its exact frame. The server counts time by a clock of its own, which
//! differs from the system's by a constant; so each period's start is brought over to our clock by
//! reading both together.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, AtomicU32, AtomicU64, AtomicUsize, Ordering};
use std::sync::{Arc, mpsc};
use std::thread;
use std::time::{Duration, Instant};

use jack::{
    AsyncClient, Client, ClientOptions, ClientStatus, Control, Error, Frames, NotificationHandler,
    Port, PortFlags, PortId, PortSpec, ProcessHandler, ProcessScope, RawMidi,
};

use super::assembler::Assembler;
use super::backend::{Heard, InputPort, MidiBackend, OpenOutput, PortNames};
use super::band_frames::{BandAsker, BandTeller};
use super::cycle_starts::CycleStarts;
use super::jack_state::{OwnClient, Pulse};
use super::{MidiSystem, PortError, Way};
use crate::perform::Message;
use crate::sink::{
    Cycle, FrameQueue, FrameWriter, Losses, MidiOut, SendError, frame_queue, quietly,
};
use crate::time::Nanos;

/// The name that other programs see.
const CLIENT: &str = "openchair";

/// The name of the port under it that plays.
const PORT: &str = "band";

/// And of the one that listens.
const INPUT: &str = "in";

/// How long before its period a message is queued. Under load and without raised priority the
/// playing thread wakes up to 10 ms late; ten times that costs nothing, since what is queued can be
/// taken back.
const MARGIN: i64 = 100_000_000;

/// A server refuses a client while another is just being let in (one in ten was, with two at a time),
/// so ask it again for up to half a second.
const OPEN_TRIES: u32 = 10;
const OPEN_AGAIN: Duration = Duration::from_millis(50);

/// How long a server may take to let a client go; on a busy machine it was under half a second.
const ANSWER: Duration = Duration::from_secs(2);

/// How long the last messages get to leave.
const LEAVING: Duration = Duration::from_millis(500);

/// A running JACK server.
pub(super) struct Jack;

impl MidiBackend for Jack {
    fn system(&self) -> MidiSystem {
        MidiSystem::Jack
    }

    /// Without our own; none if JACK is not installed or no server runs.
    fn ports(&self) -> Result<PortNames, PortError> {
        let Some(client) = client() else { return Ok(PortNames::default()) };
        let spec = jack::MidiIn::default();
        let midi = spec.jack_port_type();
        let ports = |flags| {
            let mut names = client.ports(None, Some(midi), flags);
            names.retain(|name| !OwnClient::has(name));
            names
        };
        // A port that takes input is our output.
        let (outputs, inputs) = (ports(PortFlags::IS_INPUT), ports(PortFlags::IS_OUTPUT));
        Ok(PortNames { outputs, inputs })
    }

    fn is_running_server(&self) -> bool {
        client().is_some()
    }

    fn open_output(&self, name: &str, epoch: Instant) -> Result<OpenOutput, PortError> {
        let out = open(Some(name), epoch)?;
        // The server tells when a port goes.
        Ok(OpenOutput { out, name: name.to_owned(), watch: None })
    }

    fn open_virtual(&self, epoch: Instant) -> Result<Box<dyn MidiOut>, PortError> {
        open(None, epoch)
    }

    /// Each message has the time of its frame.
    fn open_input(
        &self,
        from: &str,
        epoch: Instant,
        heard: Heard,
    ) -> Result<Box<dyn InputPort>, PortError> {
        listen(from, epoch, heard)
    }
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
fn open(to: Option<&str>, epoch: Instant) -> Result<Box<dyn MidiOut>, PortError> {
    let way = Way::Output;
    let will_not = |cause: String| PortError::WillNotOpen {
        way,
        port: to.unwrap_or("openchair:band").to_owned(),
        cause,
    };
    let client = client_for(way, to)?;
    let own = OwnClient::new(client.name());
    let port = client
        .register_port(PORT, jack::MidiOut::default())
        .map_err(|error| will_not(error.to_string()))?;
    let name = port.name().map_err(|error| will_not(error.to_string()))?;
    let rate = client.sample_rate();
    let (queue, writer) = frame_queue(rate);
    let period = Arc::new(AtomicU32::new(client.buffer_size()));
    let peer = Peer::of(&client, to);
    let watch = Watch::new(&peer);
    let dropouts = Arc::clone(&watch.dropouts);
    let teller = BandTeller::new(epoch);
    let clock = PeriodClock::new(epoch, rate);
    let process = Process { port, writer, clock, period: Arc::clone(&period), teller };
    let client =
        client.activate_async(watch, process).map_err(|error| will_not(error.to_string()))?;
    if let Some(to) = to {
        client
            .as_client()
            .connect_ports_by_name(&name, to)
            .map_err(|error| will_not(error.to_string()))?;
    }
    Ok(Box::new(JackPort {
        client,
        queue,
        period,
        peer,
        dropouts,
        rate,
        pulse: Pulse::new(),
        _own: own,
    }))
}

/// A client to connect with a port that was there when it was listed.
fn client_for(way: Way, peer: Option<&str>) -> Result<Client, PortError> {
    let gone = |port: &str| PortError::Gone { way, port: port.to_owned() };
    let no_server = || match peer {
        Some(port) => gone(port),
        None => PortError::WillNotOpen {
            way,
            port: format!("{CLIENT}:{PORT}"),
            cause: "no JACK server answers".to_owned(),
        },
    };
    let client = client().ok_or_else(no_server)?;
    match peer {
        Some(port) if client.port_by_name(port).is_none() => Err(gone(port)),
        _ => Ok(client),
    }
}

/// Listens to the port of exactly that name. `heard` gets whole messages, each with the time of its
/// frame.
fn listen(from: &str, epoch: Instant, heard: Heard) -> Result<Box<dyn InputPort>, PortError> {
    let way = Way::Input;
    let will_not = |cause: Error| PortError::WillNotOpen {
        way,
        port: from.to_owned(),
        cause: cause.to_string(),
    };
    let client = client_for(way, Some(from))?;
    let own = OwnClient::new(client.name());
    let port = client.register_port(INPUT, jack::MidiIn::default()).map_err(will_not)?;
    let name = port.name().map_err(will_not)?;
    let peer = Peer::of(&client, Some(from));
    let cycles = Arc::<AtomicU64>::default();
    let rate = client.sample_rate();
    let ear = Ear {
        port,
        clock: PeriodClock::new(epoch, rate),
        rate,
        band: BandAsker::new(epoch, rate),
        cycles: Arc::clone(&cycles),
        assembler: Assembler::new(),
        heard,
    };
    let client = client.activate_async(Watch::new(&peer), ear).map_err(will_not)?;
    client.as_client().connect_ports_by_name(from, &name).map_err(will_not)?;
    Ok(Box::new(JackInput { client: Some(client), peer, cycles, pulse: Pulse::new(), _own: own }))
}

/// The port at the other end. A server that has died is known by its periods, which stop.
#[derive(Default)]
struct Peer {
    /// What the library calls it; 0 for none.
    handle: AtomicUsize,
    gone: AtomicBool,
}

impl Peer {
    fn of(client: &Client, name: Option<&str>) -> Arc<Self> {
        let handle =
            name.and_then(|name| client.port_by_name(name)).map_or(0, |it| it.raw().addr());
        Arc::new(Self { handle: AtomicUsize::new(handle), gone: AtomicBool::new(false) })
    }
}

/// Notes what the server tells of.
struct Watch {
    dropouts: Arc<AtomicU64>,
    peer: Arc<Peer>,
}

impl Watch {
    fn new(peer: &Arc<Peer>) -> Self {
        Self { dropouts: Arc::default(), peer: Arc::clone(peer) }
    }
}

impl NotificationHandler for Watch {
    fn xrun(&mut self, _: &Client) -> Control {
        self.dropouts.fetch_add(1, Ordering::Relaxed);
        Control::Continue
    }

    fn port_registration(&mut self, client: &Client, port: PortId, registered: bool) {
        // Only a port that goes: being disconnected by hand is the player's own doing.
        if registered {
            return;
        }
        let handle = client.port_by_id(port).map_or(0, |it| it.raw().addr());
        if handle != 0 && handle == self.peer.handle.load(Ordering::Relaxed) {
            self.peer.gone.store(true, Ordering::Relaxed);
        }
    }
}

struct Ear {
    port: Port<jack::MidiIn>,
    clock: PeriodClock,
    rate: u32,
    band: BandAsker,
    cycles: Arc<AtomicU64>,
    assembler: Assembler,
    heard: Heard,
}

impl ProcessHandler for Ear {
    fn process(&mut self, client: &Client, scope: &ProcessScope) -> Control {
        // By the band's own time where it plays to this server: what was heard of it is what was played to.
        let band = self.band.time_of(scope.last_frame_time());
        let start = self.clock.start(client, scope);
        let start = band.unwrap_or(start);
        for raw in self.port.iter(scope) {
            let after = i64::from(raw.time) * 1_000_000_000 / i64::from(self.rate.max(1));
            let at = Nanos(start.0.saturating_add(after));
            self.assembler.feed(raw.bytes, |message| (self.heard)(at, message));
        }
        self.cycles.fetch_add(1, Ordering::Relaxed);
        Control::Continue
    }
}

struct JackInput {
    client: Option<AsyncClient<Watch, Ear>>,
    peer: Arc<Peer>,
    cycles: Arc<AtomicU64>,
    pulse: Pulse,
    _own: OwnClient,
}

impl InputPort for JackInput {
    fn is_lost(&self) -> bool {
        self.peer.gone.load(Ordering::Relaxed)
            || self.pulse.has_stopped(self.cycles.load(Ordering::Relaxed))
    }
}

impl Drop for JackInput {
    fn drop(&mut self) {
        let client = self.client.take();
        take_down(client);
    }
}

/// Takes a client down, or leaves it where the server does not answer: it waits for that without end,
/// and nothing that must end can wait with it. The library prints when the server has died meanwhile.
fn take_down<N, P>(client: Option<AsyncClient<N, P>>)
where
    N: NotificationHandler + Send + Sync + 'static,
    P: ProcessHandler + Send + 'static,
{
    let (done, waited) = mpsc::channel::<()>();
    let work = move || {
        let _done = done;
        let _ = catch_unwind(AssertUnwindSafe(|| client.map(AsyncClient::deactivate)));
    };
    quietly(|| {
        // Where no thread can be had, the client goes with what was to run there: it is dropped here.
        if thread::Builder::new().name("openchair-jack".to_owned()).spawn(work).is_ok() {
            let _ = waited.recv_timeout(ANSWER);
        }
    });
}

struct Process {
    port: Port<jack::MidiOut>,
    writer: FrameWriter,
    clock: PeriodClock,
    period: Arc<AtomicU32>,
    teller: BandTeller,
}

impl ProcessHandler for Process {
    fn process(&mut self, client: &Client, scope: &ProcessScope) -> Control {
        let cycle = Cycle {
            first_frame: scope.last_frame_time(),
            frames: scope.n_frames(),
            starts_at: self.clock.start(client, scope),
        };
        let mut port = self.port.writer(scope);
        self.writer.cycle(cycle, |time, bytes| port.write(&RawMidi { time, bytes }).is_ok());
        if let Some((frame, at)) = self.writer.due_now() {
            self.teller.tell(frame, at);
        }
        Control::Continue
    }

    fn buffer_size(&mut self, _: &Client, frames: Frames) -> Control {
        self.period.store(frames, Ordering::Relaxed);
        Control::Continue
    }
}

/// When periods start, on our clock.
struct PeriodClock {
    epoch: Instant,
    starts: CycleStarts,
}

impl PeriodClock {
    fn new(epoch: Instant, rate: u32) -> Self {
        Self { epoch, starts: CycleStarts::new(rate) }
    }

    /// When this one does.
    fn start(&mut self, client: &Client, scope: &ProcessScope) -> Nanos {
        let woken = i64::try_from(self.epoch.elapsed().as_nanos()).unwrap_or(i64::MAX);
        let told = told_start(self.epoch, client, scope);
        Nanos(self.starts.at(scope.last_frame_time(), told, woken))
    }
}

/// When the server says that the period starts, in nanoseconds on our clock.
fn told_start(epoch: Instant, client: &Client, scope: &ProcessScope) -> i64 {
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
    i64::try_from(started).unwrap_or(i64::MAX).saturating_mul(1000).saturating_add(offset)
}

struct JackPort {
    client: AsyncClient<Watch, Process>,
    queue: FrameQueue,
    /// Frames in a period.
    period: Arc<AtomicU32>,
    peer: Arc<Peer>,
    dropouts: Arc<AtomicU64>,
    rate: u32,
    pulse: Pulse,
    _own: OwnClient,
}

impl MidiOut for JackPort {
    fn ahead(&self) -> Nanos {
        let period = i64::from(self.period.load(Ordering::Relaxed));
        Nanos(MARGIN + 2 * period * 1_000_000_000 / i64::from(self.rate.max(1)))
    }

    fn send(&mut self, due: Nanos, message: Message) -> Result<(), SendError> {
        let pushed = self.queue.push(due, message);
        if !pushed || self.pulse.has_stopped(self.queue.cycles()) {
            return Err(SendError::ServerStopped);
        }
        Ok(())
    }

    fn guard(&self) -> Nanos {
        self.queue.guard(self.period.load(Ordering::Relaxed))
    }

    fn take_back(&mut self, from: Nanos) {
        self.queue.take_back(from);
    }

    fn is_lost(&self) -> bool {
        self.peer.gone.load(Ordering::Relaxed) || self.pulse.has_stopped(self.queue.cycles())
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
        take_down(Some(self.client));
    }
}
