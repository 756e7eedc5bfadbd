use super::QUANTUM;
use super::body::Body;
use super::hush::Hush;
use super::loop_filter::{LN_1000, LoopFilter};
use super::pluck::Pluck;
use super::string_loop::StringLoop;
use super::timbre::Timbre;
use crate::theory::MidiNote;

/// How far a note falls before it counts as gone, in units of 60 dB: 100 dB.
const GONE: f64 = 100.0 / 60.0;

/// Planes in which the strings of a note swing: two of each string, and a course has two strings.
const PLANES: usize = 4;

/// What a note of one pitch needs, reckoned before the playing begins.
#[derive(Clone, Copy, Debug)]
pub(super) struct Plan {
    /// The planes' filters while the note rings: of each string first the one at right angles to the top, then the
    /// one along it.
    pub open: [LoopFilter; PLANES],
    /// Their filters under the damping hand.
    pub damped: [LoopFilter; PLANES],
    /// Frames after which it has rung out by itself.
    pub life: u64,
}

impl Plan {
    /// `None` for a pitch too high for the rate.
    pub fn new(timbre: Timbre, pitch: MidiNote, rate: f64) -> Option<Self> {
        let note = pitch.get();
        let filter = |plane: usize, damped: bool| {
            let hz = pitch.hertz() * (timbre.cents_off(plane) / 1_200.0).exp2();
            // Of a course, both strings together move the bridge.
            let strings = if timbre.course.is_some() { 2.0_f64 } else { 1.0 };
            let (along, strings) =
                if plane.is_multiple_of(2) { (false, strings) } else { (true, 1.0) };
            let turn = Body::turn(timbre.body, hz, along, strings, rate);
            let ring = if damped { timbre.damped_ring(note) } else { timbre.ring(note) };
            LoopFilter::new(rate, hz, ring, turn)
        };
        let all = |damped: bool| {
            let first = [filter(0, damped)?, filter(1, damped)?];
            let [up, along] = first;
            // A single string has no more planes.
            let second = timbre
                .course
                .map_or(Some(first), |_| Some([filter(2, damped)?, filter(3, damped)?]));
            second.map(|[up_too, along_too]| [up, along, up_too, along_too])
        };
        Some(Self {
            open: all(false)?,
            damped: all(true)?,
            life: (timbre.ring(note).low * GONE * rate) as u64,
        })
    }

    /// The farthest any of its filters looks back.
    pub fn reach(&self) -> usize {
        self.open.iter().chain(&self.damped).map(LoopFilter::reach).max().unwrap_or(0)
    }
}

/// Frames that a damped note takes to be gone.
pub(super) fn damped_frames(timbre: Timbre, rate: f64) -> u64 {
    (timbre.damp_ms / 1_000.0 * GONE * rate) as u64
}

/// What all notes of a timbre have in common.
#[derive(Clone, Copy, Debug)]
pub(super) struct Manner {
    /// How many planes swing: two, or four of a course.
    planes: usize,
    /// What is left of a damped note from frame to frame.
    fall: f32,
    damped_frames: u64,
    /// The hand's push on the body as it comes down on the strings, beside what they still do; and its frames.
    landing: (f32, u32),
}

impl Manner {
    /// Of that timbre.
    pub fn new(timbre: Timbre, rate: f64) -> Self {
        Self {
            planes: if timbre.course.is_some() { 4 } else { 2 },
            fall: (-LN_1000 * 1_000.0 / (timbre.damp_ms * rate)).exp() as f32,
            damped_frames: damped_frames(timbre, rate),
            landing: (timbre.landing.0 as f32, (timbre.landing.1 / 1_000.0 * rate) as u32),
        }
    }
}

/// A note that sounds, or room for one, of any timbre.
#[derive(Clone, Debug)]
pub(super) struct Voice {
    strings: [StringLoop; PLANES],
    sounding: Option<Sounding>,
    /// How much of the voice meets the bridge in each frame under way.
    gains: [f32; QUANTUM],
}

#[derive(Clone, Debug)]
struct Sounding {
    pitch: u8,
    /// Which of its player's sounds it has.
    sound: usize,
    manner: Manner,
    plan: Plan,
    pluck: Pluck,
    /// Frames of the block before the strike.
    wait: usize,
    /// Frames since the strike.
    age: u64,
    /// The age at which the hand comes down.
    damped_at: Option<u64>,
    level: f32,
    hush: Option<Hush>,
    turn: Option<Turn>,
    /// How hard it was struck last.
    force: f32,
}

/// A string that is stopped elsewhere and goes on.
#[derive(Clone, Debug)]
struct Turn {
    /// Frames of the block before it.
    wait: usize,
    /// How many times as fast it is then.
    ratio: f64,
    plan: Plan,
    /// What the finger gives it.
    touch: Pluck,
}

