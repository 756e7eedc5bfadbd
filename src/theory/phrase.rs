//! A phrase of a break: which notes to play on a given rhythm over given chords.

use std::ops::RangeInclusive;

use super::{Chord, Key, MidiNote, Mode, Scale};
use crate::hash::split_mix;
use crate::trellis::{Cost, Trellis, least_path};

/// How much a note of a phrase weighs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weight {
    /// On a strong beat, or long: a tone of the chord.
    Strong,
    /// The same, under everybody: the root, sooner than any other.
    Ground,
    /// On another beat: nothing a semitone from a tone of the chord.
    Beat,
    /// Between the beats: any note of the scale, if it is on its way.
    Passing,
    /// The last of the phrase: the chord's root, third or fifth.
    Last,
    /// The last of all: the root.
    Home,
}

/// A note that is wanted.
#[derive(Clone, Copy, Debug)]
pub struct PhraseNote<'a> {
    /// The chord of the moment.
    pub chord: &'a Chord,
    /// How much it weighs.
    pub weight: Weight,
    /// How far into the phrase it stands, in thousandths.
    pub place: i32,
    /// What the ear remembers of the phrase that this one answers.
    pub echo: Option<MidiNote>,
    /// What stood here when the phrase was played before: a player goes another way where there is one.
    pub stale: Option<MidiNote>,
    /// True where the phrase has yet to say what key it is in: no blue note stands there.
    pub plain: bool,
    /// True if it may lean: stand a step beside a tone of the chord, which follows at once.
    pub leans: bool,
    /// Tells this note from others where the phrase leaves a choice.
    pub seed: u64,
}

/// The shape of a phrase: it rises to a peak in its third quarter and falls from there.
#[derive(Clone, Debug)]
pub struct Phrase {
    /// The key.
    pub key: Key,
    /// True where the minor pentatonic is at home over major chords.
    pub blues: bool,
    /// True where a blue third passes into the major one, and a flat seventh down from the root.
    pub bends: bool,
    /// The notes of the instrument.
    pub range: RangeInclusive<u8>,
    /// The note before the phrase.
    pub from: Option<MidiNote>,
    /// Where it begins, how high it goes, where it ends: as MIDI numbers.
    pub heights: (i32, i32, i32),
}

/// Where the peak is, in thousandths of the phrase.
const PEAK: i32 = 650;

/// The farthest that a note lies from the shape, in semitones: enough for two tones of any chord.
const ASTRAY: i32 = 8;

/// The farthest that its last note does: an octave, so that it can end where it came to.
const END_ASTRAY: i32 = 12;

/// A cost that is paid only where nothing else is left.
const NEVER: i32 = 400;

/// What a note beside the chord costs on a beat: as much as a player's own choice and a turn, so that it comes now and
/// then.
const LEANS: i32 = 10;

/// What a blue note costs on its way.
const BLUE: i32 = 5;

/// What it costs to go where the line went before.
const STALE: i32 = 6;

/// A note that could be played.
#[derive(Clone, Copy, Debug)]
struct Choice {
    note: i32,
    cost: i32,
    /// Neither of the chord nor of the pentatonic: it must come and go by step.
    passing: bool,
    /// It stands for a tone of the chord, which must follow by step.
    leans: bool,
    /// A tone of the chord.
    of_chord: bool,
    blue: Option<Blue>,
}

impl Choice {
    const fn new(note: i32, cost: i32) -> Self {
        Self { note, cost, passing: false, leans: false, of_chord: true, blue: None }
    }
}

/// A note bent from the chord's own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Blue {
    Third,
    Seventh,
}

/// How the line came to a note.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Came {
    Still,
    StepUp,
    StepDown,
    LeapUp,
    LeapDown,
}

impl Came {
    const ALL: [Self; 5] =
        [Self::Still, Self::StepUp, Self::StepDown, Self::LeapUp, Self::LeapDown];

    const fn by(way: i32) -> Self {
        match way {
            0 => Self::Still,
            1..=2 => Self::StepUp,
            -2..=-1 => Self::StepDown,
            3.. => Self::LeapUp,
            _ => Self::LeapDown,
        }
    }
}

