//! What the player plays alone: before the form, and after it.

use std::sync::Arc;

use super::maker::{Maker, choose, note};
use crate::arrange::BarKind;
use crate::backup::figure::Figure;
use crate::backup::lick::{FittedLick, LickSlot, Purpose};
use crate::backup::steps::{Step, meter_of};
use crate::backup::table::slot;
use crate::band::InTag;
use crate::chart::Role;
use crate::coverage::Job;
use crate::time::Ticks;

impl Maker<'_> {
    /// Kicks the song off, where that is the player's.
    pub(super) fn kickoff(&mut self) {
        let Some(bar) = self.song.kickoff_bars().checked_sub(1) else { return };
        let Some((own, first)) = self.song.bars.get(bar).zip(self.steps.first().copied()) else {
            return;
        };
        if self.plans.get(bar).is_none_or(|plan| plan.job != Job::Lead) || first.at != own.end() {
            return;
        }
        let Some(chord) = self.chord(&first) else { return };
        let found = self.licks(Purpose::Kickoff, &first, Some(chord));
        let from = Step { at: own.end(), bar, ..first };
        if let Some(choice) = self.alone(&found, from, own.end() - own.start) {
            let arrives = choice.arrives().filter(|_| first.open && !self.breaks(&first));
            let arrives = arrives.map(|slot| note(&first, slot, true));
            if let Some(figure) = self.made.last_mut() {
                // Where the band strikes together first, all fingers are wanted.
                if let Some(last) = figure.notes.last_mut().filter(|_| !first.open) {
                    last.slot = LickSlot::Ring;
                }
                figure.notes.extend(arrives);
            }
        }
    }

    /// Plays the tag's line, where nobody is left who would.
    pub(super) fn tag(&mut self) {
        let bars = &self.song.bars;
        let Some(bar) = bars.iter().position(|bar| bar.kind == BarKind::Tag) else { return };
        let Some((own, last)) = bars.get(bar).zip(bars.get(bar + 1)) else { return };
        let has_line = |role: Role| matches!(role.row().in_tag, InTag::Line | InTag::LowLine);
        let mut playing = self.song.band.iter().filter(|role| !own.resting.contains(*role));
        let length = slot(meter_of(self.song, own));
        if playing.any(has_line) || own.meter != last.meter {
            return;
        }
        // Up to where everyone strikes the last chord, in the middle of the last bar.
        let half = Ticks::new(last.meter.bar().get() / 2);
        let end = last.start + half;
        let from = Step { at: end, length, bar, span: own.spans.start, sung: false, open: true };
        let found = self.licks(Purpose::Tag, &from, None);
        self.alone(&found, from, end - own.start);
    }

    /// Plays a lick that ends right before a place outside the patterns, if there is room.
    pub(super) fn alone(
        &mut self,
        found: &[FittedLick],
        end: Step,
        room: Ticks,
    ) -> Option<FittedLick> {
        let length = |fitted: &FittedLick| end.length * fitted.lick.slots.len() as i64;
        let fitting: Vec<&FittedLick> =
            found.iter().filter(|fitted| length(fitted) <= room).collect();
        let choice = choose(&fitting, self.dice(b'k', &end), &[])?.clone();
        let start = end.at - length(&choice);
        let bar = |at: Ticks| self.song.bars.iter().rposition(|bar| bar.start <= at);
        let notes = (0..).zip(choice.slots()).map(|(number, slot)| {
            let at = start + end.length * number;
            note(&Step { at, bar: bar(at).unwrap_or(end.bar), ..end }, slot, false)
        });
        let name = Some(Arc::from(choice.lick.name.as_str()));
        let figure = Figure { name, during: start..end.at, notes: notes.collect(), leads: false };
        self.made.push(figure);
        Some(choice)
    }
}
