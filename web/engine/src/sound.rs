//! The band's own sound as an output of the engine that plays beside it, in one thread.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use openchair::chart::Role;
use openchair::perform::Message;
use openchair::sink::{AT_ONCE, MidiOut, SendError};
use openchair::synth::{LiveRenderer, Renderer, Synth};
use openchair::time::Nanos;

/// Frames that are played at a time at most: two thirds of a second at a low rate.
pub const MOST: usize = 16_384;

/// Frames between two looks at what is asked for: what browsers call a quantum.
pub const STEP: usize = 128;

/// How long before its time a message is wanted: longer than a step at any rate that devices run at.
const AHEAD: Nanos = Nanos(20_000_000);

/// MIDI's controller of volume.
const VOLUME: u8 = 7;

/// MIDI's controller of the place between left and right.
const PAN: u8 = 10;

/// Channels of MIDI.
const CHANNELS: usize = 16;

/// What waits for its frame.
struct Queue {
    waiting: VecDeque<(Nanos, Message)>,
}

/// The output that the engine plays to.
struct Feed(Arc<Mutex<Queue>>);

impl Feed {
    fn lock(&self) -> MutexGuard<'_, Queue> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl MidiOut for Feed {
    fn ahead(&self) -> Nanos {
        AHEAD
    }

    fn send(&mut self, due: Nanos, message: Message) -> Result<(), SendError> {
        self.lock().waiting.push_back((due, message));
        Ok(())
    }

    fn take_back(&mut self, from: Nanos) {
        self.lock().waiting.retain(|(due, _)| *due < from);
    }

    fn close(self: Box<Self>) {}
}

/// The synthesizer, and what each player's loudness is turned to.
pub struct Sound {
    synth: Synth,
    queue: Arc<Mutex<Queue>>,
    /// A time and its frame: of the first message, so that all others lie by whole rounding from it.
    anchor: Option<(Nanos, u64)>,
    /// In percent, by channel.
    turned: [u8; CHANNELS],
    /// The volume that the band gave each channel last.
    given: [Option<u8>; CHANNELS],
    /// What gives each channel its sound, as it was set last: for an instrument that is told of it later.
    set: Vec<Message>,
    /// What was played and when, in frames, where somebody wants to know.
    told: Option<Vec<(u64, Message)>>,
    left: Vec<f32>,
    right: Vec<f32>,
    both: Vec<f32>,
}

impl Sound {
    pub fn new(synth: Synth) -> Self {
        Self {
            synth,
            queue: Arc::new(Mutex::new(Queue { waiting: VecDeque::with_capacity(4_096) })),
            anchor: None,
            turned: [100; CHANNELS],
            given: [None; CHANNELS],
            set: Vec::new(),
            told: None,
            left: vec![0.0; MOST],
            right: vec![0.0; MOST],
            both: vec![0.0; 2 * MOST],
        }
    }

    /// An output of MIDI that is heard here.
    pub fn output(&self) -> Box<dyn MidiOut> {
        Box::new(Feed(Arc::clone(&self.queue)))
    }

    /// When the first frame that is not reckoned yet is heard.
    pub fn now(&self) -> Nanos {
        let nanos = u128::from(self.synth.reckoned()) * 1_000_000_000;
        Nanos(i64::try_from(nanos / u128::from(self.synth.sample_rate())).unwrap_or(i64::MAX))
    }

    /// The next frame to be played.
    pub fn frame(&self) -> u64 {
        self.synth.position_frames()
    }

    /// Frames a second.
    pub fn rate(&self) -> u32 {
        self.synth.sample_rate()
    }

    /// Turns a player to so many percent of the loudness that the band gives them.
    pub fn turn(&mut self, role: Role, percent: u8) {
        let channel = role.channel();
        if let Some(turned) = self.turned.get_mut(usize::from(channel)) {
            *turned = percent;
        }
        if let Some(value) = self.given.get(usize::from(channel)).copied().flatten() {
            let message = self.turned(Message::Control { channel, controller: VOLUME, value });
            self.tell(self.synth.reckoned(), message);
            self.synth.take(self.synth.reckoned(), message);
        }
    }

