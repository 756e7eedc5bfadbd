use super::QUANTUM;
use super::loop_filter::LN_1000;
use super::one_pole::OnePole;

/// The echo paths in metres: a small room, lengths without a common measure.
const PATHS: [f64; 4] = [7.3, 9.1, 11.9, 14.7];

/// Metres a second, in air at room temperature.
const SOUND: f64 = 343.0;

/// Seconds in which the room's sound falls by 60 dB: a furnished living room.
const RING: f64 = 0.32;

/// A light room around the band: a feedback delay network of four paths mixed by a Hadamard matrix
/// (Jot and Chaigne, "Digital delay networks for designing artificial reverberators", AES
/// convention 90, 1991), each path losing its highs.
#[derive(Clone, Debug)]
pub(super) struct Room {
    paths: [Path; 4],
}

#[derive(Clone, Debug)]
struct Path {
    memory: Vec<f32>,
    at: usize,
    gain: f32,
    highs: OnePole,
}

impl Path {
    fn new(metres: f64, rate: f64) -> Self {
        let seconds = metres / SOUND;
        Self {
            memory: vec![0.0; ((seconds * rate).round() as usize).max(1)],
            at: 0,
            gain: (-LN_1000 * seconds / RING).exp() as f32,
            highs: OnePole::new(4_500.0, rate),
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

impl Room {
    /// Silent.
    pub fn new(rate: f64) -> Self {
        Self { paths: PATHS.map(|metres| Path::new(metres, rate)) }
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
            let x = *send + 1e-18;
            let [a, b, c, d] = self.paths.each_mut().map(Path::out);
            *left += a + c;
            *right += b + d;
            let (sum, cross) = (0.5 * (a + b), 0.5 * (a - b));
            let (far_sum, far_cross) = (0.5 * (c + d), 0.5 * (c - d));
            let back = [sum + far_sum, cross + far_cross, sum - far_sum, cross - far_cross];
            for (path, back) in self.paths.iter_mut().zip(back) {
                path.put(x + back);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dies_away() {
        let mut room = Room::new(48_000.0);
        let mut send = [0.0; QUANTUM];
        send[0] = 1.0;
        let mut levels = Vec::new();
        for _ in 0..750 {
            let (mut left, mut right) = ([0.0; QUANTUM], [0.0; QUANTUM]);
            room.add(&send, &mut left, &mut right);
            levels.push(left.iter().chain(&right).map(|x| x * x).sum::<f32>());
            send[0] = 0.0;
        }
        let energy = |from: usize| levels[from..].iter().sum::<f32>();
        assert!(energy(0) > 0.1, "it answers: {}", energy(0));
        // 240 blocks are 0.32 s.
        assert!(energy(240) < energy(0) * 1e-5, "{} {}", energy(0), energy(240));
    }
}
