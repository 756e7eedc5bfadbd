use super::{BeatPart, Shares};
use crate::arrange::Bar;
use crate::band::BeatShares;
use crate::chart::Role;
use crate::perform::{Note, Part, Performance};
use crate::time::{Meter, Ticks};

/// How a stroke is played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StrokeKind {
    /// One string or two.
    Note,
    /// More strings, left to ring.
    Strum,
    /// Choked at once.
    Chop,
}

impl StrokeKind {
    /// How far a role's stroke of the kind does the work of each part of the beat, in thousandths.
    pub(super) const fn work(self, role: Role) -> Shares {
        let covers = &role.row().covers;
        let BeatShares { down, back, and } = match self {
            Self::Note => covers.note,
            Self::Strum => covers.strum,
            Self::Chop => covers.chop,
        };
        Shares { down, back, and }
    }
}

/// What sounds no longer than this is choked, in milliseconds: chops and vamps of the shipped styles
/// are clipped at 80 to 110, and an eighth note lasts longer up to 240 quarters a minute.
const CHOKED_MILLIS: f64 = 125.0;

/// From so many strings on it is a strum: a pinch or a bass note with its neighbour is not yet one.
const STRUM: usize = 3;

/// What belongs to one stroke lies within this share of a pair of slots, as a divisor: wider than the
/// slowest strum at a usual tempo, narrower than the sixteenth that could come next.
const SPREAD: i64 = 5;

/// A stroke of one role.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct RoleStroke {
    /// The bar it belongs to, as counted in the arrangement.
    pub bar: usize,
    /// When its first string sounds.
    pub start: Ticks,
    /// The velocity of its loudest string.
    pub velocity: u8,
    /// How it is played.
    pub kind: StrokeKind,
}

/// The strokes of a part, in order.
pub(super) fn strokes(part: &Part, played: &Performance, meter: Meter) -> Vec<RoleStroke> {
    let reach = pair(meter).get() / SPREAD;
    let mut found = Vec::new();
    let mut rest = part.notes.as_slice();
    while let Some(first) = rest.first() {
        let together = |note: &&Note| (note.start - first.start).get() <= reach;
        let count = rest.iter().take_while(together).count().max(1);
        let (notes, after) = rest.split_at(count);
        rest = after;
        let choked = notes.iter().all(|note| {
            let length = played.nanos(note.end).0.saturating_sub(played.nanos(note.start).0);
            length as f64 / 1e6 <= CHOKED_MILLIS
        });
        // A single short string is a quick note, not a chop: but one that a bow bites off is.
        let several = notes.len() > 1 || part.role.row().covers.bites;
        let kind = if choked && several {
            StrokeKind::Chop
        } else if notes.len() >= STRUM {
            StrokeKind::Strum
        } else {
            StrokeKind::Note
        };
        let velocity = notes.iter().map(|note| note.velocity).max().unwrap_or(first.velocity);
        found.push(RoleStroke { bar: first.bar as usize, start: first.start, velocity, kind });
    }
    found
}

/// Two slots: what swing divides.
fn pair(meter: Meter) -> Ticks {
    BeatPart::grid(meter) * 2
}

/// Which slot of its bar a stroke falls on.
///
/// In a pair of slots the second lies anywhere from the middle to three quarters of the way, by the
/// swing; so all that is neither close to the pair's beginning nor to its end counts for it, a triplet's
/// and a sixteenth's too. 6/8 does not swing: there it is the nearest.
pub(super) fn slot_of(bar: &Bar, start: Ticks) -> usize {
    let step = BeatPart::grid(bar.gait).get();
    let (into, slots) = ((start - bar.start).get().max(0), bar.meter.bar().get() / step);
    let slot = if bar.gait == Meter::SixEight {
        (into * 2 + step) / (step * 2)
    } else {
        let pair = step * 2;
        let (whole, rest) = (into / pair, into % pair);
        // Feel and lean stay within a fifth of a pair before the beat and a sixth after it.
        let half = match rest {
            rest if rest * 5 < pair => 0,
            rest if rest * 6 < pair * 5 => 1,
            _ => 2,
        };
        whole * 2 + half
    };
    // What is late for the last slot of its bar is still of that bar.
    usize::try_from(slot.min(slots - 1)).unwrap_or(0)
}
