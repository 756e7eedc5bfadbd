use super::{Chord, MidiNote};

/// The run that says "home" at the end of a line, over the home chord and in any key: known as the G run.
///
/// Over G it goes A A# B D E D after the root, a step an eighth note, and comes to rest on the G an octave
/// up as the next bar begins (Wikipedia "G run", after Traum 1974, p. 25). A shorter run is the end of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct GRun {
    /// The steps, the first after the root.
    pub steps: [MidiNote; Self::STEPS],
    /// Where it comes to rest.
    pub goal: MidiNote,
}

impl GRun {
    /// How many steps it has after its root.
    pub const STEPS: usize = 6;

    /// Semitones above the root: second, both thirds, fifth, sixth, fifth.
    const MAJOR: [i32; Self::STEPS] = [2, 3, 4, 7, 9, 7];

    /// Its kin over a minor chord, without the major third: second, third, fourth, fifth, flat seventh,
    /// fifth (common practice, no source).
    const MINOR: [i32; Self::STEPS] = [2, 3, 5, 7, 10, 7];

    /// The run over a chord whose root is played at `root`.
    pub fn over(chord: &Chord, root: MidiNote) -> Self {
        let steps = if chord.quality.is_minor() { Self::MINOR } else { Self::MAJOR };
        let above = |semitones| MidiNote::clamped(i32::from(root.get()) + semitones);
        Self { steps: steps.map(above), goal: above(12) }
    }

    /// Step `step` of the last `of` of the run, counted from 0, and whether the left hand alone sounds it:
    /// hammered on a string that rings, or pulled off. `None` past its end.
    pub fn step(&self, step: usize, of: usize) -> Option<(MidiNote, bool)> {
        let at = (Self::STEPS + step).checked_sub(of)?;
        let note = *self.steps.get(at)?;
        // A-A#-B is hammered on, E-D pulled off (same source); the first of a short run is picked.
        let slurred = matches!(at, 1 | 2 | 5) && step > 0;
        Some((note, slurred))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn run(chord: &str, root: u8) -> (Vec<u8>, u8) {
        let run = GRun::over(&Chord::parse(chord).unwrap(), MidiNote::new(root).unwrap());
        (run.steps.iter().map(|note| note.get()).collect(), run.goal.get())
    }

    #[test]
    fn over_g_it_is_as_published() {
        // Written g4 a8~ais8~ b8 d8 e8 d8 g4, sounding an octave lower: Wikipedia "G run", after Traum
        // 1974, p. 25.
        assert_eq!(run("G", 43), (vec![45, 46, 47, 50, 52, 50], 55));
    }

    #[test]
    fn in_other_keys_it_moves_with_the_root() {
        assert_eq!(run("C", 48), (vec![50, 51, 52, 55, 57, 55], 60));
        assert_eq!(run("A7", 45), (vec![47, 48, 49, 52, 54, 52], 57));
        // Common practice, no source.
        assert_eq!(run("Am", 45), (vec![47, 48, 50, 52, 55, 52], 57));
    }

    #[test]
    fn a_shorter_run_is_the_end_of_it() {
        let run = GRun::over(&Chord::parse("G").unwrap(), MidiNote::new(43).unwrap());
        let steps =
            |of| (0..of).map(|step| run.step(step, of).unwrap().0.get()).collect::<Vec<_>>();
        assert_eq!(steps(4), [47, 50, 52, 50]);
        assert_eq!(steps(1), [50]);
        assert_eq!((run.step(0, 7), run.step(6, 6)), (None, None));
        let slurred: Vec<bool> = (0..6).map(|step| run.step(step, 6).unwrap().1).collect();
        assert_eq!(slurred, [false, true, true, false, false, true]);
        assert!(!run.step(0, 4).unwrap().1, "picked, for nothing rings before it");
    }
}
