//! The built-in sound as an output of messages: each is heard at its time, however the device's word
//! for its delay wavers. The device is made up; an hour of it takes a moment.

use std::sync::{Arc, Mutex};
use std::time::Instant;

use openchair::perform::Message;
use openchair::sink::{AT_ONCE, LiveSource, Losses, MidiOut, SoundPort, Volume};
use openchair::synth::{LiveRenderer, QUANTUM, Renderer};
use openchair::theory::MidiNote;
use openchair::time::Nanos;

const RATE: u32 = 48_000;
const PERIOD: usize = 960;
const MILLI: i64 = 1_000_000;

/// What a renderer was told, each with the frame that it is heard on.
type Taken = Arc<Mutex<Vec<(u64, Message)>>>;

/// A renderer that writes down what it is told, and reckons two blocks ahead as the band's does.
struct Ears {
    position: u64,
    taken: Taken,
}

impl Renderer for Ears {
    fn render(&mut self, left: &mut [f32], right: &mut [f32]) {
        left.fill(0.5);
        right.fill(0.5);
        self.position += left.len() as u64;
    }
    fn sample_rate(&self) -> u32 {
        RATE
    }
    fn position_frames(&self) -> u64 {
        self.position
    }
    fn total_frames(&self) -> u64 {
        u64::MAX
    }
    fn finished(&self) -> bool {
        false
    }
    fn silence(&mut self) {}
}

impl LiveRenderer for Ears {
    fn reckoned(&self) -> u64 {
        if self.position == 0 { 0 } else { self.reckoned_after(0) }
    }
    fn reckoned_after(&self, frames: usize) -> u64 {
        let block = QUANTUM as u64;
        (self.position + frames as u64).div_ceil(block) * block + block
    }
    fn take(&mut self, frame: u64, message: Message) -> bool {
        self.taken.lock().unwrap().push((frame, message));
        true
    }
}

/// A device that plays `skew` parts in a million slow, and whose word for its delay wavers.
struct Device {
    source: LiveSource,
    taken: Taken,
    skew: f64,
    jitter: i64,
    latency: i64,
    /// The first frame of the next callback, and when it will be heard in truth.
    frame: u64,
    heard: f64,
    /// Where each stretch without a break begins, and when.
    stretches: Vec<(u64, f64)>,
    random: u32,
}

impl Device {
    fn new(skew: f64, jitter: i64) -> (Self, SoundPort) {
        let taken = Taken::default();
        let ears = Ears { position: 0, taken: Arc::clone(&taken) };
        let volume = Volume::default();
        let form = (1, PERIOD as u32);
        let (port, source) =
            SoundPort::new(Box::new(ears), "made up", form, &volume, Instant::now());
        let stretches = vec![(0, 0.0)];
        let (frame, heard, latency) = (0, 0.0, 45 * MILLI);
        let device =
            Self { source, taken, skew, jitter, latency, frame, heard, stretches, random: 1 };
        (device, port)
    }

    /// Uniform in ± the jitter.
    fn wavers(&mut self) -> i64 {
        self.random = self.random.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        i64::from(self.random >> 8) * 2 * self.jitter / (1 << 24) - self.jitter
    }

    fn now(&self) -> Nanos {
        Nanos(self.heard as i64 - self.latency)
    }

    fn call(&mut self) -> Vec<f32> {
        let mut samples = vec![0.0_f32; PERIOD];
        let (now, wavers) = (self.now(), self.wavers());
        let told = Nanos(self.heard as i64 + wavers);
        self.source.fill(&mut samples, (now, told), |x| x, 0.0);
        self.frame += PERIOD as u64;
        self.heard += self.nanos(PERIOD as u64);
        samples
    }

    fn nanos(&self, frames: u64) -> f64 {
        frames as f64 * 1e9 / f64::from(RATE) * (1.0 + self.skew * 1e-6)
    }

    /// The device stops for that long.
    fn breaks_off(&mut self, nanos: i64) {
        self.heard += nanos as f64;
        self.stretches.push((self.frame, self.heard));
    }

