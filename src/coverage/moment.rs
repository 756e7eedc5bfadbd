use super::facts::Moment;
use crate::arrange::{Arrangement, Bar, BarKind};
use crate::chart::{Lead, RoleSet, Stop};
use crate::time::Ticks;

impl Moment {
    /// True where the band plays on.
    pub(super) const fn is_groove(self) -> bool {
        matches!(self, Self::Groove)
    }
}

/// What happens in a bar besides the groove.
pub(super) fn moment(song: &Arrangement, bar: &Bar, silenced: RoleSet) -> Moment {
    match bar.kind {
        BarKind::Kickoff => {
            let players = song.kickoff.map_or(RoleSet::EMPTY, |kickoff| kickoff.players);
            let out = bar.resting.union(silenced);
            let plays = players.iter().any(|role| song.band.contains(role) && !out.contains(role));
            // A singer begins alone.
            let plays = plays || players.is_empty();
            if plays { Moment::Kickoff } else { Moment::KickoffOpen }
        }
        BarKind::Tag => Moment::Tag,
        BarKind::ColdEnd => Moment::ColdEnd,
        BarKind::TagEnd | BarKind::FinalHit => Moment::LastChord,
        BarKind::Groove if silent(song, bar).get() * 2 >= bar.meter.bar().get() => Moment::Stop,
        BarKind::Groove => Moment::Groove,
    }
}

/// For how long of a bar there is nothing to play on: stops, and no chord.
fn silent(song: &Arrangement, bar: &Bar) -> Ticks {
    let stops = song.stops.get(bar.stops.clone()).unwrap_or_default();
    let ends = stops.iter().skip(1).map(|next| next.start).chain([bar.end()]);
    let stopped: Ticks = stops
        .iter()
        .zip(ends)
        .filter(|(stop, _)| stop.stop != Stop::PlayOn)
        .map(|(stop, end)| end - stop.start)
        .sum();
    let spans = song.spans.get(bar.spans.clone()).unwrap_or_default();
    let chordless: Ticks = spans
        .iter()
        .filter(|span| span.chord.is_none())
        .map(|span| span.end.min(bar.end()) - span.start.max(bar.start))
        .sum();
    stopped.max(chordless)
}

/// True where the pass is the player's own: the banjo leads, or the chair of whoever leads is open; and
/// nobody in the band plays that lead.
pub(super) fn player_leads(
    song: &Arrangement,
    bar: &Bar,
    lead: Option<Lead>,
    lead_sounds: bool,
    silenced: RoleSet,
) -> bool {
    let leader = |roles: RoleSet| roles.iter().any(|role| role.row().is_leader);
    let chair_open = leader(song.band) && (leader(bar.resting) || leader(silenced));
    match lead {
        None | Some(Lead::Voice) => false,
        Some(lead) => !lead_sounds && (lead == Lead::Banjo || chair_open),
    }
}
