use std::collections::HashMap;

use super::hand::strong;
use super::leader::Leader;
use super::pickup::playing;
use crate::arrange::{Arrangement, ChordId};
use crate::chart::Lead;
use crate::hash::{GAMMA, mix};
use crate::perform::lines::theme;
use crate::theory::{Key, MidiNote, Mode, Phrase, PhraseNote, Weight};
use crate::time::{Meter, Ticks};

/// A place at which a break has a note.
#[derive(Clone, Copy, Debug)]
pub(super) struct Wanted {
    /// Where.
    pub at: Ticks,
    /// Until the next note or rest.
    pub length: Ticks,
    /// The bar, in the arrangement's bars.
    pub bar: u32,
    /// The chord.
    pub chord: ChordId,
    /// The pass whose line it belongs to.
    pub pass: usize,
    /// The line of that pass.
    pub line: usize,
    /// True if it leads into the pass from the bar before.
    pub picks_up: bool,
    /// True if a rest follows.
    pub rests: bool,
    /// True for the last note of the song.
    pub home: bool,
}

/// Half of a line, in thousandths.
const HALF: i32 = 500;

/// Where the last line of a pass leaves what it answers, to come home: in thousandths of it.
const CADENCE: i32 = 650;

/// Of a hundred notes between the strong beats, so many come again where a player takes the same break once more; those
/// on strong beats all do, if the way there goes well (common practice, no source).
const KEPT: u64 = 50;

/// Where in its line a pickup stands: in no bar of it. The same number wherever a machine's words are shorter: chance goes by
/// it.
const PICKUP: usize = u32::MAX as usize;

/// A section as an instrument leads it, and the line of it.
type Telling = (String, Option<Lead>, usize);

/// A note of a theme: what it was, over which chord.
type Remembered = HashMap<(usize, i64), (MidiNote, ChordId)>;

/// The notes of every break, one for each that is wanted.
pub(super) fn break_notes(song: &Arrangement, wanted: &[Wanted], seed: u64) -> Vec<MidiNote> {
    let major = matches!(song.key.mode, Mode::Major | Mode::Mixolydian);
    let bends = major && !matches!(song.meter, Meter::ThreeFour | Meter::SixEight);
    let blues = is_blues(song);
    let mut player = Player {
        song,
        seed,
        blues,
        bends,
        last: None,
        themes: HashMap::new(),
        told: HashMap::new(),
    };
    let mut notes = Vec::with_capacity(wanted.len());
    let mut pass = None;
    let belongs = phrases(song, wanted);
    let mut rest = wanted;
    for of_one in belongs.chunk_by(|one, other| one == other) {
        let (line, after) = rest.split_at(of_one.len().min(rest.len()));
        let here = of_one.first().map(|(pass, _)| *pass);
        if here != pass {
            player.themes.clear();
            pass = here;
        }
        notes.extend(player.phrase(line, after.first()));
        rest = after;
    }
    notes
}

/// The phrase that each note belongs to, by its pass and line. What follows a breath in the last bar of
/// a line leads into the next.
fn phrases(song: &Arrangement, wanted: &[Wanted]) -> Vec<(usize, usize)> {
    let bar = |wanted: &Wanted| song.bars.get(wanted.bar as usize);
    let own = |wanted: &Wanted| (wanted.pass, wanted.line);
    let mut breath = None;
    let mut out = Vec::with_capacity(wanted.len());
    for (at, note) in wanted.iter().enumerate() {
        let (pass, line) = own(note);
        let mut phrase = (pass, line);
        if breath == Some(note.bar) {
            let next = wanted.iter().skip(at).map(own).find(|next| *next != phrase);
            if next == Some((pass, line + 1)) {
                phrase.1 += 1;
            }
        }
        if note.rests && bar(note).is_some_and(|bar| bar.facts.phrase_end) {
            breath = Some(note.bar);
        }
        out.push(phrase);
    }
    out
}

struct Player<'a> {
    song: &'a Arrangement,
    seed: u64,
    blues: bool,
    /// Blue thirds and sevenths: in even meters, for a waltz and a jig go without (common practice, no source).
    bends: bool,
    last: Option<MidiNote>,
    /// What was played of each theme, by the bar of its line and the place in it.
    themes: HashMap<usize, Remembered>,
    /// What was played of each line of a section when the instrument led it first.
    told: HashMap<Telling, Remembered>,
}