impl Phrase {
    /// The notes, one for each wanted: the way through all that is possible that costs least.
    ///
    /// Tones of the chord stand on the strong beats and the key's pentatonic between, mostly by step; a
    /// leap is answered by a step back (common practice, no source).
    pub fn notes(&self, wanted: &[PhraseNote<'_>]) -> Vec<MidiNote> {
        let choices = wanted.iter().map(|note| self.choices(note)).collect();
        let held = wanted.iter().map(|note| note.weight != Weight::Passing).collect();
        let ways = Ways { from: self.from.map(|from| i32::from(from.get())), choices, held };
        let Some(path) = least_path(&ways) else { return Vec::new() };
        let note = |(layer, state)| ways.state(layer, state).map_or(0, |(choice, _)| choice.note);
        path.states.into_iter().enumerate().map(|at| MidiNote::clamped(note(at))).collect()
    }

    /// The height that the phrase has at a place.
    fn height(&self, place: i32) -> i32 {
        let (start, peak, end) = self.heights;
        let place = place.clamp(0, 1000);
        if place <= PEAK {
            start + (peak - start) * place / PEAK
        } else {
            peak + (end - peak) * (place - PEAK) / (1000 - PEAK)
        }
    }

    fn choices(&self, wanted: &PhraseNote<'_>) -> Vec<Choice> {
        let height = wanted.echo.map_or(self.height(wanted.place), |echo| i32::from(echo.get()));
        let range = i32::from(*self.range.start())..=i32::from(*self.range.end());
        let height = height.clamp(*range.start(), *range.end());
        let ends = matches!(wanted.weight, Weight::Last | Weight::Home);
        let choice = |note: i32| {
            let (mut cost, passing, leans) = match self.fitness(wanted, note) {
                Some((cost, passing)) => (cost, passing, false),
                None => (self.leaning(wanted, note)?, false, true),
            };
            let off = (note - height).abs();
            // What answers a phrase sounds like it.
            cost += match wanted.echo {
                Some(_) => off.min(6) * 6,
                None if ends => off * off / 8,
                None => off * off / 3,
            };
            cost += noise(wanted.seed, note);
            if wanted.stale.is_some_and(|stale| i32::from(stale.get()) == note) {
                cost += STALE;
            }
            let of_chord = wanted.chord.tones().any(|tone| i32::from(tone) == note.rem_euclid(12));
            let own = of_chord || self.pentatonic(wanted.chord, note);
            let blue = self.blue(wanted.chord, note).filter(|_| !own);
            Some(Choice { note, cost, passing, leans, of_chord, blue })
        };
        let astray = if ends { END_ASTRAY } else { ASTRAY };
        let near = (height - astray).max(*range.start())..=(height + astray).min(*range.end());
        let found: Vec<Choice> = near.filter_map(choice).collect();
        if !found.is_empty() {
            return found;
        }
        let nearest = range.clone().min_by_key(|note| {
            let foreign = !wanted.chord.tones().any(|tone| i32::from(tone) == note.rem_euclid(12));
            (foreign, (note - height).abs())
        });
        let note = nearest.unwrap_or(height);
        vec![Choice::new(note, 0)]
    }

    /// What a note costs at this place by its place in chord and scale, and whether it only passes;
    /// `None` if it has none.
    fn fitness(&self, wanted: &PhraseNote<'_>, note: i32) -> Option<(i32, bool)> {
        let chord = wanted.chord;
        let above = (note - i32::from(chord.root.pitch_class())).rem_euclid(12);
        let interval = u8::try_from(above).ok()?;
        let quality = chord.quality;
        let of_chord = quality.intervals().contains(&interval);
        let third = quality.third_or_suspended() == Some(interval);
        let fifth = quality.fifth() == Some(interval);
        let clashes = clashes(chord, note);
        match wanted.weight {
            Weight::Home | Weight::Last => {
                let home = wanted.weight == Weight::Home;
                let cost = match interval {
                    0 => 0,
                    _ if third => {
                        if home {
                            24
                        } else {
                            2
                        }
                    }
                    _ if fifth => {
                        if home {
                            30
                        } else {
                            6
                        }
                    }
                    _ => return None,
                };
                (!clashes || interval == 0).then_some((cost, false))
            }
            Weight::Ground if of_chord && !clashes => Some(match interval {
                0 => (0, false),
                _ if fifth => (40, false),
                _ if third => (44, false),
                _ => (60, false),
            }),
            Weight::Ground if interval == 0 => Some((0, false)),
            Weight::Strong | Weight::Beat if of_chord => {
                let cost = match interval {
                    _ if clashes => NEVER,
                    0 => 2,
                    _ if third => 0,
                    _ if fifth => 3,
                    _ => 6,
                };
                Some((cost, false))
            }
            Weight::Strong | Weight::Ground => None,
            Weight::Beat => (self.pentatonic(chord, note) && !clashes).then_some((5, false)),
            // What makes a blues one.
            Weight::Passing if self.blues && !of_chord && self.pentatonic(chord, note) => {
                Some((0, false))
            }
            Weight::Passing if of_chord || self.pentatonic(chord, note) => Some((2, false)),
            Weight::Passing if Scale::of(self.key, chord).has(note) => Some((5, true)),
            Weight::Passing => {
                (self.blue(chord, note).is_some() && !wanted.plain).then_some((BLUE, true))
            }
        }
    }

    /// What it costs to stand a step beside the chord on a beat, and to go to it then; `None` where that may not be.
    fn leaning(&self, wanted: &PhraseNote<'_>, note: i32) -> Option<i32> {
        let (chord, scale) = (wanted.chord, Scale::of(self.key, wanted.chord));
        let may = wanted.leans && matches!(wanted.weight, Weight::Strong | Weight::Beat);
        let own = scale.has(note) || self.pentatonic(chord, note);
        let blue = self.blue(chord, note) == Some(Blue::Third) && !wanted.plain;
        // The fourth comes down to the third, the second to the root, the sixth to the fifth; the blue third goes up.
        (may && (own || blue)).then_some(if blue { LEANS + 2 } else { LEANS })
    }

    /// The third of a major chord flattened, and a flat seventh that it does not have.
    fn blue(&self, chord: &Chord, note: i32) -> Option<Blue> {
        if !self.bends || chord.quality.third() != Some(4) {
            return None;
        }
        match (note - i32::from(chord.root.pitch_class())).rem_euclid(12) {
            3 => Some(Blue::Third),
            10 => Some(Blue::Seventh),
            _ => None,
        }
    }

    /// True for the key's pentatonic: in major 1 2 3 5 6, in minor and dorian 1 b3 4 5 b7, in mixolydian
    /// 1 2 3 5 6 b7; in a blues 1 b3 4 5 b7 (common practice, no source). None of the chord's own tones
    /// is bent by it.
    fn pentatonic(&self, chord: &Chord, note: i32) -> bool {
        let above = (note - i32::from(self.key.tonic.pitch_class())).rem_euclid(12);
        let notes: &[i32] = match self.key.mode {
            _ if self.blues => &[0, 3, 5, 7, 10],
            Mode::Major => &[0, 2, 4, 7, 9],
            Mode::Mixolydian => &[0, 2, 4, 7, 9, 10],
            Mode::Minor | Mode::Dorian => &[0, 3, 5, 7, 10],
        };
        // Over a chord from outside the key its own letter is meant.
        notes.contains(&above) && (self.blues || Scale::of(self.key, chord).has(note))
    }
}

/// True if a note lies a semitone from a tone of the chord that it is not itself the only one of.
fn clashes(chord: &Chord, note: i32) -> bool {
    let has = |class: i32| chord.tones().any(|tone| i32::from(tone) == class.rem_euclid(12));
    has(note - 1) || has(note + 1)
}

/// What going so far costs.
const fn leap_cost(way: i32, held: bool) -> i32 {
    match way.abs() {
        0 => {
            if held {
                9
            } else {
                15
            }
        }
        1 | 2 => 0,
        3 | 4 => 4,
        5 => 8,
        7 => 12,
        8 | 9 => 20,
        12 => 32,
        6 => 60,
        _ => 90,
    }
}

/// What it costs that a passing note neither comes nor goes by step.
const fn joint_cost(last: &Choice, choice: &Choice, way: i32) -> i32 {
    let step = way != 0 && way.abs() <= 2;
    let astray = (last.passing || choice.passing) && !step;
    let unresolved = last.leans && !(step && choice.of_chord);
    if astray || unresolved { NEVER } else { 0 }
}

/// What going on so costs after what came before: a leap is followed by a step back, and a line that
/// moves goes on for a while.
const fn turn(before: Came, way: i32) -> i32 {
    match (before, Came::by(way)) {
        (Came::LeapUp, Came::LeapUp) | (Came::LeapDown, Came::LeapDown) => 9,
        (Came::LeapUp, Came::StepUp) | (Came::LeapDown, Came::StepDown) => 3,
        (Came::StepUp, Came::StepDown | Came::LeapDown)
        | (Came::StepDown, Came::StepUp | Came::LeapUp) => 5,
        (Came::LeapUp, Came::LeapDown) | (Came::LeapDown, Came::LeapUp) => 7,
        (Came::Still, Came::Still) => 20,
        _ => 0,
    }
}

/// What it costs that a blue note does not go through: the third up into the major one or down from it, the seventh down
/// from the root. Back to where it came from it rocks, and up a flat seventh is another key's (common practice, no
/// source). One that leans is not come to from the major third that it goes to.
const fn through(last: &Choice, came: Came, way: i32) -> i32 {
    let goes = match last.blue {
        None => true,
        Some(_) if last.leans => !matches!(came, Came::StepDown) && way > 0,
        Some(Blue::Third) => matches!((came, way), (Came::StepUp, 1) | (Came::StepDown, -1)),
        Some(Blue::Seventh) => matches!((came, way), (Came::StepDown, -2..=-1)),
    };
    if goes { 0 } else { NEVER }
}

/// A choice of the player's own, 0 to 7.
const fn noise(seed: u64, note: i32) -> i32 {
    (split_mix(seed, note as u64) >> 61) as i32
}

/// The ways through the choices. A state is a choice of its place and how the line came to it, for that bears on how it
/// goes on.
struct Ways {
    /// The note before the phrase.
    from: Option<i32>,
    choices: Vec<Vec<Choice>>,
    /// True for each place where the note weighs more than a passing one.
    held: Vec<bool>,
}

impl Ways {
    fn choices(&self, layer: usize) -> &[Choice] {
        self.choices.get(layer).map_or(&[], Vec::as_slice)
    }

