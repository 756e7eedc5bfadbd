//! A player who is heard through a microphone while the band plays: kept by a thread of its own, which listens in passing.

use std::path::Path;
use std::thread;
use std::time::{Duration, Instant};

use crossbeam_channel::{Receiver, RecvTimeoutError, Sender, bounded, unbounded};

use super::growing::GrowingTake;
use crate::cli::failure::{Failure, tell};
use crate::cli::files::Latencies;
use crate::hear::{Passing, RATE, Resampler, Sound, Unheard, hear};
use crate::input::MOST_HOURS;
use crate::sink::{Captured, Microphone, quietly};
use crate::take::Hit;
use crate::time::Nanos;

/// How often what has come is fetched: there is room for seconds of it.
const FETCH: Duration = Duration::from_millis(50);

/// Where the device's word for its own delay has been averaged: what came before is reckoned from there.
const SETTLED: usize = 40;

/// Samples that are kept at most.
const MOST: usize = MOST_HOURS as usize * 3_600 * RATE as usize;

/// A microphone that is heard.
pub(super) struct Ears {
    /// Its name.
    pub name: String,
    /// Strokes that are heard in passing, at their time.
    pub fresh: Receiver<Hit>,
    /// What the player should hear of.
    pub notices: Receiver<String>,
    latency: Nanos,
    stop: Sender<()>,
    thread: thread::JoinHandle<Kept>,
}

/// What was kept of a player.
pub(super) struct Kept {
    /// Its file, if that was asked for.
    pub file: Option<GrowingTake>,
    rate: u32,
    heard: Vec<f32>,
    times: Times,
    missed: u64,
}

/// When which frame was at the microphone.
#[derive(Debug, Default)]
struct Times {
    frames: Vec<(u64, Nanos)>,
    rate: u32,
}

impl Ears {
    /// Opens the microphone with that in its name, or the default one. What it hears is taken to be so many milliseconds
    /// late, or as many as were measured; `file` is where it is to be kept as it comes.
    pub(super) fn open(
        asked: Option<&str>,
        latency: Option<f64>,
        file: Option<&Path>,
        epoch: Instant,
    ) -> Result<Self, Failure> {
        let (send, opened) = bounded(1);
        let (stop, stopped) = bounded::<()>(0);
        let (pass, fresh) = unbounded();
        let (note, notices) = unbounded();
        let asked = asked.map(str::to_owned);
        let file = file.map(Path::to_owned);
        // A device's stream stays on the thread that opened it: on some systems it can't leave.
        let thread = thread::Builder::new()
            .name("openchair-microphone".to_owned())
            .spawn(move || {
                let microphone = match quietly(|| Microphone::open(asked.as_deref(), epoch)) {
                    Ok(microphone) => microphone,
                    Err(why) => {
                        let _ = send.send(Err(why));
                        return Kept::new(0, None);
                    }
                };
                let _ = send.send(Ok(microphone.name.clone()));
                listen(microphone, file.as_deref(), &stopped, &pass, &note)
            })
            .map_err(Failure::failed)?;
        let name = opened.recv().map_err(Failure::failed)?.map_err(Failure::failed)?;
        let latency = match latency {
            Some(millis) => millis,
            None => measured(&name),
        };
        let latency = Nanos((latency * 1e6) as i64);
        Ok(Self { name, fresh, notices, latency, stop, thread })
    }

    /// When a stroke was played that was at the microphone at a time.
    pub(super) fn played(&self, at: Nanos) -> Nanos {
        Nanos(at.0 - self.latency.0)
    }

    /// Listens no more. Gives what was kept, and how late it is.
    pub(super) fn stop(self) -> Result<(Kept, Nanos), Failure> {
        drop(self.stop);
        let kept = self.thread.join();
        let kept = kept.map_err(|_| Failure::failed("what listens at the microphone broke off"))?;
        Ok((kept, self.latency))
    }
}

/// What was measured of a microphone; 0, and how to measure, if nothing was.
fn measured(name: &str) -> f64 {
    match Latencies::read() {
        Ok(all) => {
            if let Some(latency) = all.of(name) {
                return latency.milliseconds;
            }
            tell(format!(
                "how late {name:?} hears you was never measured, so early and late are not to be trusted: \
                 openchair latency measures it once"
            ));
        }
        Err(Failure::Failed(why) | Failure::Usage(why) | Failure::Stopped(why, _)) => tell(why),
        Err(Failure::Wrong(..)) => {}
    }
    0.0
}