impl Player<'_> {
    fn phrase(&mut self, line: &[Wanted], after: Option<&Wanted>) -> Vec<MidiNote> {
        let (Some(first), Some(last)) = (line.first(), line.last()) else { return Vec::new() };
        let Some(leader) = playing(self.song, last.bar as usize) else { return Vec::new() };
        let number = last.line;
        let idea = theme(number);
        let ends_pass = after.is_none_or(|after| after.pass != last.pass);
        let phrase = Phrase {
            key: self.song.key,
            blues: self.blues,
            bends: self.bends,
            range: leader.range.clone(),
            from: self.last.map(|note| MidiNote::clamped(leader.fold(i32::from(note.get())))),
            heights: heights(&leader, number, ends_pass),
        };
        let span = (last.at - first.at).get().max(1);
        let remembered = self.themes.get(&idea);
        let telling = self.telling(&leader, last);
        let again = self.told.get(&telling);
        let wanted: Vec<PhraseNote<'_>> = line
            .iter()
            .enumerate()
            .filter_map(|(index, wanted)| {
                let is_last = index + 1 == line.len();
                let place = ((wanted.at - first.at).get() * 1000 / span) as i32;
                let own_way = is_last || (ends_pass && place > CADENCE);
                let weight = self.weight(&leader, wanted, is_last, ends_pass);
                // What comes back stands on its strong beats; how it gets from one to the next is new each time.
                let stands = !matches!(weight, Weight::Beat | Weight::Passing);
                let before = remembered.and_then(|it| self.echo(it, wanted, place));
                let seed = self.own_seed(last.pass, number, self.place(wanted));
                let told = again.and_then(|it| self.echo(it, wanted, 0));
                let told = told.filter(|_| stands || mix(seed) % 100 < KEPT);
                let echo = told.or(before.filter(|_| !own_way && stands && again.is_none()));
                let stale = before.filter(|_| !stands && told.is_none());
                let first = line.iter().take(index).all(|before| before.picks_up);
                let next = line.get(index + 1);
                let soon = next.is_some_and(|next| {
                    next.chord == wanted.chord && next.at == wanted.at + wanted.length
                });
                Some(PhraseNote {
                    chord: self.song.chord(wanted.chord)?,
                    weight,
                    place,
                    echo,
                    stale,
                    plain: wanted.picks_up || self.place(wanted).0 == 0,
                    leans: soon && !first && wanted.length <= Ticks::QUARTER && leader.leans(),
                    seed,
                })
            })
            .collect();
        let mut wanted = wanted;
        let mut notes = phrase.notes(&wanted);
        if self.answer(line, &notes, &mut wanted) {
            notes = phrase.notes(&wanted);
        }
        self.last = notes.last().copied();
        let (is_theme, is_told) = (remembered.is_none(), again.is_none());
        if is_theme || is_told {
            let places = line.iter().map(|wanted| self.place(wanted));
            let known = places.zip(notes.iter().zip(line).map(|(note, w)| (*note, w.chord)));
            let known: Remembered = known.collect();
            if is_told {
                self.told.insert(telling, known.clone());
            }
            if is_theme {
                self.themes.insert(idea, known);
            }
        }
        notes
    }

    /// Lets the third bar of four answer the first with what that had, moved with the chord; true if it can.
    fn answer(&self, line: &[Wanted], notes: &[MidiNote], out: &mut [PhraseNote<'_>]) -> bool {
        let said: Remembered = line
            .iter()
            .zip(notes)
            .map(|(wanted, note)| (self.place(wanted), (*note, wanted.chord)))
            .collect();
        let last = line.len().saturating_sub(1);
        let mut answers = false;
        for (index, (wanted, note)) in line.iter().zip(out).enumerate() {
            let (bar, at) = self.place(wanted);
            if note.echo.is_some() || index == last {
                continue;
            }
            if bar % 4 == 2
                && let Some(&(before, over)) = said.get(&(bar - 2, at))
            {
                note.echo = self.moved(before, over, wanted.chord).map(|(moved, _)| moved);
                answers = true;
            } else {
                note.echo = said.get(&(bar, at)).map(|(note, _)| *note);
            }
        }
        answers
    }

    /// A note over one chord as it would be over another, and by how much it is moved.
    fn moved(&self, note: MidiNote, over: ChordId, to: ChordId) -> Option<(MidiNote, i32)> {
        let root = |id| Some(i32::from(self.song.chord(id)?.root.pitch_class()));
        let up = (root(to)? - root(over)?).rem_euclid(12);
        let by = if up > 6 { up - 12 } else { up };
        Some((MidiNote::clamped(i32::from(note.get()) + by), by))
    }

    /// Which line of which section it is that an instrument plays.
    fn telling(&self, leader: &Leader, wanted: &Wanted) -> Telling {
        let section = self.song.passes.get(wanted.pass).map_or("", |pass| pass.section());
        (section.to_owned(), leader.lead, wanted.line)
    }

    /// Which bar of its line a note stands in, and where in it.
    fn place(&self, wanted: &Wanted) -> (usize, i64) {
        let bar = self.song.bars.get(wanted.bar as usize);
        bar.map_or((0, 0), |bar| {
            let turn = if wanted.picks_up { PICKUP } else { bar.turn };
            (turn, (wanted.at - bar.start).get())
        })
    }

    /// What stood at the same place of the theme, moved with the chord's root; nothing where the line
    /// goes to another chord in its second half, for there it comes to rest in its own way.
    fn echo(&self, theme: &Remembered, wanted: &Wanted, place: i32) -> Option<MidiNote> {
        let &(note, over) = theme.get(&self.place(wanted))?;
        let (moved, by) = self.moved(note, over, wanted.chord)?;
        (by == 0 || place < HALF).then_some(moved)
    }

    fn weight(&self, leader: &Leader, wanted: &Wanted, is_last: bool, ends_pass: bool) -> Weight {
        let Some(bar) = self.song.bars.get(wanted.bar as usize) else { return Weight::Strong };
        let place = wanted.at - bar.start;
        let chord = self.song.chord(wanted.chord);
        let tonic = self.song.key.tonic.pitch_class();
        let at_home = chord.is_some_and(|chord| chord.root.pitch_class() == tonic);
        if wanted.home || (is_last && ends_pass && at_home) {
            return Weight::Home;
        }
        if is_last {
            return Weight::Last;
        }
        if leader.walks() {
            let begins = self.song.spans.iter().any(|span| span.start == wanted.at);
            return match place.is_multiple_of(strong(bar.gait)) {
                true if begins || place == Ticks::ZERO => Weight::Ground,
                true => Weight::Strong,
                false => Weight::Passing,
            };
        }
        let strong = strong(bar.gait);
        let beat = match bar.gait {
            Meter::TwoTwo => Ticks::QUARTER,
            Meter::TwoFour => Ticks::EIGHTH,
            _ => bar.beat(),
        };
        let long = Ticks::QUARTER;
        if place.is_multiple_of(strong) || wanted.length > long {
            Weight::Strong
        } else if place.is_multiple_of(beat) || wanted.length >= long {
            Weight::Beat
        } else {
            Weight::Passing
        }
    }

    /// Hangs on the pass, the line and the place in it.
    const fn own_seed(&self, pass: usize, line: usize, (bar, at): (usize, i64)) -> u64 {
        let place = (pass as u64) << 44 ^ (line as u64) << 36 ^ (bar as u64) << 16 ^ at as u64;
        (self.seed ^ 0x4C45_4144).wrapping_mul(GAMMA).wrapping_add(place)
    }
}