/// What a string keeps of its motion as the left hand takes it elsewhere: a finger takes a little of it away
/// (common practice, no source).
const KEPT: f32 = 0.9;

impl Voice {
    /// At rest, with room for plans of that reach.
    pub fn new(longest_reach: usize) -> Self {
        let string = StringLoop::new(longest_reach);
        Self {
            strings: [string.clone(), string.clone(), string.clone(), string],
            sounding: None,
            gains: [1.0; QUANTUM],
        }
    }

    /// Which of its player's sounds it has; `None` at rest.
    pub fn sound(&self) -> Option<usize> {
        self.sounding.as_ref().map(|sounding| sounding.sound)
    }

    /// Frames since the strike, or `None` at rest.
    pub fn age(&self) -> Option<u64> {
        self.sounding.as_ref().map(|sounding| sounding.age)
    }

    /// True at rest or on the way to it under [`Self::hush`].
    pub fn is_quiet(&self) -> bool {
        self.sounding.as_ref().is_none_or(|sounding| sounding.hush.is_some())
    }

    /// Strikes a note of one of its player's sounds, `wait` frames into the next block.
    pub fn strike(
        &mut self,
        pitch: u8,
        (sound, manner): (usize, Manner),
        plan: &Plan,
        pluck: Pluck,
        wait: usize,
    ) {
        for (string, filter) in self.strings.iter_mut().zip(&plan.open).take(manner.planes) {
            string.still(filter);
        }
        let force = pluck.strength();
        self.sounding = Some(Sounding {
            pitch,
            sound,
            manner,
            plan: *plan,
            pluck,
            wait,
            age: 0,
            damped_at: None,
            level: 1.0,
            hush: None,
            turn: None,
            force,
        });
    }

    /// True if it holds that note of a sound, and no hand has come down on it.
    pub fn holds(&self, pitch: u8, sound: usize) -> bool {
        self.sounding.as_ref().is_some_and(|it| {
            it.pitch == pitch && it.sound == sound && it.damped_at.is_none() && it.hush.is_none()
        })
    }

    /// The string that sounds is another note from `wait` frames into the next block on, `ratio` times as fast.
    pub fn go_on(&mut self, pitch: u8, plan: &Plan, ratio: f64, touch: Pluck, wait: usize) {
        if let Some(sounding) = &mut self.sounding {
            sounding.pitch = pitch;
            // Two within a block: the first is over before it is heard.
            if let Some(turn) = sounding.turn.take() {
                sounding.take(turn, &mut self.strings);
            }
            sounding.turn = Some(Turn { wait, ratio, plan: *plan, touch });
        }
    }

    /// Damps a note, if it is this voice's, `wait` frames into the next block, but not before it has
    /// sounded for a frame.
    pub fn damp(&mut self, pitch: u8, wait: usize) {
        if let Some(sounding) = self.sounding.as_mut().filter(|sounding| sounding.pitch == pitch) {
            let into = wait.saturating_sub(sounding.wait) as u64;
            sounding.damped_at.get_or_insert((sounding.age + into).max(1));
        }
    }

    /// Takes what sounds to silence in `frames`, from `wait` frames into the next block on, or sooner
    /// if that is under way.
    pub fn hush(&mut self, wait: usize, frames: u32) {
        if let Some(sounding) = &mut self.sounding {
            Hush::begin(&mut sounding.hush, wait, frames);
        }
    }

    /// At rest, at once.
    pub fn still(&mut self) {
        self.sounding = None;
    }

    /// Does what is due `at` frames into the block, and gives how many frames go on from there without anything
    /// else: at most `most`.
    pub fn until_next(&mut self, at: usize, most: usize) -> usize {
        let Some(sounding) = &mut self.sounding else { return most };
        if at < sounding.wait {
            return most.min(sounding.wait - at);
        }
        if at > 0
            && at == sounding.wait
            && let Some(hush) = &mut sounding.hush
        {
            hush.enter(at);
        }
        if let Some(turn) = sounding.turn.take_if(|turn| turn.wait <= at) {
            sounding.take(turn, &mut self.strings);
        }
        let turn = sounding.turn.as_ref().map_or(most, |turn| turn.wait - at);
        let hand = sounding.damped_at.filter(|at| *at > sounding.age);
        let hand = hand.map_or(most, |at| usize::try_from(at - sounding.age).unwrap_or(most));
        let filters = sounding.filters().iter().take(sounding.manner.planes);
        let step = filters.map(LoopFilter::delay).min().unwrap_or(1).max(1);
        most.min(turn).min(hand).min(step)
    }

