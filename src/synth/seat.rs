use super::QUANTUM;
use super::one_pole::OnePole;
use super::room::{Acoustics, SPEED_OF_SOUND};

/// Echoes off one wall each: left, right, behind the player, behind the listener, floor and ceiling.
const IMAGES: usize = 6;

/// Half the distance between the ears that hear, in metres, and how high they and the instruments are.
const HALF_HEAD: f64 = 0.085;
const EARS: f64 = 1.2;
const HANDS: f64 = 0.9;

/// How far into the room the players sit, from the wall behind them, as a share of its depth.
const BEHIND: f64 = 0.28;

/// How loud the echoes are beside what their paths say: an instrument sends less to the walls than to whoever sits
/// before it (a judgement).
const SIDEWAYS: f64 = 0.80;

/// Where a player sits and how the walls throw that place back: the first reflections, each with its own time and
/// its own direction (the image method: Allen and Berkley, "Image method for efficiently simulating small-room
/// acoustics", J. Acoust. Soc. Am. 65, 1979).
///
/// In the parlor they come 4 to 14 ms after the sound itself. Both ears hear each of them, the farther one up to half
/// a millisecond later, so a band in mono is the same band.
#[derive(Clone, Debug)]
pub(super) struct Seat {
    room: Acoustics,
    rate: f64,
    memory: Vec<f32>,
    at: usize,
    echoes: [Echo; IMAGES],
    /// Where the player goes, if somebody pans them elsewhere.
    next: Option<[Echo; IMAGES]>,
    soft: OnePole,
}

/// Frames until the left and the right ear hear it, and how loud each does.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Echo {
    delay: [usize; 2],
    gain: [f32; 2],
}

/// How many degrees off the middle somebody sits whose sound is panned all the way.
const WIDEST: f64 = 60.0;

impl Seat {
    /// In a room, silent, as far to the left (0) or to the right (127) as a pan says. Takes memory.
    pub fn new(pan: u8, room: Acoustics, rate: f64) -> Self {
        // Room for wherever a pan may send it.
        let all = (0..=127).flat_map(|pan| echoes(pan, room, rate));
        let longest = all.flat_map(|echo| echo.delay).max().unwrap_or(0);
        Self {
            room,
            rate,
            memory: vec![0.0; longest + QUANTUM + 1],
            at: 0,
            echoes: echoes(pan, room, rate),
            next: None,
            soft: OnePole::new(room.soft_hz, rate),
        }
    }

    /// Sits elsewhere, from the next block to its end. Takes no memory.
    pub fn shift(&mut self, pan: u8) {
        let echoes = echoes(pan, self.room, self.rate);
        self.next = (echoes != self.echoes).then_some(echoes);
    }

    /// The echoes are gone.
    pub fn still(&mut self) {
        self.memory.fill(0.0);
        self.soft.still();
    }

    /// Adds what the walls throw back of a block of the player's sound to both sides.
    pub fn add(
        &mut self,
        sound: &[f32; QUANTUM],
        left: &mut [f32; QUANTUM],
        right: &mut [f32; QUANTUM],
    ) {
        let length = self.memory.len();
        let begin = self.at;
        for frame in sound {
            // As in the tail: no number so small that it slows a processor.
            let soft = self.soft.low(*frame + 1e-18);
            if let Some(place) = self.memory.get_mut(self.at) {
                *place = soft;
            }
            self.at = if self.at + 1 < length { self.at + 1 } else { 0 };
        }
        let Some(next) = self.next.take() else {
            for echo in &self.echoes {
                self.heard(begin, echo, [1.0, 0.0], left, right);
            }
            return;
        };
        // From the old place to the new one without a step.
        for (old, new) in self.echoes.iter().zip(&next) {
            self.heard(begin, old, [1.0, -1.0], left, right);
            self.heard(begin, new, [0.0, 1.0], left, right);
        }
        self.echoes = next;
    }

    /// Adds an echo of what began at a place of the memory, by a gain at the block's beginning and what it changes by
    /// to its end.
    fn heard(
        &self,
        begin: usize,
        echo: &Echo,
        [gain, change]: [f32; 2],
        left: &mut [f32; QUANTUM],
        right: &mut [f32; QUANTUM],
    ) {
        let length = self.memory.len();
        let sides = [left, right].into_iter().zip(echo.delay).zip(echo.gain);
        for ((side, delay), loud) in sides {
            if loud == 0.0 {
                continue;
            }
            let from = (begin + length - delay) % length;
            // In at most two straight pieces.
            let first = QUANTUM.min(length - from);
            let (one, other) = side.split_at_mut(first);
            let straight = self.memory.iter().skip(from);
            let pieces = one.iter_mut().zip(straight).chain(other.iter_mut().zip(&self.memory));
            if change == 0.0 {
                pieces.for_each(|(to, x)| *to += loud * gain * x);
                continue;
            }
            for ((to, x), along) in pieces.zip(0_u8..) {
                *to += loud * (gain + change * f32::from(along) / QUANTUM as f32) * x;
            }
        }
    }
}