/// Where a line begins, how high it goes and where it ends: the third of four goes highest, the last
/// comes down to the home note (common practice, no source).
fn heights(leader: &Leader, line: usize, ends_pass: bool) -> (i32, i32, i32) {
    let Leader { home, rise, .. } = *leader;
    let third = rise / 3;
    match line % 4 {
        _ if ends_pass && line > 0 => (home + 2 * third, home + rise - third, home - 1),
        2 => (home + 2 * third, home + rise, home + third),
        1 => (home + third, home + rise - 2, home + 1),
        _ => (home + 1, home + rise - third, home + third),
    }
}

/// True if the song is a blues: its home chord has a flat seventh and a major third for most of its
/// time.
fn is_blues(song: &Arrangement) -> bool {
    let Key { tonic, mode } = song.key;
    if mode != Mode::Major {
        return false;
    }
    let (mut seventh, mut all) = (Ticks::ZERO, Ticks::ZERO);
    for span in &song.spans {
        let chord = span.chord.and_then(|id| song.chord(id));
        let Some(chord) = chord.filter(|c| c.root.pitch_class() == tonic.pitch_class()) else {
            continue;
        };
        let length = span.end - span.start;
        all += length;
        if chord.quality.seventh() == Some(10) && chord.quality.third() == Some(4) {
            seventh += length;
        }
    }
    seventh * 2 > all
}
