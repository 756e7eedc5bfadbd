use super::Note;
use crate::theory::MidiNote;
use crate::time::Ticks;

/// The most strings that an instrument of the band has.
pub(super) const STRINGS: usize = 6;

/// How long a choked hit sounds, in milliseconds: a stroke and the hand back on the strings (common
/// practice, no source).
pub(super) const CHOKE_MILLIS: f64 = 120.0;

/// A player's instrument: at most one note a string, and no pitch sounding twice.
///
/// A note lasts until its string is struck again, damped, or has rung for as long as the stroke lets it.
#[derive(Clone, Debug)]
pub(super) struct Strings {
    sounding: [Option<Sounding>; STRINGS],
    notes: Vec<Note>,
    /// The latest strike. Nothing happens before it any more: a player has one pick, and a stroke
    /// begins once the last string of the stroke before it is struck.
    reached: Ticks,
    end: Ticks,
    /// How many of the notes belong to the round, once it is over.
    round: Option<usize>,
    /// The bar that is being played.
    bar: u32,
}

#[derive(Clone, Copy, Debug)]
struct Sounding {
    /// Its place among the notes.
    note: usize,
    ring: Ring,
}

/// How long a stroke sounds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Ring {
    /// The share of its time until the next stroke or damp, above 0 and at most 1.
    pub share: f64,
    /// The longest it sounds.
    pub at_most: Option<Ticks>,
}

impl Strings {
    /// An instrument of a performance that ends at `end`.
    pub(super) fn new(end: Ticks) -> Self {
        Self {
            sounding: [None; STRINGS],
            notes: Vec::new(),
            reached: Ticks::ZERO,
            end,
            round: None,
            bar: 0,
        }
    }

    /// From now on notes belong to that bar.
    pub(super) const fn set_bar(&mut self, bar: u32) {
        self.bar = bar;
    }

    /// Strikes a string.
    pub(super) fn strike(
        &mut self,
        string: usize,
        at: Ticks,
        pitch: MidiNote,
        velocity: u8,
        ring: Ring,
    ) {
        let at = at.max(self.reached);
        if at >= self.end || string >= STRINGS {
            return;
        }
        if let Some((twin, since)) = self.twin(string, pitch) {
            if since >= at {
                return;
            }
            self.damp(twin, at);
        }
        let at = self.note(string).map_or(at, |note| at.max(note.start + Ticks::new(1)));
        self.reached = at;
        self.damp(string, at);
        if let Some(slot) = self.sounding.get_mut(string) {
            *slot = Some(Sounding { note: self.notes.len(), ring });
            self.push(at, pitch, velocity, None);
        }
    }

    /// The other string that sounds a pitch, and since when.
    fn twin(&self, string: usize, pitch: MidiNote) -> Option<(usize, Ticks)> {
        let others = (0..STRINGS).filter(|other| *other != string);
        let mut sounding = others.filter_map(|other| Some((other, self.note(other)?)));
        let (twin, note) = sounding.find(|(_, note)| note.pitch == pitch)?;
        Some((twin, note.start))
    }

    fn push(&mut self, start: Ticks, pitch: MidiNote, velocity: u8, slurred: Option<MidiNote>) {
        let (end, bar) = (self.end, self.bar);
        self.notes.push(Note { start, end, pitch, velocity, slurred, bar });
    }

    /// Takes a string that sounds to another pitch without striking it: the note before ends as the new one
    /// begins, for the hand holds it until then, however long it was to ring. A string that does not sound stays
    /// silent, and so does one whose new pitch is struck on another there.
    pub(super) fn slur(
        &mut self,
        string: usize,
        at: Ticks,
        pitch: MidiNote,
        velocity: u8,
        ring: Ring,
    ) {
        let at = at.max(self.reached);
        let Some((from, start)) = self.note(string).map(|note| (note.pitch, note.start)) else {
            return;
        };
        if at >= self.end || start >= at || from == pitch {
            return;
        }
        if let Some((twin, since)) = self.twin(string, pitch) {
            if since >= at {
                self.damp(string, at);
                return;
            }
            self.damp(twin, at);
        }
        self.reached = at;
        self.go_on(string, at, pitch, velocity, ring);
    }

