use crate::arrange::{Arrangement, Bar, Span};
use crate::band::Playing;
use crate::chart::{Role, Stop};
use crate::style::{Pattern, Slot};
use crate::time::Ticks;

/// A bar as one role reads it.
pub(super) struct BarView<'a> {
    pub song: &'a Arrangement,
    pub bar: &'a Bar,
    pub index: u32,
    pub next: Option<&'a Bar>,
    pub role: Role,
    pub pattern: &'a Pattern,
    pub after_run: bool,
}

impl BarView<'_> {
    /// How the role reads its bars.
    pub(super) const fn playing(&self) -> &'static Playing {
        &self.role.row().playing
    }

    /// The pattern's slots in this bar: each with its number and its place.
    pub(super) fn slots(&self) -> impl Iterator<Item = (u32, Ticks, Slot)> {
        let (start, end, length) = (self.bar.start, self.bar.end(), self.pattern.slot);
        let slots = self.pattern.slots.iter().copied().cycle();
        let numbered = (0..).zip(slots).map(move |(number, slot): (u32, Slot)| {
            (number, start + length * i64::from(number), slot)
        });
        numbered.take_while(move |&(_, at, _)| at < end && length > Ticks::ZERO)
    }

    /// True if the role sounds at the head of the bar.
    pub(super) fn heard(&self, bar: &Bar) -> bool {
        let silent = self.song.stops.get(bar.stops.clone()).unwrap_or_default().first();
        !bar.resting.contains(self.role) && silent.is_none_or(|stop| stop.stop != Stop::Silence)
    }

    pub(super) fn span(&self, index: usize) -> Option<&Span> {
        self.song.spans.get(index)
    }

    /// The stop that holds at a place of the bar.
    pub(super) fn stop_in_force(&self, at: Ticks) -> Stop {
        let stops = self.song.stops.get(self.bar.stops.clone()).unwrap_or_default();
        stops.iter().rfind(|stop| stop.start <= at).map_or(Stop::PlayOn, |stop| stop.stop)
    }

    pub(super) fn stop_at(&self, at: Ticks) -> Option<Stop> {
        let stops = self.song.stops.get(self.bar.stops.clone()).unwrap_or_default();
        stops.iter().find(|stop| stop.start == at).map(|stop| stop.stop)
    }
}