/// Fetches what comes until it is stopped.
fn listen(
    mut microphone: Microphone,
    file: Option<&Path>,
    stopped: &Receiver<()>,
    pass: &Sender<Hit>,
    note: &Sender<String>,
) -> Kept {
    let mut kept = Kept::new(microphone.rate, file);
    let mut resampler = Resampler::new(microphone.rate);
    let (mut looked, mut passing, mut gone) = (0, Passing::default(), false);
    loop {
        let goes_on = stopped.recv_timeout(FETCH) == Err(RecvTimeoutError::Timeout);
        kept.fetch(&mut microphone.captured, &mut resampler);
        if kept.heard.len() >= looked + Passing::EVERY && goes_on {
            looked = kept.heard.len();
            for hit in kept.in_passing(&mut passing) {
                let _ = pass.send(hit);
            }
        }
        if let Some(why) = microphone.captured.failure().filter(|_| !gone) {
            gone = true;
            let _ = note.send(why.to_string());
        }
        if !goes_on {
            break;
        }
    }
    kept.missed = microphone.captured.missed();
    drop(microphone);
    resampler.finish(&mut kept.heard);
    kept
}

impl Kept {
    fn new(rate: u32, file: Option<&Path>) -> Self {
        let times = Times { frames: Vec::new(), rate };
        let file = file.map(|path| GrowingTake::new(path, rate));
        Self { file, rate, heard: Vec::new(), times, missed: 0 }
    }

    fn fetch(&mut self, captured: &mut Captured, resampler: &mut Resampler) {
        let mut block = Vec::new();
        let Some(time) = captured.read(&mut block) else { return };
        if self.heard.len() >= MOST {
            return;
        }
        self.times.frames.push(time);
        resampler.push(&block, &mut self.heard);
        if let Some(file) = &mut self.file {
            file.push(&block);
        }
    }

    /// The strokes that came since.
    fn in_passing(&self, passing: &mut Passing) -> Vec<Hit> {
        let fresh = passing.fresh(&self.heard).into_iter();
        let at = |hit: &Hit| self.times.at(hit.at.seconds() * f64::from(RATE));
        fresh.filter_map(|hit| Some(Hit { at: at(&hit)?, ..hit })).collect()
    }

    /// All strokes, each when it was at the microphone.
    ///
    /// # Errors
    /// [`Unheard`].
    pub(super) fn strokes(self) -> Result<Vec<Hit>, Unheard> {
        if self.missed > 0 {
            tell(format!(
                "{:.1} seconds of the microphone came while the machine was held up, and are lost",
                self.missed as f64 / f64::from(self.rate.max(1))
            ));
        }
        let sound = Sound::new(self.heard, 1, RATE);
        let hits = hear(&sound.samples, sound.rate)?.take.hits.into_iter();
        let at = |hit: &Hit| self.times.at(hit.at.seconds() * f64::from(RATE));
        Ok(hits.filter_map(|hit| Some(Hit { at: at(&hit)?, ..hit })).collect())
    }
}

impl Times {
    /// When a sample at [`RATE`] was at the microphone.
    fn at(&self, sample: f64) -> Option<Nanos> {
        let frame = sample * f64::from(self.rate) / f64::from(RATE);
        let next = self.frames.partition_point(|(first, _)| *first as f64 <= frame);
        let settled = SETTLED.min(self.frames.len().saturating_sub(1));
        let (first, at) = self.frames.get(next.saturating_sub(1).max(settled))?;
        let since = (frame - *first as f64) / f64::from(self.rate.max(1));
        Some(Nanos(at.0 + (since * 1e9).round() as i64))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_reckoned_from_where_the_device_has_settled() {
        let frames = (0..100).map(|n: u64| {
            let off = if n < 20 { 3_000_000 } else { 0 };
            (n * 2_400, Nanos(1_000_000_000 + n as i64 * 50_000_000 + off))
        });
        let times = Times { frames: frames.collect(), rate: 48_000 };
        for seconds in [0.0, 0.5, 1.0, 3.21, 4.99, 5.2] {
            let at = times.at(seconds * f64::from(RATE)).unwrap();
            let off = at.0 - 1_000_000_000 - (seconds * 1e9) as i64;
            assert!(off.abs() < 1_000, "{seconds}: {off}");
        }
        assert_eq!(Times::default().at(5.0), None);
    }
}