    /// Slides a string that sounds to another pitch, which it reaches at `at`: over the half steps between, each
    /// as long as `step` at most, and all in the second half of the note before at the soonest.
    pub(super) fn slide(
        &mut self,
        string: usize,
        at: Ticks,
        pitch: MidiNote,
        (velocity, passing): (u8, u8),
        (step, ring): (Ticks, Ring),
    ) {
        let at = at.max(self.reached);
        let Some((from, start)) = self.note(string).map(|note| (note.pitch, note.start)) else {
            return;
        };
        let up = pitch.get() > from.get();
        let between = i64::from(pitch.get().abs_diff(from.get())).max(1) - 1;
        let step = step.get().min((at - start).get() / 2 / between.max(1));
        if step > 0 && at < self.end {
            for done in 1..=between {
                let place = at - Ticks::new(step * (between - done + 1));
                let by = if up { done } else { -done };
                let fret = MidiNote::clamped(i32::from(from.get()) + by as i32);
                // One that another string sounds is passed over.
                let last = self.notes.len().saturating_sub(STRINGS * 2);
                let sounds = self
                    .notes
                    .iter()
                    .skip(last)
                    .any(|note| note.pitch == fret && note.end > place && note.start < at);
                if !sounds {
                    self.go_on(string, place, fret, passing, ring);
                }
            }
        }
        self.slur(string, at, pitch, velocity, ring);
    }

    /// The note of a string ends, and its next begins there.
    fn go_on(&mut self, string: usize, at: Ticks, pitch: MidiNote, velocity: u8, ring: Ring) {
        let Some(sounding) = self.sounding.get_mut(string).and_then(Option::as_mut) else { return };
        let next = Sounding { note: self.notes.len(), ring };
        let before = std::mem::replace(sounding, next).note;
        let Some(before) = self.notes.get_mut(before) else { return };
        before.end = at;
        let from = before.pitch;
        self.push(at, pitch, velocity, Some(from));
    }

    /// Damps a string, if it sounds. One that the pick only reaches then is not struck at all.
    pub(super) fn damp(&mut self, string: usize, at: Ticks) {
        let Some(Sounding { note, ring }) = self.sounding.get_mut(string).and_then(Option::take)
        else {
            return;
        };
        let at = at.max(self.reached);
        if let Some(note) = self.notes.get_mut(note) {
            if note.start >= at {
                note.end = note.start;
                return;
            }
            note.end = ring.end(note.start, at).min(self.end).max(note.start + Ticks::new(1));
        }
    }

    /// Damps every string.
    pub(super) fn damp_all(&mut self, at: Ticks) {
        (0..STRINGS).for_each(|string| self.damp(string, at));
    }

    /// Ends the round: what is struck from now on only stops what rings.
    pub(super) fn end_round(&mut self) {
        self.round = Some(self.notes.len());
    }

    /// The pitch that a string sounds.
    pub(super) fn pitch(&self, string: usize) -> Option<MidiNote> {
        self.note(string).map(|note| note.pitch)
    }

    fn note(&self, string: usize) -> Option<&Note> {
        self.notes.get(self.sounding.get(string).copied().flatten()?.note)
    }

    /// All that was played, by start; what is slurred there first, then by pitch.
    pub(super) fn finish(mut self) -> Vec<Note> {
        self.damp_all(self.end);
        self.notes.truncate(self.round.unwrap_or(usize::MAX));
        self.notes.retain(|note| note.start < note.end);
        // A string that goes on leaves its pitch free for one that is struck; of several each for the next.
        let pitch = |note: &Note| if note.slurred.is_none() { note.pitch.get() } else { 0 };
        self.notes.sort_by_key(|note| (note.start, note.slurred.is_none(), pitch(note)));
        self.notes
    }
}

impl Ring {
    /// Rings until it is stopped.
    pub(super) const FULL: Self = Self { share: 1.0, at_most: None };