    fn state(&self, layer: usize, state: usize) -> Option<(&Choice, Came)> {
        let choice = self.choices(layer).get(state / Came::ALL.len())?;
        Some((choice, *Came::ALL.get(state % Came::ALL.len())?))
    }

    fn is_held(&self, layer: usize) -> bool {
        self.held.get(layer).is_some_and(|held| *held)
    }
}

impl Trellis for Ways {
    type Cost = i32;

    fn layers(&self) -> usize {
        self.choices.len()
    }

    fn states(&self, layer: usize) -> usize {
        self.choices(layer).len() * Came::ALL.len()
    }

    fn own(&self, layer: usize, state: usize) -> i32 {
        match self.state(layer, state) {
            // A breath lies before the first note, so a leap to it weighs less and leads to nothing.
            Some((choice, Came::Still)) if layer == 0 => {
                let leap = self.from.map_or(0, |from| choice.note - from);
                choice.cost + leap_cost(leap, self.is_held(layer)) / 2
            }
            Some((choice, _)) if layer > 0 => choice.cost,
            _ => i32::NEVER,
        }
    }

    fn ways(
        &self,
        layer: usize,
        state: usize,
        before: &[i32],
    ) -> impl Iterator<Item = (usize, i32)> {
        let held = self.is_held(layer);
        let here = self.state(layer, state);
        let last = layer.checked_sub(1).map_or(&[][..], |layer| self.choices(layer));
        let each = Came::ALL.len();
        last.iter().zip(before.chunks_exact(each)).enumerate().filter_map(
            move |(from, (last, sums))| {
                let (choice, came) = here?;
                let way = choice.note - last.note;
                if Came::by(way) != came {
                    return None;
                }
                let turned = sums
                    .iter()
                    .zip(Came::ALL)
                    .map(|(sum, came)| sum.plus(turn(came, way) + through(last, came, way)));
                let (state, sum) = turned.enumerate().min_by_key(|(_, sum)| *sum)?;
                let bare = leap_cost(way, held) + joint_cost(last, choice, way);
                Some((from * each + state, sum.plus(bare)))
            },
        )
    }
}

#[cfg(test)]
#[path = "phrase_tests.rs"]
mod tests;