    /// Adds what arrives at the bridge in so many frames, at right angles to the top and along it, and what knocks on
    /// the body. Gives how many strings meet there.
    pub fn arrive(&mut self, at: usize, up: &mut [f32], along: &mut [f32]) -> f32 {
        let frames = up.len();
        let Some(sounding) = self.sounding.as_mut().filter(|it| at >= it.wait) else { return 0.0 };
        let mut drives = [[0.0_f32; QUANTUM]; 2];
        let mut knocks = [0.0_f32; QUANTUM];
        let driven = !sounding.pluck.is_over();
        if driven {
            let [first, second] = &mut drives;
            let pulls = first.iter_mut().zip(second).zip(&mut knocks);
            for ((first, second), knock) in pulls.take(frames) {
                [*first, *second, *knock] = sounding.pluck.next();
            }
        }
        let damped = sounding.damped_at.is_some_and(|at| sounding.age >= at);
        let Some(gains) = self.gains.get_mut(..frames) else { return 0.0 };
        gains.fill(1.0);
        if damped {
            let since = sounding.age - sounding.damped_at.unwrap_or(0);
            let (push, length) = sounding.manner.landing;
            for ((gain, knock), age) in gains.iter_mut().zip(&mut knocks).zip(since..) {
                sounding.level *= sounding.manner.fall;
                *gain = sounding.level;
                if age < u64::from(length) {
                    let along = (age as f32 + 0.5) / length as f32;
                    *knock += push * sounding.force * (std::f32::consts::PI * along).sin().powi(2);
                }
            }
        }
        if let Some(hush) = &mut sounding.hush {
            for (gain, knock) in gains.iter_mut().zip(&mut knocks) {
                let share = hush.next();
                *gain *= share;
                *knock *= share;
            }
        }
        let filters = if damped { &sounding.plan.damped } else { &sounding.plan.open };
        let angle = sounding.pluck.planes();
        let planes = self.strings.iter_mut().zip(filters).take(sounding.manner.planes);
        for ((string, filter), plane) in planes.zip(0_usize..) {
            let drive = driven.then(|| {
                let drive = &mut drives[plane / 2];
                // The plane along the top comes second, and finds the pull scaled for the first.
                let by =
                    if plane.is_multiple_of(2) { angle[0] } else { angle[1] / angle[0].max(1e-3) };
                drive.iter_mut().take(frames).for_each(|pull| *pull *= by);
                &drive[..frames]
            });
            let fresh = string.arrive(filter, drive, frames);
            let force = if plane.is_multiple_of(2) { &mut *up } else { &mut *along };
            for ((force, fresh), gain) in force.iter_mut().zip(fresh).zip(&*gains) {
                *force += gain * fresh;
            }
        }
        up.iter_mut().zip(knocks).for_each(|(up, knock)| *up += knock);
        let gain = gains.first().copied().unwrap_or(1.0);
        gain * gain * (sounding.manner.planes / 2) as f32
    }

    /// The bridge gave way so far in those frames.
    pub fn settle(&mut self, at: usize, up: &[f32], along: &[f32]) {
        let Some(sounding) = self.sounding.as_mut().filter(|it| at >= it.wait) else { return };
        let strings = self.strings.iter_mut().take(sounding.manner.planes);
        for (string, plane) in strings.zip(0_usize..) {
            string.settle(if plane.is_multiple_of(2) { up } else { along }, &self.gains);
        }
        sounding.age += up.len() as u64;
    }

    /// The block is over.
    pub fn end_block(&mut self) {
        let Some(sounding) = &mut self.sounding else { return };
        sounding.wait = 0;
        let gone = |at: u64| sounding.age >= at + sounding.manner.damped_frames;
        if sounding.hush.is_some_and(Hush::is_over)
            || sounding.age >= sounding.plan.life
            || sounding.damped_at.is_some_and(gone)
        {
            self.sounding = None;
        }
    }
}

impl Sounding {
    /// The filters that hold now.
    fn filters(&self) -> &[LoopFilter; PLANES] {
        let damped = self.damped_at.is_some_and(|at| self.age >= at);
        if damped { &self.plan.damped } else { &self.plan.open }
    }

    /// The string is stopped elsewhere.
    fn take(&mut self, turn: Turn, strings: &mut [StringLoop; PLANES]) {
        let filters = self.plan.open.iter().zip(&turn.plan.open).take(self.manner.planes);
        for (string, (old, new)) in strings.iter_mut().zip(filters) {
            string.retune(old, new, turn.ratio, KEPT);
        }
        self.plan = turn.plan;
        self.plan.life = self.plan.life.saturating_add(self.age);
        self.pluck = turn.touch;
    }
}
