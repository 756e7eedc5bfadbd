use super::found::{ENDING, FEWEST, Found, FoundBar};
use super::numbers::{ModeNumbers, Numbers, Sort};
use super::places::{Place, places};
use crate::chart::{ChartBar, Section, Share, Song, Tune};
use crate::theory::{Chord, Key, Letter, Mode, PitchName, Quality, Transposition};
use crate::time::Ticks;
use crate::trellis::{Trellis, least_path, least_through};

/// By how much cheaper, a part, the chords of another mode of the same notes must be before the tune is taken to be at
/// home there: enough that no tune whose key is named rightly moves (tried on the collections that
/// `tests/outside/tunes.py` reads).
const MOVES: i32 = 350;

/// A second choice is named where the first is right less often than so many times in 100.
const NAME_BELOW: u8 = 95;

/// The song with chords for its tune, and how sure they are; `None` if no section has a tune.
///
/// A bar has one chord or two. Where a part is played twice it has the same chords twice, but for what differs in its
/// endings.
pub fn find_chords(song: &Song) -> Option<(Song, Found)> {
    let numbers = Numbers::ours();
    let parts: Vec<Part> = song.sections.iter().map(Part::of).collect();
    let tunes = i32::try_from(parts.iter().filter(|part| part.has_tune()).count()).ok()?;
    if tunes == 0 {
        return None;
    }
    let whole = |key: Key| -> i64 {
        let costs = parts.iter().filter_map(|part| part.times.first());
        costs.map(|time| i64::from(Ways::new(numbers, key, &time.places).cost())).sum()
    };
    let stated = whole(song.key);
    let others = related(song.key).into_iter().map(|key| (whole(key), key));
    let (least, other) = others.min_by_key(|(cost, _)| *cost)?;
    let moves = stated - least > i64::from(MOVES) * i64::from(tunes);
    let key = if moves { other } else { song.key };

    let mut out = song.clone();
    let mut sections = Vec::with_capacity(parts.len());
    for (section, part) in out.sections.iter_mut().zip(&parts) {
        let found = part.found(numbers, key);
        for (bar, (shares, _)) in section.bars.iter_mut().zip(&found) {
            bar.chords.clone_from(shares);
        }
        sections.push(found.into_iter().map(|(_, bar)| bar).collect());
    }
    Some((out, Found { home: moves.then_some(key), sections }))
}

/// The keys of the other modes that have the same notes.
fn related(key: Key) -> Vec<Key> {
    // Where in the major scale of these notes each mode has its home.
    let step = |mode: Mode| match mode {
        Mode::Major => 0,
        Mode::Dorian => 1,
        Mode::Mixolydian => 4,
        Mode::Minor => 5,
    };
    let scale = key.scale();
    let others = Mode::ALL.into_iter().filter(|mode| *mode != key.mode);
    let keys = others.filter_map(|mode| {
        let tonic = *scale.get((7 + step(mode) - step(key.mode)) % 7)?;
        Some(Key { tonic, mode })
    });
    // One whose signature nobody writes is no key.
    keys.filter(|key| Key::parse(&key.to_string()).is_ok()).collect()
}

/// A section, cut into the times that the same tune is played in it.
struct Part {
    times: Vec<Time>,
    bars: Vec<ChartBar>,
    /// How many bars at the head of the second time are those of the first.
    same: usize,
}

/// Once through a part.
struct Time {
    first_bar: usize,
    places: Vec<Place>,
}

/// A chord at a place: which, by how much it is ahead of any other, and that other.
struct Choice {
    bar: usize,
    length: Ticks,
    chord: Chord,
    lead: i32,
    or: Option<Chord>,
}

impl Part {
    fn of(section: &Section) -> Self {
        let bars = section.bars.clone();
        let has_tune = bars.iter().flat_map(|bar| &bar.melody).any(is_note);
        let half = bars.len() / 2;
        let (one, other) = bars.split_at(half);
        let is_same = |(one, other): &(&ChartBar, &ChartBar)| {
            one.meter == other.meter && one.melody == other.melody
        };
        let same = one.iter().zip(other).take_while(is_same).count();
        let twice = bars.len().is_multiple_of(2) && half >= FEWEST && same + ENDING >= half;
        let time = |bars: &[ChartBar], first_bar| Time { first_bar, places: places(bars) };
        let times = match (has_tune, twice) {
            (false, _) => Vec::new(),
            (true, false) => vec![time(&bars, 0)],
            // Once is enough.
            (true, true) if same == half => vec![time(one, 0)],
            (true, true) => vec![time(one, 0), time(other, half)],
        };
        Self { times, bars, same: if twice { same } else { 0 } }
    }

    fn has_tune(&self) -> bool {
        !self.times.is_empty()
    }

    /// What stands in each bar.
    fn found(&self, numbers: &Numbers, key: Key) -> Vec<(Vec<Share<Option<Chord>>>, FoundBar)> {
        if !self.has_tune() {
            return Vec::new();
        }
        let mut bars: Vec<Vec<Choice>> = self.bars.iter().map(|_| Vec::new()).collect();
        for time in &self.times {
            for choice in Ways::new(numbers, key, &time.places).choices() {
                if let Some(bar) = bars.get_mut(time.first_bar + choice.bar) {
                    bar.push(choice);
                }
            }
        }
        let found: Vec<_> = bars.iter().map(|bar| bar_of(bar, numbers)).collect();
        let half = found.len() / 2;
        let again = |at: usize| at.checked_sub(half).filter(|at| *at < self.same).unwrap_or(at);
        (0..found.len()).filter_map(|at| found.get(again(at)).cloned()).collect()
    }
}

