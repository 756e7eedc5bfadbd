use std::ops::RangeInclusive;

use super::arrangement::{Arrangement, Bar, MelodyNote, PassStart, Span, StopSpan};
use super::neighbours::look_round;
use crate::chart::MOST_BARS;
use crate::time::Ticks;

impl Arrangement {
    /// Some bars alone, by their numbers, again and again: `rounds` times one after the other, the
    /// last leading back to the first. Bars of a kickoff and of the ending are no part of it. Each
    /// round is a pass, and where the form begins a pass within it, so does the excerpt. It begins at
    /// 0, without a count-in, and its bars keep their numbers.
    ///
    /// More rounds than one differ where a style leaves something to chance. There are fewer than were
    /// asked for where they would have more than [`MOST_BARS`] bars.
    ///
    /// `None` if the arrangement has no bar of such a number in its form, or for no rounds.
    pub fn excerpt(&self, numbers: RangeInclusive<usize>, rounds: usize) -> Option<Self> {
        let one_round = self.round.unwrap_or(self.bars.len());
        let chosen: Vec<&Bar> = self
            .bars
            .iter()
            .take(one_round)
            .filter(|bar| numbers.contains(&bar.number) && self.is_of_form(bar))
            .collect();
        if chosen.is_empty() || rounds == 0 {
            return None;
        }
        let rounds = rounds.min(MOST_BARS / chosen.len()).max(1);
        let mut out = self.without_bars();
        for _ in 0..rounds {
            let mut pass = None;
            for &bar in &chosen {
                if pass != Some(bar.pass) {
                    pass = Some(bar.pass);
                    out.begin_pass(self, bar);
                }
                out.append(self, bar);
            }
        }
        look_round(&mut out.bars, &out.spans, true);
        out.round = Some(chosen.len());
        Some(out)
    }

    /// A round and its first bar once more after the end, which stays where it is: so that what is
    /// played at the end of a round knows what comes. `None` for a song that ends.
    pub(crate) fn led_back(&self) -> Option<Self> {
        self.round?;
        let first = self.bars.first()?;
        let mut out = self.clone();
        out.append(self, first);
        out.end = self.end;
        Some(out)
    }

    fn without_bars(&self) -> Self {
        Self {
            title: self.title.clone(),
            chords: self.chords.clone(),
            kickoff: None,
            bars: Vec::new(),
            spans: Vec::new(),
            stops: Vec::new(),
            melody: Vec::new(),
            passes: Vec::new(),
            count_in: 0,
            start: Ticks::ZERO,
            end: Ticks::ZERO,
            ..*self
        }
    }

    fn begin_pass(&mut self, of: &Self, bar: &Bar) {
        if let Some(pass) = of.passes.get(bar.pass) {
            self.passes.push(PassStart { start: self.end, ..pass.clone() });
        }
    }

    /// Adds a bar of another arrangement with the same chords, where this one ends.
    fn append(&mut self, of: &Self, bar: &Bar) {
        let later = self.end - bar.start;
        let mut first = self.spans.len();
        for (index, span) in of.spans.get(bar.spans.clone()).unwrap_or_default().iter().enumerate()
        {
            let start = span.start.max(bar.start) + later;
            let end = span.end.min(bar.end()) + later;
            match self.spans.last_mut() {
                Some(last) if last.chord == span.chord => {
                    last.end = end;
                    if index == 0 {
                        first -= 1;
                    }
                }
                _ => self.spans.push(Span { start, end, chord: span.chord }),
            }
        }
        let stops = self.stops.len();
        let own = of.stops.get(bar.stops.clone()).unwrap_or_default();
        self.stops.extend(own.iter().map(|s| StopSpan { start: s.start + later, stop: s.stop }));
        let melody = bar.melody.clone().map(|notes| {
            let first = self.melody.len();
            let own = of.melody.get(notes).unwrap_or_default().iter();
            self.melody.extend(own.map(|note| MelodyNote {
                start: note.start + later,
                end: note.end + later,
                ..*note
            }));
            first..self.melody.len()
        });
        self.bars.push(Bar {
            start: self.end,
            spans: first..self.spans.len(),
            stops: stops..self.stops.len(),
            melody,
            pass: self.passes.len().saturating_sub(1),
            ..bar.clone()
        });
        self.end += bar.meter.bar();
    }
}