    /// When a frame is heard in truth.
    fn heard(&self, frame: u64) -> f64 {
        let at = self.stretches.partition_point(|(first, _)| *first <= frame);
        let (first, heard) = self.stretches[at - 1];
        heard + self.nanos(frame - first)
    }
}

fn note(number: usize) -> Message {
    let pitch = MidiNote::new((number % 128) as u8).unwrap();
    Message::NoteOn { channel: 0, pitch, velocity: 64 }
}

/// How far off its time each of a row of messages was heard, in milliseconds, with when it was due.
/// One comes every 10.37 ms, from `from` milliseconds on; the device breaks off for `breaks.1` at
/// `breaks.0`.
fn errors(
    (skew, jitter): (f64, i64),
    from: i64,
    seconds: i64,
    breaks: Option<(i64, i64)>,
) -> (Vec<(i64, f64)>, Losses) {
    let (mut device, mut port) = Device::new(skew, jitter);
    let mut due = Vec::new();
    let mut next = Nanos(from * MILLI);
    let mut broken = false;
    while device.now().0 < seconds * 1_000 * MILLI {
        if let Some((at, lasts)) = breaks
            && !broken
            && device.now().0 > at
        {
            device.breaks_off(lasts);
            broken = true;
        }
        while next.0 < device.now().0 + port.ahead().0 {
            port.send(next, note(due.len())).unwrap();
            due.push(next);
            next.0 += 10_370_000;
        }
        device.call();
    }
    let taken = device.taken.lock().unwrap();
    assert!(taken.len() > due.len() - 40);
    let pairs = taken.iter().zip(due).enumerate();
    let errors = pairs.map(|(number, ((frame, message), due))| {
        assert_eq!(*message, note(number), "in order, none lost or doubled");
        (due.0, (device.heard(*frame) - due.0 as f64) / MILLI as f64)
    });
    (errors.collect(), port.losses())
}

/// The p99 and the worst of the errors, without their signs.
fn p99_and_worst(errors: impl Iterator<Item = f64>) -> (f64, f64) {
    let mut sizes: Vec<f64> = errors.map(f64::abs).collect();
    sizes.sort_by(f64::total_cmp);
    (sizes[sizes.len() * 99 / 100], sizes[sizes.len() - 1])
}

#[test]
fn an_hour_is_heard_on_time() {
    for (skew, seconds) in [(100.0, 3_600), (-100.0, 900)] {
        let broke = seconds * 500 * MILLI;
        let (errors, losses) = errors((skew, 5 * MILLI), 1_000, seconds, Some((broke, 60 * MILLI)));
        let all = p99_and_worst(errors.iter().map(|error| error.1));
        // After the start and the break the device has to be heard out for a while.
        let settled = errors.iter().filter(|(due, _)| {
            *due > 6_000 * MILLI && !(broke - 200 * MILLI..broke + 5_000 * MILLI).contains(due)
        });
        let settled = p99_and_worst(settled.map(|error| error.1));
        let start = errors.iter().take_while(|(due, _)| *due < 6_000 * MILLI);
        let start = p99_and_worst(start.map(|error| error.1));
        let after = errors
            .iter()
            .filter(|(due, _)| (broke + 200 * MILLI..broke + 5_000 * MILLI).contains(due));
        let after = p99_and_worst(after.map(|error| error.1));
        println!(
            "{skew:+} ppm, ±5 ms (p99, worst in ms): all {all:.3?}, settled {settled:.3?}, first 5 s \
             {start:.3?}, 0.2 to 5 s after a break of 60 ms {after:.3?}"
        );
        assert!(all.0 < 1.0 && settled.1 < 1.0, "{skew}: all {all:?}, settled {settled:?}");
        assert!(start.1 < 2.0 && after.1 < 5.0, "{skew}: {start:?} {after:?}");
        // What was to be heard in the break comes after it, late: nothing else does.
        assert!(losses.late <= 10, "{losses:?}");
    }
}