/// The echoes of somebody panned so.
fn echoes(pan: u8, room: Acoustics, rate: f64) -> [Echo; IMAGES] {
    let [width, depth, height] = room.size;
    let angle = ((f64::from(pan) - 64.0) / 64.0 * WIDEST).to_radians();
    let (across, away) = (room.distance * angle.sin(), room.distance * angle.cos());
    // From the middle of the wall behind the players.
    let player = [across, depth * BEHIND, HANDS];
    let ears = [0.0, (player[1] + away).min(depth - 0.3), EARS];
    let images = [
        [-width - player[0], player[1], player[2]],
        [width - player[0], player[1], player[2]],
        [player[0], -player[1], player[2]],
        [player[0], 2.0 * depth - player[1], player[2]],
        [player[0], player[1], -player[2]],
        [player[0], player[1], 2.0 * height - player[2]],
    ];
    let far = |from: [f64; 3], ear: f64| {
        let [x, y, z] = [from[0] - ear, from[1] - ears[1], from[2] - ears[2]];
        (x * x + y * y + z * z).sqrt()
    };
    let direct = far(player, 0.0);
    let mut echoes = [Echo::default(); IMAGES];
    for ((echo, image), wall) in echoes.iter_mut().zip(images).zip(room.walls) {
        let way = far(image, 0.0);
        // To the one side by equal power, as far as it lies off the middle.
        let turn = (image[0] / way).clamp(-1.0, 1.0) * 0.8 + 1.0;
        let (right, left) = (turn * std::f64::consts::FRAC_PI_4).sin_cos();
        let loud = SIDEWAYS * wall * direct / way;
        let frames = |ear: f64| {
            let seconds = (far(image, ear) - direct).max(0.0) / SPEED_OF_SOUND;
            (seconds * rate).round() as usize + 1
        };
        echo.delay = [frames(-HALF_HEAD), frames(HALF_HEAD)];
        echo.gain = [(loud * left) as f32, (loud * right) as f32];
    }
    echoes
}

#[cfg(test)]
mod tests {
    use super::super::Room;
    use super::*;

    fn answer(pan: u8, room: Room) -> [Vec<f32>; 2] {
        let mut seat = Seat::new(pan, room.acoustics().unwrap(), 48_000.0);
        let mut sides = [Vec::new(), Vec::new()];
        for block in 0..60 {
            let mut sound = [0.0; QUANTUM];
            sound[0] = if block == 0 { 1.0 } else { 0.0 };
            let (mut left, mut right) = ([0.0; QUANTUM], [0.0; QUANTUM]);
            seat.add(&sound, &mut left, &mut right);
            sides[0].extend(left);
            sides[1].extend(right);
        }
        sides
    }

    #[test]
    fn a_parlor_answers_from_four_to_fourteen_milliseconds() {
        for pan in [0, 36, 64, 92, 127] {
            let [left, _] = answer(pan, Room::Parlor);
            let first = left.iter().position(|x| x.abs() > 0.01).unwrap() as f64 / 48.0;
            let last = left.iter().rposition(|x| x.abs() > 0.01).unwrap() as f64 / 48.0;
            assert!((1.5..5.0).contains(&first), "{pan}: {first:.1} ms");
            assert!((8.0..18.0).contains(&last), "{pan}: {last:.1} ms");
        }
    }

    #[test]
    fn whoever_is_panned_elsewhere_sits_there_then() {
        let room = Room::Parlor.acoustics().unwrap();
        let mut moved = Seat::new(20, room, 48_000.0);
        moved.shift(100);
        let mut there = Seat::new(100, room, 48_000.0);
        for block in 0..40 {
            let mut sound = [0.0; QUANTUM];
            sound[0] = if block == 1 { 1.0 } else { 0.0 };
            let sides = [&mut moved, &mut there].map(|seat| {
                let (mut left, mut right) = ([0.0; QUANTUM], [0.0; QUANTUM]);
                seat.add(&sound, &mut left, &mut right);
                (left, right)
            });
            assert!(block == 0 || sides[0] == sides[1], "block {block}");
        }
    }

    #[test]
    fn whoever_is_panned_sits_there() {
        let lean = |pan| {
            let [left, right] = answer(pan, Room::Parlor);
            let energy = |side: &[f32]| side.iter().map(|x| x * x).sum::<f32>();
            10.0 * (energy(&right) / energy(&left)).log10()
        };
        assert!(lean(36) < -0.2 && lean(92) > 0.2);
        assert!(lean(64).abs() < 0.1);
    }
}