    /// Begins or ends telling what is played.
    pub fn tell_all(&mut self, on: bool) {
        let now = self.synth.reckoned();
        self.told = on.then(|| self.set.iter().map(|message| (now, *message)).collect());
    }

    /// What was played since it was asked last, a line each: the frame, and the message's bytes.
    pub fn sent(&mut self) -> String {
        let told = self.told.as_mut().map(std::mem::take).unwrap_or_default();
        let lines = told.into_iter().map(|(frame, message)| {
            let (bytes, count) = message.bytes();
            let bytes: Vec<String> = bytes.iter().take(count).map(u8::to_string).collect();
            format!("{frame} {}", bytes.join(" "))
        });
        lines.collect::<Vec<_>>().join("\n")
    }

    fn tell(&mut self, frame: u64, message: Message) {
        let sets = |message: Message| match message {
            Message::Program { channel, .. } => Some((channel, 0)),
            Message::Control { channel, controller: controller @ (VOLUME | PAN), .. } => {
                Some((channel, controller))
            }
            _ => None,
        };
        if let Some(place) = sets(message) {
            self.set.retain(|other| sets(*other) != Some(place));
            self.set.push(message);
        }
        if let Some(told) = &mut self.told {
            told.push((frame, message));
        }
    }

    /// A message as it is played here.
    fn turned(&mut self, message: Message) -> Message {
        let Message::Control { channel, controller: VOLUME, value } = message else {
            return message;
        };
        let at = usize::from(channel);
        if let Some(given) = self.given.get_mut(at) {
            *given = Some(value);
        }
        let percent = self.turned.get(at).copied().unwrap_or(100);
        let value = (u16::from(value) * u16::from(percent) / 100).min(127) as u8;
        Message::Control { channel, controller: VOLUME, value }
    }

    /// Plays the next `frames`, from `at` in what [`Self::played`] gives.
    pub fn play(&mut self, at: usize, frames: usize) {
        let until = self.synth.reckoned_after(frames);
        while let Some((due, message)) = self.next(until) {
            let message = self.turned(message);
            self.tell(due, message);
            self.synth.take(due, message);
        }
        if let (Some(left), Some(right)) =
            (self.left.get_mut(at..at + frames), self.right.get_mut(at..at + frames))
        {
            self.synth.render(left, right);
        }
    }

    /// The next message before that frame, with its own.
    fn next(&mut self, until: u64) -> Option<(u64, Message)> {
        let queue = Arc::clone(&self.queue);
        let mut queue = queue.lock().unwrap_or_else(PoisonError::into_inner);
        let (due, message) = queue.waiting.front().copied()?;
        let frame = if due == AT_ONCE { self.synth.reckoned() } else { self.frame_of(due) };
        if frame >= until {
            return None;
        }
        queue.waiting.pop_front();
        Some((frame, message))
    }

    fn frame_of(&mut self, due: Nanos) -> u64 {
        let rate = self.rate();
        let nearest = |nanos: i64| {
            let frames = (i128::from(nanos) * i128::from(rate) + 500_000_000) / 1_000_000_000;
            u64::try_from(frames).unwrap_or(0)
        };
        let (time, frame) = *self.anchor.get_or_insert_with(|| (due, nearest(due.0)));
        match due.0.checked_sub(time.0) {
            Some(after) if after >= 0 => frame + nearest(after),
            _ => frame.saturating_sub(nearest(time.0.saturating_sub(due.0))),
        }
    }

    /// What was played last: so many frames of the left side, then of the right.
    pub fn played(&mut self, frames: usize) -> *const f32 {
        let (left, right) = self.both.split_at_mut(frames.min(MOST));
        for (to, from) in [(left, &self.left), (right, &self.right)] {
            to.iter_mut().zip(from).for_each(|(to, from)| *to = *from);
        }
        self.both.as_ptr()
    }
}
