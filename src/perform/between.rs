use super::{Note, Part, Performance, Slowing};
use crate::arrange::Arrangement;
use crate::time::Ticks;

impl Performance {
    /// What is played between two bar lines of the song alone, from 0 on and without a count-in: the notes that
    /// belong to its bars, and the meter, chord, pass and tempo that hold there. Nothing sounds past its end.
    #[must_use]
    pub fn between(&self, song: &Arrangement, from: Ticks, to: Ticks) -> Self {
        let length = to - from;
        let belongs = |note: &&Note| {
            let bar = song.bars.get(note.bar as usize);
            bar.is_some_and(|bar| bar.start >= from && bar.start < to)
        };
        let note = |note: &Note| {
            // Feel may have it begin before its bar line.
            let start = (note.start - from).max(Ticks::ZERO);
            let end = (note.end - from).min(length).max(start + Ticks::new(1));
            Note { start, end, bar: note.bar, ..*note }
        };
        let parts = self.parts.iter().map(|part| Part {
            role: part.role,
            instrument: part.instrument,
            programs: within(&part.programs, from, to),
            notes: part.notes.iter().filter(belongs).map(note).collect(),
        });
        let slowing: Vec<(Ticks, u32)> =
            self.slowing.iter().map(|slowing| (slowing.at, slowing.permille)).collect();
        Self {
            title: self.title.clone(),
            slowing: within(&slowing, from, to)
                .into_iter()
                .map(|(at, permille)| Slowing { at, permille })
                .collect(),
            meters: within(&self.meters, from, to),
            markers: within(&self.markers, from, to),
            cues: self
                .cues
                .iter()
                .filter(|(at, _)| (from..to).contains(at))
                .map(|(at, name)| (*at - from, *name))
                .collect(),
            chords: within(&self.chords, from, to),
            touch: self.touch.clone(),
            parts: parts.filter(|part| !part.notes.is_empty()).collect(),
            clicks: Vec::new(),
            song_start: Ticks::ZERO,
            end: length,
            ..*self
        }
    }
}

/// What holds from its place on until the next: what holds at `from` already, and what comes before `to`.
fn within<T: Clone>(all: &[(Ticks, T)], from: Ticks, to: Ticks) -> Vec<(Ticks, T)> {
    let first = all.partition_point(|(at, _)| *at <= from).saturating_sub(1);
    let of = all.get(first..).unwrap_or_default().iter().filter(|(at, _)| *at < to);
    of.map(|(at, what)| ((*at - from).max(Ticks::ZERO), what.clone())).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_holds_at_the_beginning_is_kept() {
        let all: Vec<(Ticks, char)> =
            [(0, 'a'), (10, 'b'), (20, 'c')].map(|(at, c)| (Ticks::new(at), c)).to_vec();
        let words = |from, to| -> Vec<(i64, char)> {
            let kept = within(&all, Ticks::new(from), Ticks::new(to));
            kept.into_iter().map(|(at, c)| (at.get(), c)).collect()
        };
        assert_eq!(words(0, 20), [(0, 'a'), (10, 'b')]);
        assert_eq!(words(15, 40), [(0, 'b'), (5, 'c')]);
        assert_eq!(words(20, 30), [(0, 'c')]);
        assert!(within::<char>(&[], Ticks::ZERO, Ticks::new(5)).is_empty());
    }
}
