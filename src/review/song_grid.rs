use crate::arrange::Arrangement;
use crate::coverage::{BeatPart, Coverage, Job};
use crate::perform::Performance;
use crate::time::{Nanos, Ticks};

/// Below this much of a place covered, in thousandths, it is open.
const OPEN: u16 = 500;

/// A place of the song where somebody may strike.
#[derive(Clone, Copy, Debug)]
pub(super) struct Spot {
    /// When the band would strike there, in seconds from the song's first beat: swung, and slower where the
    /// ending slows down.
    pub time: f64,
    /// Where it is written, on the even grid.
    pub at: Ticks,
    /// The part of the beat.
    pub place: BeatPart,
    /// Its bar, in [`Arrangement::bars`].
    pub bar: usize,
    /// What is to be done there.
    pub job: Job,
    /// True if it was left open and the player's job is to fill it.
    pub open: bool,
    /// True before the ending slows down.
    pub steady: bool,
}

/// Everywhere that somebody may strike, in order.
#[derive(Clone, Debug)]
pub(super) struct SongGrid {
    /// The places.
    pub spots: Vec<Spot>,
    /// From when on the ending slows down, in seconds.
    pub slows: f64,
}

impl SongGrid {
    pub(super) fn new(song: &Arrangement, played: &Performance, coverage: &Coverage) -> Self {
        let start = played.nanos(song.start);
        let seconds = |at| Nanos(played.nanos(at).0.saturating_sub(start.0)).seconds();
        let slows = played.slowing.first().map(|slowing| slowing.at);
        let spots = song
            .bars
            .iter()
            .zip(&coverage.bars)
            .enumerate()
            .flat_map(|(bar, (_, covered))| {
                let job = covered.job;
                covered.slots.iter().map(move |slot| (bar, job, slot))
            })
            .map(|(bar, job, slot)| Spot {
                time: seconds(played.swing.moved(slot.at)),
                at: slot.at,
                place: slot.place,
                bar,
                job,
                open: slot.level < OPEN && wants(job, slot.place),
                steady: slows.is_none_or(|slows| slot.at < slows),
            })
            .collect();
        Self { spots, slows: slows.map_or(f64::INFINITY, seconds) }
    }

    /// The same where every second eighth comes so many seconds later.
    pub(super) fn swung_by(&self, later: f64) -> Self {
        let mut swung = self.clone();
        for spot in swung.spots.iter_mut().filter(|spot| spot.place == BeatPart::And) {
            spot.time += later;
        }
        swung
    }

    /// The place nearest to a time.
    pub(super) fn nearest(&self, time: f64) -> Option<(usize, &Spot)> {
        let after = self.spots.partition_point(|spot| spot.time < time);
        let near = after.saturating_sub(1)..(after + 1).min(self.spots.len());
        let off = |spot: &Spot| (spot.time - time).abs();
        near.filter_map(|index| self.spots.get(index).map(|spot| (index, spot)))
            .min_by(|(_, one), (_, other)| off(one).total_cmp(&off(other)))
    }

    /// How far a place is from the nearer of its neighbours, in seconds.
    pub(super) fn room(&self, index: usize) -> f64 {
        let time = |index: usize| self.spots.get(index).map(|spot| spot.time);
        let here = time(index).unwrap_or(0.0);
        let gaps = [index.checked_sub(1).and_then(time), time(index + 1)];
        gaps.into_iter().flatten().map(|other| (other - here).abs()).fold(f64::INFINITY, f64::min)
    }
}

/// True if it is the job to play at this part of the beat.
const fn wants(job: Job, place: BeatPart) -> bool {
    match job {
        Job::Boom => matches!(place, BeatPart::Down),
        Job::Vamp => matches!(place, BeatPart::Back),
        Job::BoomVamp => matches!(place, BeatPart::Down | BeatPart::Back),
        Job::Roll | Job::RollSoft | Job::RollWith => matches!(place, BeatPart::And),
        Job::Lead | Job::Rest | Job::Fill | Job::Sparse => false,
    }
}