#[test]
fn with_a_device_that_tells_the_time_well_all_is_exact_from_the_start() {
    let (errors, losses) = errors((40.0, MILLI / 10), 300, 600, None);
    let (p99, worst) = p99_and_worst(errors.iter().map(|error| error.1));
    println!("+40 ppm, ±0.1 ms: p99 {p99:.3}, worst {worst:.3} ms");
    assert!(worst < 0.5 && losses == Losses::default(), "{worst} {losses:?}");
    // Neighbours keep their distance but for a frame.
    for pair in errors.windows(2) {
        assert!((pair[1].1 - pair[0].1).abs() < 0.045, "{pair:?}");
    }
}

#[test]
fn what_is_taken_back_is_not_heard_and_what_replaces_it_is_on_time() {
    let (mut device, mut port) = Device::new(0.0, MILLI);
    for _ in 0..100 {
        device.call();
    }
    let now = device.now();
    for number in 0..20 {
        port.send(Nanos(now.0 + number * 10 * MILLI), note(number as usize)).unwrap();
    }
    let cut = Nanos(now.0 + port.guard().0);
    assert!(port.guard() < port.ahead() && port.guard().0 < 120 * MILLI, "{:?}", port.guard());
    port.take_back(cut);
    port.send(cut, note(100)).unwrap();
    port.send(AT_ONCE, note(101)).unwrap();
    for _ in 0..40 {
        device.call();
    }
    let heard: Vec<(i64, Message)> = device
        .taken
        .lock()
        .unwrap()
        .iter()
        .map(|(frame, message)| (device.heard(*frame) as i64, *message))
        .collect();
    for (number, (at, message)) in heard.iter().enumerate().take(heard.len() - 2) {
        assert_eq!(*message, note(number));
        let late = *at - (now.0 + number as i64 * 10 * MILLI);
        // The first were due before what was already rendered.
        assert!(late.abs() < 2 * MILLI || number < 8, "{number}: {late}");
    }
    let [.., (replaced, one), (_, two)] = heard.as_slice() else { panic!() };
    assert_eq!((*one, *two), (note(100), note(101)));
    assert!((replaced - cut.0).abs() < 2 * MILLI, "{replaced} for {cut:?}");
    assert!(heard.len() < 20);
}

#[test]
fn delay_is_followed_and_its_growth_makes_nothing_late() {
    let (mut device, mut port) = Device::new(0.0, MILLI / 10);
    let (mut next, mut sent) = (Nanos(500 * MILLI), 0);
    let mut aheads = Vec::new();
    for callback in 0..2_000 {
        // A server makes its buffers longer: the frames now rendered are heard later.
        if callback == 1_000 {
            device.latency += 60 * MILLI;
            device.breaks_off(60 * MILLI);
        }
        while next.0 < device.now().0 + port.ahead().0 {
            port.send(next, note(sent)).unwrap();
            sent += 1;
            next.0 += 10_370_000;
        }
        aheads.push(port.ahead().0);
        device.call();
    }
    assert!(aheads[1_999] - aheads[900] > 55 * MILLI);
    assert!(port.losses().late < 10, "{:?}", port.losses());
}

#[test]
fn the_volume_is_turned_without_a_click() {
    let taken = Taken::default();
    let volume = Volume::default();
    let ears = Box::new(Ears { position: 0, taken });
    let form = (1, PERIOD as u32);
    let (_port, mut source) = SoundPort::new(ears, "made up", form, &volume, Instant::now());
    let mut fill = || {
        let mut samples = vec![0.0_f32; PERIOD];
        source.fill(&mut samples, (Nanos(0), Nanos(0)), |x| x, 0.0);
        samples
    };
    assert_eq!(fill(), vec![0.5; PERIOD]);
    volume.set(50);
    let turned = fill();
    assert!(turned.windows(2).all(|pair| pair[0] >= pair[1] && pair[0] - pair[1] < 0.002));
    assert!((turned[PERIOD - 1] - 0.125).abs() < 0.03);
    volume.set(0);
    (0..10).for_each(|_| _ = fill());
    assert_eq!(fill(), vec![0.0; PERIOD]);
}