fn is_note(share: &Share<Tune>) -> bool {
    matches!(share.value, Tune::Note(_))
}

/// A bar of its places' chords.
fn bar_of(places: &[Choice], numbers: &Numbers) -> (Vec<Share<Option<Chord>>>, FoundBar) {
    let mut shares: Vec<Share<Option<Chord>>> = Vec::new();
    for place in places {
        match shares.last_mut() {
            // A chord and its seventh are one chord.
            Some(Share { length, value: Some(last) }) if last.root == place.chord.root => {
                *length += place.length;
                if place.chord.quality.seventh().is_some() {
                    *last = place.chord;
                }
            }
            _ => shares.push(Share::new(place.length, Some(place.chord))),
        }
    }
    let least = places.iter().min_by_key(|place| place.lead);
    let sure = least.map_or(0, |least| numbers.sure(least.lead));
    let or = least.and_then(|least| least.or).filter(|_| sure < NAME_BELOW);
    let chords = shares.iter().filter_map(|share| share.value).collect();
    (shares, FoundBar { chords, sure, or })
}

/// All ways that chords can go under a tune.
struct Ways<'a> {
    numbers: &'a Numbers,
    mode: &'a ModeNumbers,
    places: &'a [Place],
    move_by: Transposition,
    /// What each chord costs at each place.
    own: Vec<Vec<i32>>,
}

impl<'a> Ways<'a> {
    fn new(numbers: &'a Numbers, key: Key, places: &'a [Place]) -> Self {
        let mode = numbers.mode(key.mode);
        let tonic = key.tonic.pitch_class();
        let mut own: Vec<Vec<i32>> = places
            .iter()
            .map(|place| {
                let cost = |chord: &Chord| {
                    let sort = ModeNumbers::sort(chord);
                    let notes = place.notes.iter().map(|note| {
                        let interval = (24 + note.class - tonic - chord.root.pitch_class()) % 12;
                        note.weight * numbers.tone(sort, note.struck, interval) / 100
                    });
                    notes.sum()
                };
                mode.chords.iter().map(cost).collect()
            })
            .collect();
        let add = |row: Option<&mut Vec<i32>>, costs: &[i32]| {
            row.into_iter().flatten().zip(costs).for_each(|(own, cost)| *own += cost);
        };
        add(own.first_mut(), &mode.first);
        add(own.last_mut(), &mode.last);
        let c = PitchName::new(Letter::C, 0);
        Self { numbers, mode, places, move_by: Transposition::between(c, key.tonic), own }
    }

    /// What the best way costs.
    fn cost(&self) -> i32 {
        least_path(self).map_or(0, |path| path.cost)
    }

    /// The best way.
    fn choices(&self) -> Vec<Choice> {
        let Some(path) = least_path(self) else { return Vec::new() };
        let sums = least_through(self);
        let places = self.places.iter().zip(&path.states).zip(&sums);
        let choices = places.filter_map(|((place, &state), sums)| {
            let own = *sums.get(state)?;
            let others = sums.iter().enumerate().filter(|(other, _)| *other != state);
            let other = others.min_by_key(|(_, sum)| **sum);
            Some(Choice {
                bar: place.bar,
                length: place.length,
                chord: self.chord(state, place)?,
                lead: other.map_or(i32::MAX, |(_, sum)| sum.saturating_sub(own)),
                or: other.and_then(|(other, _)| self.chord(other, place)),
            })
        });
        choices.collect()
    }

    /// A chord in the tune's key; the dominant with its seventh where the tune has that.
    fn chord(&self, state: usize, place: &Place) -> Option<Chord> {
        let plain = self.mode.chords.get(state)?;
        let mut chord = self.move_by.chord(plain);
        if ModeNumbers::sort(plain) == Sort::Dominant
            && let Some(seventh) = Quality::parse("7")
        {
            let class = (chord.root.pitch_class() + 10) % 12;
            if place.notes.iter().any(|note| note.class == class) {
                chord.quality = seventh;
            }
        }
        Some(chord)
    }
}

impl Trellis for Ways<'_> {
    type Cost = i32;

    fn layers(&self) -> usize {
        self.places.len()
    }

    fn states(&self, _: usize) -> usize {
        self.mode.chords.len()
    }

    fn own(&self, layer: usize, state: usize) -> i32 {
        self.own.get(layer).and_then(|row| row.get(state)).copied().unwrap_or_default()
    }

    fn ways(
        &self,
        layer: usize,
        state: usize,
        before: &[i32],
    ) -> impl Iterator<Item = (usize, i32)> {
        let at = self.places.get(layer).map(|place| place.at);
        before.iter().enumerate().map(move |(from, sum)| {
            let (change, stay) = at.map_or((0, 0), |at| self.numbers.change(at, from == 0));
            let other = || at.map_or(0, |at| self.mode.to(at, from, state));
            let step = if from == state { stay } else { change + other() };
            (from, sum.saturating_add(step))
        })
    }
}