    fn end(self, start: Ticks, stopped: Ticks) -> Ticks {
        let whole = (stopped - start).get();
        let rung = Ticks::new((whole as f64 * self.share).round() as i64);
        start + self.at_most.map_or(rung, |most| rung.min(most))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn note(n: u8) -> MidiNote {
        MidiNote::new(n).unwrap()
    }

    fn played(strings: Strings) -> Vec<(i64, i64, u8)> {
        strings.finish().iter().map(|n| (n.start.get(), n.end.get(), n.pitch.get())).collect()
    }

    #[test]
    fn a_string_sounds_one_note_at_a_time() {
        let mut strings = Strings::new(Ticks::new(1000));
        strings.strike(0, Ticks::new(0), note(40), 80, Ring::FULL);
        strings.strike(0, Ticks::new(100), note(43), 80, Ring { share: 0.5, at_most: None });
        strings.damp(0, Ticks::new(200));
        assert_eq!(played(strings), [(0, 100, 40), (100, 150, 43)]);
    }

    #[test]
    fn a_pitch_sounds_on_one_string_at_a_time() {
        let mut strings = Strings::new(Ticks::new(1000));
        strings.strike(0, Ticks::new(0), note(50), 80, Ring::FULL);
        strings.strike(1, Ticks::new(100), note(50), 80, Ring::FULL);
        strings.strike(2, Ticks::new(100), note(50), 80, Ring::FULL);
        assert_eq!(played(strings), [(0, 100, 50), (100, 1000, 50)]);
    }

    #[test]
    fn a_stroke_waits_for_the_end_of_the_one_before() {
        let mut strings = Strings::new(Ticks::new(1000));
        strings.strike(4, Ticks::new(100), note(60), 80, Ring::FULL);
        // A slow stroke moves the pitch's string on late; the next wants the pitch elsewhere before.
        strings.strike(4, Ticks::new(250), note(59), 80, Ring::FULL);
        strings.strike(3, Ticks::new(200), note(60), 80, Ring::FULL);
        assert_eq!(played(strings), [(100, 250, 60), (250, 1000, 59), (250, 1000, 60)]);
    }

    #[test]
    fn a_string_damped_before_the_pick_reaches_it_is_not_struck() {
        let mut strings = Strings::new(Ticks::new(1000));
        strings.strike(5, Ticks::new(250), note(64), 80, Ring::FULL);
        strings.damp_all(Ticks::new(200));
        strings.strike(5, Ticks::new(300), note(64), 80, Ring::FULL);
        assert_eq!(played(strings), [(300, 1000, 64)]);
    }

    #[test]
    fn a_slurred_note_goes_on_from_the_one_before() {
        let mut strings = Strings::new(Ticks::new(1000));
        let short = Ring { share: 0.5, at_most: Some(Ticks::new(50)) };
        strings.slur(0, Ticks::new(5), note(41), 60, Ring::FULL);
        strings.strike(0, Ticks::new(10), note(40), 80, short);
        strings.slur(0, Ticks::new(100), note(42), 60, Ring::FULL);
        strings.slur(0, Ticks::new(100), note(43), 60, Ring::FULL);
        strings.slur(0, Ticks::new(200), note(40), 60, short);
        let notes = strings.finish();
        let told: Vec<_> = notes.iter().map(|n| (n.start.get(), n.end.get(), n.slurred)).collect();
        assert_eq!(
            told,
            [(10, 100, None), (100, 200, Some(note(40))), (200, 250, Some(note(42)))],
            "nothing sounds at first; the hand holds on; two at once are one"
        );
    }

    #[test]
    fn a_slur_meets_no_twin() {
        let mut strings = Strings::new(Ticks::new(1000));
        strings.strike(0, Ticks::new(0), note(57), 80, Ring::FULL);
        strings.strike(1, Ticks::new(0), note(59), 80, Ring::FULL);
        strings.slur(0, Ticks::new(100), note(59), 60, Ring::FULL);
        strings.strike(1, Ticks::new(100), note(57), 80, Ring::FULL);
        let all: Vec<_> = strings.finish().iter().map(|n| (n.start.get(), n.pitch.get())).collect();
        assert_eq!(all, [(0, 57), (0, 59), (100, 59), (100, 57)], "slurred ones first");
    }

    #[test]
    fn a_slide_goes_over_the_frets_between() {
        let slide = |to: u8, step: i64, other: Option<u8>| {
            let mut strings = Strings::new(Ticks::new(1000));
            strings.strike(0, Ticks::new(0), note(57), 80, Ring::FULL);
            if let Some(other) = other {
                strings.strike(1, Ticks::new(50), note(other), 80, Ring::FULL);
            }
            let (velocities, how) = ((60, 30), (Ticks::new(step), Ring::FULL));
            strings.slide(0, Ticks::new(200), note(to), velocities, how);
            let notes = strings.finish();
            let of = notes.iter().filter(|note| note.slurred.is_some());
            of.map(|n| (n.start.get(), n.end.get(), n.pitch.get(), n.velocity)).collect::<Vec<_>>()
        };
        assert_eq!(
            slide(60, 40, None),
            [(120, 160, 58, 30), (160, 200, 59, 30), (200, 1000, 60, 60)]
        );
        assert_eq!(slide(55, 40, None), [(160, 200, 56, 30), (200, 1000, 55, 60)]);
        assert_eq!(slide(58, 40, None), [(200, 1000, 58, 60)], "at once");
        assert_eq!(slide(60, 90, None)[0].0, 100, "in the second half");
        assert_eq!(slide(60, 40, Some(58)).len(), 2, "another string sounds it");
    }

    #[test]
    fn nothing_sounds_past_the_end() {
        let mut strings = Strings::new(Ticks::new(100));
        let short = Ring { share: 1.0, at_most: Some(Ticks::new(30)) };
        strings.strike(0, Ticks::new(10), note(50), 80, short);
        strings.strike(1, Ticks::new(99), note(55), 80, Ring::FULL);
        strings.strike(2, Ticks::new(100), note(59), 80, Ring::FULL);
        assert_eq!(played(strings), [(10, 40, 50), (99, 100, 55)]);
    }
}
