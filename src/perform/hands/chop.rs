use crate::arrange::Arrangement;
use crate::perform::Note;
use crate::perform::around::rings_until;
use crate::perform::choice::Seat;
use crate::perform::cue::{Act, Cue};
use crate::perform::cues::cues;
use crate::perform::feel::Feel;
use crate::perform::strings::{CHOKE_MILLIS, Ring, Strings};
use crate::perform::strum::Strum;
use crate::style::{Loud, RoleStyle, Stroke};
use crate::theory::fretboard::{ChopShape, chop_shapes, least_movement};
use crate::theory::{Chord, MidiNote};
use crate::time::Ticks;

/// How long after a chop the left hand lets go where the style does not say, in milliseconds: the fingers relax right
/// after the stroke (Wikipedia "Chop chord"; the figure, within 15 to 35, is from memory). The strings and the body
/// take as long again to be still.
const CLIP_MILLIS: f64 = 30.0;

/// The mandolin's notes.
pub(super) fn play(seat: &Seat<'_>, feel: Feel) -> Vec<Note> {
    let Seat { song, part: style, .. } = *seat;
    let ticks = |millis| song.tempo.ticks_in_millis(millis);
    let mut chop = Chop {
        style,
        feel,
        shapes: shapes(song),
        spread: ticks(style.spread),
        clip: Ring { share: 1.0, at_most: Some(ticks(style.clip.unwrap_or(CLIP_MILLIS))) },
        ring: Ring { share: style.length, at_most: style.clip.map(ticks) },
        choke: Ring { share: 1.0, at_most: Some(ticks(CHOKE_MILLIS)) },
        strings: Strings::new(rings_until(song)),
    };
    cues(seat, |cue| chop.act(cue));
    chop.strings.finish()
}

/// The strings of a stroke in the shuffles of a kickoff, and their pitches.
pub(super) fn shuffle(chord: &Chord, _capo: u8, _style: &RoleStyle) -> Shape {
    chop_shapes(chord).first().map_or_else(Vec::new, sounding)
}

/// The notes of a shape, low string first.
type Shape = Vec<(usize, MidiNote)>;

fn sounding(shape: &ChopShape) -> Shape {
    let notes = shape.notes();
    notes.iter().enumerate().filter_map(|(string, note)| Some((string, (*note)?))).collect()
}

/// For each span of the song, the shape that the hand takes, moving as little as may be.
fn shapes(song: &Arrangement) -> Vec<Option<Shape>> {
    let candidates: Vec<Vec<ChopShape>> = song.chords.iter().map(chop_shapes).collect();
    let sequence: Vec<usize> =
        song.spans.iter().filter_map(|span| Some(span.chord?.0 as usize)).collect();
    let mut chosen = least_movement(&candidates, &sequence).into_iter();
    song.spans
        .iter()
        .map(|span| {
            let id = span.chord?.0 as usize;
            candidates.get(id)?.get(chosen.next()?).map(sounding)
        })
        .collect()
}

struct Chop<'a> {
    style: &'a RoleStyle,
    feel: Feel,
    shapes: Vec<Option<Shape>>,
    spread: Ticks,
    clip: Ring,
    ring: Ring,
    choke: Ring,
    strings: Strings,
}

impl Chop<'_> {
    fn act(&mut self, cue: Cue) {
        self.strings.set_bar(cue.bar);
        match cue.act {
            Act::Damp | Act::Change => {
                let at = self.feel.place(cue.at, cue.even);
                self.strings.damp_all(at);
            }
            Act::Again => self.strings.end_round(),
            Act::Strike(strike) | Act::Walk { strike, .. } => match strike.stroke {
                Some(Stroke::Down) => self.down(cue, strike.loud, self.ring, false),
                Some(Stroke::Chop) => self.down(cue, strike.loud, self.clip, false),
                Some(Stroke::Up) => self.up(cue, strike.loud),
                // A bow's: no bar of the chop has one.
                Some(Stroke::Tone | Stroke::DoubleStop) | None => {}
            },
            Act::Hit => self.down(cue, Loud::Accent, self.choke, true),
            Act::FinalHit => self.down(cue, Loud::Accent, Ring::FULL, true),
        }
    }

    fn down(&mut self, cue: Cue, loud: Loud, ring: Ring, whole: bool) {
        let Some(Some(notes)) = self.shapes.get(cue.span) else { return };
        let spread = self.spread;
        let strum = Strum { notes, crossed: 0, spread, loud, share: 1.0, ring, whole };
        strum.play(cue, &mut self.feel, &mut self.strings);
    }

    fn up(&mut self, cue: Cue, loud: Loud) {
        let Some(Some(shape)) = self.shapes.get(cue.span) else { return };
        let taken = usize::from(self.style.up_strings).min(shape.len());
        let notes: Shape = shape.iter().rev().take(taken).copied().collect();
        let share = self.feel.up();
        let (spread, ring) = (self.spread, self.clip);
        let strum = Strum { notes: &notes, crossed: 0, spread, loud, share, ring, whole: false };
        strum.play(cue, &mut self.feel, &mut self.strings);
    }
}
