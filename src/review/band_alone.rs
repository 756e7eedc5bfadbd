//! Whether what is heard is the band itself, out of a loudspeaker or in the recording, and nobody beside it.

use super::trend::median;
use crate::perform::Performance;
use crate::take::Hit;

/// How far a stroke of the band that is heard may be off, in seconds, as a room and an ear blur it.
const NEAR: f64 = 0.012;

/// Into how long pieces differences in time are counted, in seconds.
const PIECE: f64 = 0.004;

/// So many strokes tell; more tell nothing new.
const TELLING: usize = 240;

/// The band alone: so large a share of the strokes are its own in time, and of those so many have a note that it
/// strikes there. A player strikes where the band leaves room, and other notes.
const ALONE: (f64, f64) = (0.9, 0.75);

/// How large a share of the band's strokes is heard, and how far off the middle one is at most, in seconds: what an ear
/// errs. A player strays by some 6 ms, and the band by as much in another way: of both together the middle stroke is 5 ms
/// off. Of a band in a room a third may be heard, and that to the millisecond, as no hand is; softly, in noise, nearly
/// all of it, and less finely.
const HEARD: [(f64, f64); 2] = [(0.5, 0.0032), (0.2, 0.0016)];

/// What makes it likely, and sure where hardly anything of what the band leaves open is played: somewhat fewer strokes are
/// the band's own in time, since an ear makes some up, but nearly all of those have its notes.
const LIKELY: (f64, f64) = (0.85, 0.9);

/// The same as [`HEARD`], where that alone is asked for: a soft band in a room blurs more.
const BLURRED: [(f64, f64); 2] = [(0.5, 0.0045), (0.2, 0.0016)];

/// A take of more seconds is no recording of a song.
const LONGEST: f64 = 6.0 * 3600.0;

/// The fewest strokes for it.
const FEWEST: usize = 8;

/// How much like the band's own the strokes of a take are.
#[derive(Clone, Copy, Debug)]
pub(super) struct Likeness {
    /// The share of the strokes that are its own in time.
    own: f64,
    /// The share of the band's strokes that are heard.
    heard: f64,
    /// How far off the middle one is, in seconds.
    stray: f64,
    /// Of its own, the share whose notes were made out.
    known: f64,
    /// The share of those with a note that the band strikes there.
    same: f64,
}

impl Likeness {
    /// True if it is the band and nobody beside it.
    pub(super) fn is_band_alone(self) -> bool {
        self.within(ALONE, HEARD)
    }

    /// True if it is, where a player left open what was theirs.
    pub(super) fn may_be_band_alone(self) -> bool {
        self.within(LIKELY, BLURRED)
    }

    fn within(self, (own, same): (f64, f64), heard: [(f64, f64); 2]) -> bool {
        self.own >= own
            && heard.iter().any(|(least, off)| self.heard >= *least && self.stray <= *off)
            && self.known >= 0.5
            && self.same >= same
    }
}

/// How much like the band's own the strokes of a take are; `None` of few strokes, and where there is no band.
pub(super) fn likeness(played: &Performance, hits: &[&Hit]) -> Option<Likeness> {
    if hits.len() < FEWEST {
        return None;
    }
    let mut notes: Vec<(f64, u8)> = played
        .parts
        .iter()
        .flat_map(|part| &part.notes)
        .map(|note| (played.nanos(note.start).seconds(), note.pitch.get()))
        .collect();
    notes.sort_by(|one, other| one.0.total_cmp(&other.0));
    let end = notes.last()?.0;
    // What begins together is one stroke.
    let mut strokes: Vec<(f64, std::ops::Range<usize>)> = Vec::new();
    for (index, &(time, _)) in notes.iter().enumerate() {
        match strokes.last_mut() {
            Some((first, range)) if time - *first < 3.0 * NEAR => range.end = index + 1,
            _ => strokes.push((time, index..index + 1)),
        }
    }
    let every = hits.len().div_ceil(TELLING).max(1);
    let heard: Vec<&Hit> = hits.iter().step_by(every).copied().collect();
    let first = heard.first().map_or(0.0, |hit| hit.at.seconds());
    let last = heard.last().map_or(0.0, |hit| hit.at.seconds());
    if last - first > LONGEST {
        return None;
    }
    // Where the band would have to begin for most strokes to be its own.
    let pieces = ((end + last - first) / PIECE) as usize + 2;
    let mut counts = vec![0_u32; pieces];
    for hit in &heard {
        for (time, _) in &strokes {
            let piece = (hit.at.seconds() - first - time + end) / PIECE;
            if let Some(count) = counts.get_mut(piece as usize) {
                *count += 1;
            }
        }
    }
    let three = |at: usize| counts.get(at..at + 3).unwrap_or_default().iter().sum::<u32>();
    let best =
        (0..pieces.saturating_sub(2)).max_by_key(|&at| (three(at), std::cmp::Reverse(at)))?;
    let begins = (best as f64 + 1.5) * PIECE - end + first;
    let nearest = |times: &mut dyn Iterator<Item = f64>, at: f64| {
        times.map(|time| at - time).min_by(|one, other| one.abs().total_cmp(&other.abs()))
    };
    let (mut off, mut known, mut same) = (Vec::new(), 0_usize, 0_usize);
    for hit in &heard {
        let at = hit.at.seconds() - begins;
        let after = strokes.partition_point(|(time, _)| *time < at);
        let near = strokes.get(after.saturating_sub(1)..(after + 1).min(strokes.len()));
        let near = near.unwrap_or_default();
        let Some(late) = nearest(&mut near.iter().map(|stroke| stroke.0), at) else { continue };
        if late.abs() > NEAR {
            continue;
        }
        off.push(late);
        let stroke = near.iter().find(|stroke| at - stroke.0 == late);
        let notes = stroke.and_then(|stroke| notes.get(stroke.1.clone())).unwrap_or_default();
        known += usize::from(!hit.pitches.is_empty());
        let struck = |pitch: u8| notes.iter().any(|(_, note)| *note == pitch);
        same += usize::from(hit.pitches.iter().any(|pitch| struck(pitch.get())));
    }
    let share = |part: usize, of: usize| part as f64 / of.max(1) as f64;
    let own = off.len();
    let middle = median(&off);
    let stray = median(&off.iter().map(|late| (late - middle).abs()).collect::<Vec<f64>>());
    let reach = first - begins - NEAR..=last - begins + NEAR;
    let within = strokes.iter().filter(|stroke| reach.contains(&stroke.0)).count();
    Some(Likeness {
        own: share(own, heard.len()),
        heard: share(own * every, within),
        stray,
        known: share(known, own),
        same: share(same, known),
    })
}
