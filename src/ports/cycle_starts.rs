//! When the periods of a server start.
//!
//! A server smooths its word for that, and it is finer than the moment at which a thread is woken. But after it has stood
//! still the smoothed word creeps for seconds to where its frames have been at once, and what is played by it creeps
//! along. No thread is woken before its period starts: the earliest of the last wakings, by the frames that lie between
//! them, says at once where the word will be.

/// Wakings that are kept: one of so many is on time even on a busy machine.
const KEPT: usize = 8;

/// So far the smoothed word is believed, in nanoseconds: what is woken in time is woken within a millisecond, and a creep
/// of two is heard by nobody.
const BELIEVED: i64 = 2_000_000;

/// The starts of a server's periods, one after the other.
pub(super) struct CycleStarts {
    rate: i64,
    /// The server's count of frames without its wrapping around.
    frame: i64,
    last: Option<u32>,
    /// How long after their frames the last periods were woken, in nanoseconds from the first frame on.
    woken: [i64; KEPT],
    /// How many there have been.
    count: usize,
}

impl CycleStarts {
    /// For a server of so many frames a second.
    pub(super) fn new(rate: u32) -> Self {
        Self { rate: i64::from(rate.max(1)), frame: 0, last: None, woken: [0; KEPT], count: 0 }
    }

    /// The start of the period of a first frame, of which the server says that it began at `told` and whose thread came to
    /// it at `woken`, all in nanoseconds of one clock.
    pub(super) fn at(&mut self, first_frame: u32, told: i64, woken: i64) -> i64 {
        let step = self.last.map_or(0, |last| first_frame.wrapping_sub(last));
        self.last = Some(first_frame);
        self.frame = self.frame.saturating_add(i64::from(step.cast_signed()));
        let nominal = i128::from(self.frame) * 1_000_000_000 / i128::from(self.rate);
        let nominal = i64::try_from(nominal).unwrap_or(i64::MAX);
        if let Some(place) = self.woken.get_mut(self.count % KEPT) {
            *place = woken.saturating_sub(nominal);
        }
        self.count = self.count.saturating_add(1);
        let earliest = self.woken.iter().copied().min().unwrap_or(0).saturating_add(nominal);
        let believed =
            self.count < KEPT || earliest.saturating_sub(told).saturating_abs() <= BELIEVED;
        if believed { told } else { earliest }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PERIOD: u32 = 256;
    /// Of 256 frames at 48 kHz.
    const LASTS: i64 = 5_333_333;

    /// Hears of so many periods that begin at `from`, of which the server says what `told` makes of their starts, each woken a
    /// little late, now and then much too late. The worst that it is off by, and by how much in the last.
    fn off(starts: &mut CycleStarts, first: u32, from: i64, told: impl Fn(i64) -> i64) -> Vec<i64> {
        let period = |n: u32| {
            let begins = from + i64::from(n) * LASTS;
            let late = if n % 3 == 1 { 4_000_000 } else { 60_000 + 10_000 * i64::from(n % 5) };
            starts.at(first.wrapping_add(n * PERIOD), told(begins), begins + late) - begins
        };
        (0..200).map(period).collect()
    }

    #[test]
    fn the_servers_word_is_taken_as_long_as_it_can_be() {
        let mut starts = CycleStarts::new(48_000);
        // Near the end of the count, too.
        let told = |begins: i64| begins + begins % 700 - 350;
        let off = off(&mut starts, u32::MAX - 20_000, 1_000_000_000, told);
        assert!(off.iter().all(|off| off.abs() <= 350), "{off:?}");
    }

    #[test]
    fn what_it_creeps_after_a_stop_is_known_at_once() {
        let mut starts = CycleStarts::new(48_000);
        off(&mut starts, 0, 1_000_000_000, |begins| begins);
        // 70 ms later than the frames would have it, of which the server's word makes up a fortieth in each period.
        let again = 1_000_000_000 + 200 * LASTS + 70_000_000;
        let told = |begins: i64| {
            let n = (begins - again) / LASTS;
            begins - (70e6 * (1.0 - 1.0 / 40.0_f64).powi(i32::try_from(n).unwrap())) as i64
        };
        let off = off(&mut starts, 200 * PERIOD, again, told);
        assert!(off[0] < -60_000_000, "the wakings before count for the first");
        assert!(off[KEPT..].iter().all(|off| off.abs() <= BELIEVED), "{off:?}");
    }
}
