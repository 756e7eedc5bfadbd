use super::QUANTUM;
use super::loop_filter::LN_1000;
use super::one_pole::OnePole;

/// Metres a second, in air at room temperature.
pub(super) const SPEED_OF_SOUND: f64 = 343.0;

/// Echo paths of the tail.
const PATHS: usize = 8;

/// The places that a room is named for, so that none can be missing from [`Room::ALL`].
macro_rules! rooms {
    ($($(#[$about:meta])* $room:ident = $word:literal,)+) => {
        /// Where the band sits.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum Room {
            $($(#[$about])* $room,)+
        }

        impl Room {
            /// Every one.
            pub const ALL: [Self; [$($word),+].len()] = [$(Self::$room),+];

            /// What it is called.
            pub const fn word(self) -> &'static str {
                match self {
                    $(Self::$room => $word,)+
                }
            }
        }
    };
}

rooms! {
    /// None: the players alone, for whoever puts them into a room of his own.
    Dry = "dry",
    /// A boarded porch: a floor, a wall behind, a roof, and hardly a tail.
    Porch = "porch",
    /// A furnished living room.
    Parlor = "parlor",
    /// A dance hall with people in it.
    Hall = "hall",
}

/// What makes a room sound like itself.
#[derive(Clone, Copy, Debug)]
pub(super) struct Acoustics {
    /// Width, depth and height in metres; the band sits against the middle of the width.
    pub size: [f64; 3],
    /// What the left and right walls, the wall behind the players and the one behind the listener, the floor and the
    /// ceiling leave of a sound that they throw back.
    pub walls: [f64; 6],
    /// How far the players sit from whoever hears them, in metres.
    pub distance: f64,
    /// Above this, in hertz, walls swallow.
    pub soft_hz: f64,
    /// Seconds in which the tail falls by 60 dB, its level, and the shortest and the longest of its paths in metres.
    tail: (f64, f64, f64, f64),
}

impl Room {
    /// The room that is meant by a word.
    ///
    /// # Errors
    /// There is none; with all there are.
    pub fn parse(word: &str) -> Result<Self, String> {
        let found = Self::ALL.into_iter().find(|room| room.word() == word);
        let words = || Self::ALL.map(Self::word).join(", ");
        found.ok_or_else(|| format!("no such room; there are {}", words()))
    }

    /// How it sounds; `None` if not at all.
    ///
    /// The tails are as long as those of furnished living rooms (0.4 to 0.7 s: Everest, "Master Handbook of
    /// Acoustics") and, for the hall, of a small one with people in it (from memory). Walls that throw back 0.87
    /// are those of such a living room: a share of 0.25 of the energy is swallowed.
    pub(super) const fn acoustics(self) -> Option<Acoustics> {
        Some(match self {
            Self::Dry => return None,
            Self::Porch => Acoustics {
                size: [7.0, 3.2, 2.7],
                walls: [0.0, 0.0, 0.85, 0.0, 0.80, 0.75],
                distance: 1.5,
                soft_hz: 7_000.0,
                tail: (0.22, 0.20, 4.1, 9.7),
            },
            Self::Parlor => Acoustics {
                size: [5.2, 4.1, 2.6],
                walls: [0.80, 0.80, 0.87, 0.75, 0.62, 0.87],
                distance: 1.5,
                soft_hz: 6_000.0,
                tail: (0.48, 0.50, 5.3, 14.9),
            },
            Self::Hall => Acoustics {
                size: [12.0, 18.0, 5.5],
                walls: [0.85, 0.85, 0.90, 0.60, 0.70, 0.80],
                distance: 3.0,
                soft_hz: 5_000.0,
                tail: (1.20, 0.70, 11.3, 31.7),
            },
        })
    }
}

/// The tail of a room: a feedback delay network of eight paths mixed by a Hadamard matrix (Jot and Chaigne, "Digital
/// delay networks for designing artificial reverberators", AES convention 90, 1991), each path losing its highs.
/// The two sides take the same paths with other signs, so both together are no softer than they are wide.
#[derive(Clone, Debug)]
pub(super) struct Tail {
    paths: [Path; PATHS],
    level: f32,
}

#[derive(Clone, Debug)]
struct Path {
    memory: Vec<f32>,
    at: usize,
    gain: f32,
    highs: OnePole,
}

impl Path {
    fn new(metres: f64, ring: f64, soft_hz: f64, rate: f64) -> Self {
        let seconds = metres / SPEED_OF_SOUND;
        Self {
            memory: vec![0.0; ((seconds * rate).round() as usize).max(1)],
            at: 0,
            gain: (-LN_1000 * seconds / ring).exp() as f32,
            highs: OnePole::new(soft_hz, rate),
        }
    }

    fn out(&mut self) -> f32 {
        let heard = self.memory.get(self.at).copied().unwrap_or(0.0);
        self.highs.low(heard) * self.gain
    }

    fn put(&mut self, x: f32) {
        if let Some(place) = self.memory.get_mut(self.at) {
            *place = x;
        }
        self.at = if self.at + 1 < self.memory.len() { self.at + 1 } else { 0 };
    }
}

/// The signs of the paths on the left and on the right, of which half are the same.
const LEFT: [f32; PATHS] = [1.0, 1.0, -1.0, 1.0, 1.0, -1.0, 1.0, -1.0];
const RIGHT: [f32; PATHS] = [1.0, -1.0, 1.0, 1.0, -1.0, -1.0, -1.0, -1.0];

impl Tail {
    /// Silent.
    pub fn new(acoustics: Acoustics, rate: f64) -> Self {
        let (ring, level, shortest, longest) = acoustics.tail;
        let mut number = 0_u32;
        let paths = [(); PATHS].map(|()| {
            // Evenly in pitch, each a little off, so that no two have a common measure.
            let along = f64::from(number) / (PATHS - 1) as f64;
            let off = 1.0 + 0.013 * f64::from(number * number % 5);
            number += 1;
            let metres = shortest * (longest / shortest).powf(along) * off;
            Path::new(metres, ring, acoustics.soft_hz, rate)
        });
        Self { paths, level: level as f32 }
    }

    /// The echoes are gone.
    pub fn still(&mut self) {
        for path in &mut self.paths {
            path.memory.fill(0.0);
            path.highs.still();
        }
    }

    /// Adds the room's answer to `send` to both sides.
    pub fn add(
        &mut self,
        send: &[f32; QUANTUM],
        left: &mut [f32; QUANTUM],
        right: &mut [f32; QUANTUM],
    ) {
        for ((send, left), right) in send.iter().zip(left).zip(right) {
            // The constant keeps the echoes out of the range of numbers that slow a processor; its
            // tenth of a billionth of a billionth is no sound.
            let x = *send * self.level + 1e-18;
            let heard = self.paths.each_mut().map(Path::out);
            for ((heard, sign_left), sign_right) in heard.iter().zip(LEFT).zip(RIGHT) {
                *left += sign_left * heard;
                *right += sign_right * heard;
            }
            for (path, back) in self.paths.iter_mut().zip(mixed(heard)) {
                path.put(x + back);
            }
        }
    }
}

/// By a Hadamard matrix, whose energy is the same.
fn mixed([a, b, c, d, e, f, g, h]: [f32; PATHS]) -> [f32; PATHS] {
    let four = |a: f32, b: f32, c: f32, d: f32| {
        let (ab, a_b, cd, c_d) = (a + b, a - b, c + d, c - d);
        [ab + cd, a_b + c_d, ab - cd, a_b - c_d]
    };
    let ([a, b, c, d], [e, f, g, h]) = (four(a, b, c, d), four(e, f, g, h));
    const SHARE: f32 = 0.353_553_4;
    [a + e, b + f, c + g, d + h, a - e, b - f, c - g, d - h].map(|sum| sum * SHARE)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn answer(room: Room) -> (Vec<f32>, Vec<f32>) {
        let mut tail = Tail::new(room.acoustics().unwrap(), 48_000.0);
        let mut send = [0.0; QUANTUM];
        send[0] = 1.0;
        let (mut lefts, mut rights) = (Vec::new(), Vec::new());
        for _ in 0..1_500 {
            let (mut left, mut right) = ([0.0; QUANTUM], [0.0; QUANTUM]);
            tail.add(&send, &mut left, &mut right);
            lefts.extend(left);
            rights.extend(right);
            send[0] = 0.0;
        }
        (lefts, rights)
    }

    #[test]
    fn tails_are_as_long_as_the_rooms() {
        for (room, least, most) in
            [(Room::Porch, 0.1, 0.3), (Room::Parlor, 0.35, 0.7), (Room::Hall, 0.8, 1.4)]
        {
            let (left, _) = answer(room);
            // Schroeder's backward integral; T20 as ISO 3382 has it: from -5 to -25 dB.
            let mut rest: Vec<f64> = left.iter().map(|x| f64::from(*x).powi(2)).collect();
            for n in (0..rest.len() - 1).rev() {
                rest[n] += rest[n + 1];
            }
            let at = |decibels: f64| {
                let level = rest[0] * 10.0_f64.powf(decibels / 10.0);
                rest.iter().position(|rest| *rest < level).unwrap() as f64 / 48_000.0
            };
            let seconds = 3.0 * (at(-25.0) - at(-5.0));
            assert!((least..most).contains(&seconds), "{room:?}: {seconds:.2} s");
        }
    }

    #[test]
    fn a_tail_is_not_lost_in_mono() {
        let (left, right) = answer(Room::Parlor);
        let energy = |side: &[f32]| side.iter().map(|x| x * x).sum::<f32>();
        let mid: Vec<f32> = left.iter().zip(&right).map(|(a, b)| (a + b) / 2.0).collect();
        let lost = 10.0 * (energy(&mid) / ((energy(&left) + energy(&right)) / 2.0)).log10();
        assert!((-4.5..-1.5).contains(&lost), "{lost:.1} dB");
    }

    #[test]
    fn every_word_means_its_room() {
        for room in Room::ALL {
            assert_eq!(Room::parse(room.word()), Ok(room));
        }
        assert!(Room::parse("cave").is_err());
    }
}
