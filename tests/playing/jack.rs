//! A JACK server without a device, and a client that writes down which frame each message came in.
#![allow(dead_code, missing_docs, clippy::unwrap_used, clippy::panic)]

use std::env;
use std::io::{ErrorKind, Write};
use std::path::Path;
use std::process::{Command, ExitStatus, Output, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{self, RecvTimeoutError};
use std::time::{Duration, Instant};

use jack::{
    AsyncClient, Client, ClientOptions, Control, MidiIn, MidiOut, Port, ProcessHandler,
    ProcessScope, RawMidi,
};
use openchair::sink::quietly;
use rtrb::{Consumer, Producer, RingBuffer};

use super::leash::Leash;
use super::turn::{APART, INSIDE, Turn, apart, turn, turn_alone, turn_beside_others};

/// The server's process id, for the child.
pub const SERVER_PID: &str = "OPENCHAIR_TEST_SERVER_PID";

/// Ends with its owner.
pub struct Server {
    leash: Option<Leash>,
    name: String,
}

impl Server {
    /// Starts one of its own name, so that it meets no other. None if JACK isn't installed.
    pub fn start(test: &str, period: u32) -> Option<Self> {
        // JACK parts names by colons.
        let name = test.rsplit("::").next().unwrap_or(test);
        Self::named(test, &format!("openchair-{name}-{}", std::process::id()), period)
    }

    /// Starts the default server of this process again, which has died.
    pub fn start_again(test: &str, period: u32) -> Option<Self> {
        Self::named(test, &env::var("JACK_DEFAULT_SERVER").unwrap(), period)
    }

    fn named(test: &str, name: &str, period: u32) -> Option<Self> {
        free_the_places_of_the_dead();
        match server(name, period) {
            Ok(leash) => Some(Self { leash: Some(leash), name: name.to_owned() }),
            Err(error) => {
                // Not by a macro, which the test runner would swallow.
                let why = match error.kind() {
                    ErrorKind::NotFound => "jackd is not installed".to_owned(),
                    _ => format!("jackd does not start: {error}"),
                };
                let _ = writeln!(std::io::stderr(), "{test}: skipped, {why}");
                None
            }
        }
    }
}

fn server(name: &str, period: u32) -> std::io::Result<Leash> {
    let real_time = if is_root() { ["-R", "-P70"].as_slice() } else { ["-r"].as_slice() };
    let mut command = Command::new("jackd");
    command
        .args(real_time)
        .args(["-n", name, "-d", "dummy", "-r", "48000", "-p", &period.to_string()])
        .env("JACK_NO_AUDIO_RESERVATION", "1");
    Leash::start(&command)
}

/// Where JACK counts the servers of a machine, eight at most (1.9). One that was killed keeps its place
/// until a server of its name comes and goes.
const PLACES: &str = "/dev/shm/jack-shm-registry";

/// The names of servers of tests that have a place.
fn places() -> Vec<String> {
    let places = std::fs::read(PLACES).unwrap_or_default();
    let words = places.split(|byte| !byte.is_ascii_graphic());
    let words = words.filter_map(|word| std::str::from_utf8(word).ok());
    // "jack-USER:NAME:", and what stands before it may look like letters.
    let names = words.filter_map(|word| word.split_once("jack-")?.1.split(':').nth(1));
    names.filter(|name| name.starts_with("openchair-")).map(str::to_owned).collect()
}

/// Where tests were killed, and their servers with them, JACK would soon start no more.
fn free_the_places_of_the_dead() {
    for name in places() {
        let test = name.rsplit_once('-').and_then(|(_, pid)| pid.parse::<u32>().ok());
        if test.is_some_and(|pid| !Path::new(&format!("/proc/{pid}")).exists()) {
            free(&name);
        }
    }
}

fn free(name: &str) {
    // Where one of that name lives after all, this one ends by itself.
    if let Ok(again) = server(name, 1024) {
        std::thread::sleep(Duration::from_millis(500));
        drop(again);
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        drop(self.leash.take());
        if places().contains(&self.name) {
            free(&self.name);
        }
        // A server that died under its clients leaves theirs.
        for file in std::fs::read_dir("/dev/shm").into_iter().flatten().flatten() {
            if file.file_name().to_string_lossy().contains(&self.name) {
                let _ = std::fs::remove_file(file.path());
            }
        }
    }
}

fn is_root() -> bool {
    let id = Command::new("id").arg("-u").output();
    id.is_ok_and(|output| output.stdout == b"0\n")
}

pub fn signal(pid: u32, name: &str) {
    assert!(send(pid, name).unwrap().success(), "kill -{name} {pid}");
}

/// By the shell's own `kill`: a small system has no program of that name.
fn send(pid: u32, name: &str) -> std::io::Result<ExitStatus> {
    Command::new("sh").args(["-c", &format!("kill -{name} {pid}")]).status()
}

/// True in the child.
pub fn is_inside(test: &str) -> bool {
    env::var(INSIDE).is_ok_and(|name| name == test)
}

/// This test binary again, running one test in the role that `inside` names.
pub fn again(test: &str, inside: &str) -> Command {
    let mut command = Command::new(env::current_exe().unwrap());
    command.args(ONE).arg(test).env(INSIDE, inside);
    command
}

/// What the runner is told, to run one test in sight; its name comes next.
const ONE: [&str; 3] = ["--nocapture", "--test-threads=1", "--exact"];

/// Runs `test` in a child with a server of its own, and beside as few as measure time; the child's failure is
/// the test's.
pub fn with_server(test: &str, period: u32) {
    in_a_world_of_its_own(test, period, turn);
}

/// The same for what measures no time closely: beside others of its kind.
pub fn with_server_beside_others(test: &str, period: u32) {
    in_a_world_of_its_own(test, period, turn_beside_others);
}

/// The same for what needs the whole machine: with a program beside it that reckons all the time.
pub fn with_server_alone(test: &str, period: u32) {
    in_a_world_of_its_own(test, period, turn_alone);
}

/// As far as the system lets servers be kept apart; where it does not, alone.
fn in_a_world_of_its_own(test: &str, period: u32, turn: fn() -> Turn) {
    if env::var_os(APART).is_some() {
        return with_server_now(test, period);
    }
    if let Some(mut apart) = apart(&env::current_exe().unwrap()) {
        let _turn = turn();
        // Which comes here once more, and then starts its server.
        passed(ends(apart.args(ONE).arg(test)));
    } else {
        let _turn = turn_alone();
        with_server_now(test, period);
    }
}

fn with_server_now(test: &str, period: u32) {
    let Some(server) = Server::start(test, period) else { return };
    let mut child = again(test, test);
    let pid = server.leash.as_ref().map_or(0, |leash| leash.pid);
    child.env("JACK_DEFAULT_SERVER", &server.name).env(SERVER_PID, pid.to_string());
    passed(ends(&mut child));
}

/// For a whole program: runs it again, with these arguments and a server of its own; there,
/// [`is_inside`] says so. None if JACK isn't installed, which has been said.
pub fn with_server_again(name: &str, period: u32, arguments: &[&str]) -> Option<ExitStatus> {
    let _turn = turn_alone();
    let server = Server::start(name, period)?;
    let mut again = Command::new(env::current_exe().unwrap());
    again.args(arguments).env(INSIDE, name).env("JACK_DEFAULT_SERVER", &server.name);
    Some(again.status().unwrap())
}

/// What it says until it ends, or until it has hung for longer than any test takes.
fn ends(command: &mut Command) -> Output {
    let child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let id = child.id();
    let (done, waits) = mpsc::channel::<()>();
    let watch = std::thread::spawn(move || {
        if waits.recv_timeout(Duration::from_secs(150)) == Err(RecvTimeoutError::Timeout) {
            let _ = send(id, "KILL");
        }
    });
    let output = child.wait_with_output().unwrap();
    drop(done);
    watch.join().unwrap();
    output
}

pub fn passed(output: Output) {
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    let (out, err) = (text(&output.stdout), text(&output.stderr));
    assert!(output.status.success(), "{out}\n{err}");
    // The runner exits well even when no test has that name.
    assert!(out.contains("1 passed"), "{out}\n{err}");
    // The runner puts its own words before it.
    for (_, measured) in out.lines().filter_map(|line| line.split_once("measured: ")) {
        let _ = writeln!(std::io::stderr(), "{measured}");
    }
    for skipped in err.lines().filter(|line| line.contains(": skipped, ")) {
        let _ = writeln!(std::io::stderr(), "{skipped}");
    }
}

/// A message and the frame it came in.
#[derive(Clone, Copy, Debug)]
pub struct Heard {
    pub frame: u32,
    /// When that was by the server's clock, which is the system's less a constant.
    pub micros: u64,
    pub bytes: [u8; 3],
    pub length: usize,
}

struct Ear {
    port: Port<MidiIn>,
    rate: u64,
    heard: Producer<Heard>,
    periods: Arc<AtomicUsize>,
}

impl ProcessHandler for Ear {
    fn process(&mut self, _: &Client, scope: &ProcessScope) -> Control {
        let first = scope.last_frame_time();
        let begun = scope.cycle_times().map_or(0, |times| times.current_usecs);
        for raw in self.port.iter(scope) {
            let mut bytes = [0; 3];
            let length = raw.bytes.len().min(3);
            bytes[..length].copy_from_slice(&raw.bytes[..length]);
            let frame = first.wrapping_add(raw.time);
            let micros = begun + u64::from(raw.time) * 1_000_000 / self.rate;
            let _ = self.heard.push(Heard { frame, micros, bytes, length });
        }
        self.periods.fetch_add(1, Ordering::Release);
        Control::Continue
    }
}

/// A client, once the server runs.
pub fn started(name: &str) -> Client {
    let give_up = Instant::now() + Duration::from_secs(10);
    loop {
        match quietly(|| Client::new(name, ClientOptions::NO_START_SERVER)) {
            Ok((client, _)) => return client,
            Err(error) => assert!(Instant::now() < give_up, "no server: {error}"),
        }
        std::thread::sleep(Duration::from_millis(10));
    }
}

pub struct Listener {
    client: AsyncClient<(), Ear>,
    heard: Consumer<Heard>,
    periods: Arc<AtomicUsize>,
    pub all: Vec<Heard>,
}

impl Listener {
    /// Waits until the server runs, then listens on the port "NAME:in".
    pub fn new(name: &str) -> Self {
        Self::with_room(name, 1 << 16)
    }

    /// With room for so many messages between two looks.
    pub fn with_room(name: &str, room: usize) -> Self {
        let client = started(name);
        let port = client.register_port("in", MidiIn::default()).unwrap();
        let (producer, consumer) = RingBuffer::new(room);
        let rate = u64::from(client.sample_rate());
        let periods = Arc::default();
        let ear = Ear { port, rate, heard: producer, periods: Arc::clone(&periods) };
        let client = client.activate_async((), ear).unwrap();
        Self { client, heard: consumer, periods, all: Vec::new() }
    }

    pub fn client(&self) -> &Client {
        self.client.as_client()
    }

    /// The next message, which is not kept.
    pub fn next(&mut self) -> Option<Heard> {
        self.heard.pop().ok()
    }

    /// Takes in what has come since.
    pub fn listen(&mut self) -> &[Heard] {
        while let Ok(heard) = self.heard.pop() {
            self.all.push(heard);
        }
        &self.all
    }

    /// The notes that sound: channel and pitch.
    pub fn sounding(&mut self) -> Vec<(u8, u8)> {
        let mut on = Vec::new();
        for heard in self.listen() {
            let note = (heard.bytes[0] & 15, heard.bytes[1]);
            match heard.bytes[0] & 0xF0 {
                0x90 => on.push(note),
                0x80 => on.retain(|&other| other != note),
                _ => {}
            }
        }
        on
    }

    /// Waits until all has come that was sent before now: the server has gone round several times.
    pub fn catch_up(&mut self) -> &[Heard] {
        let enough = self.periods.load(Ordering::Acquire) + 4;
        let longest = Duration::from_secs(10);
        assert!(
            self.until(longest, |it| it.periods.load(Ordering::Acquire) >= enough),
            "it stands"
        );
        self.listen()
    }

    /// Listens until `enough`; false after `longest`.
    pub fn until(&mut self, longest: Duration, mut enough: impl FnMut(&mut Self) -> bool) -> bool {
        let give_up = Instant::now() + longest;
        while !enough(self) {
            if Instant::now() > give_up {
                return false;
            }
            std::thread::sleep(Duration::from_millis(1));
        }
        true
    }
}

struct Mouth {
    ports: Vec<Port<MidiOut>>,
    said: Consumer<(usize, Vec<u8>)>,
    /// When each was written, in frames; the offset within the period goes up by one each.
    written: Producer<u32>,
}

impl ProcessHandler for Mouth {
    fn process(&mut self, _: &Client, scope: &ProcessScope) -> Control {
        let mut writers: Vec<_> = self.ports.iter_mut().map(|port| port.writer(scope)).collect();
        let mut time = 0;
        while let Ok((port, bytes)) = self.said.pop() {
            time = (time + 1).min(scope.n_frames() - 1);
            writers[port].write(&RawMidi { time, bytes: &bytes }).unwrap();
            let _ = self.written.push(scope.last_frame_time().wrapping_add(time));
        }
        Control::Continue
    }
}

/// A client that plays, with ports "NAME:out 1" and so on.
pub struct Sender {
    client: AsyncClient<(), Mouth>,
    say: Producer<(usize, Vec<u8>)>,
    pub written: Consumer<u32>,
}

impl Sender {
    pub fn new(name: &str, ports: usize) -> Self {
        let client = started(name);
        let port = |number| client.register_port(&format!("out {number}"), MidiOut::default());
        let ports = (1..=ports).map(|number| port(number).unwrap()).collect();
        let (say, said) = RingBuffer::new(1 << 12);
        let (written_in, written) = RingBuffer::new(1 << 12);
        let client = client.activate_async((), Mouth { ports, said, written: written_in }).unwrap();
        Self { client, say, written }
    }

    pub fn client(&self) -> &Client {
        self.client.as_client()
    }

    /// Sends bytes through the first port, in the next period.
    pub fn say(&mut self, bytes: &[u8]) {
        self.say.push((0, bytes.to_vec())).unwrap();
    }
}
