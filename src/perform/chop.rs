use super::around::rings_until;
use super::cues::{Act, Cue, cues};
use super::feel::Feel;
use super::strings::{Ring, Strings};
use super::strum::Strum;
use super::{CHOKE_MILLIS, Note};
use crate::arrange::Arrangement;
use crate::chart::Role;
use crate::style::{Loud, RoleStyle, Stroke};
use crate::theory::MidiNote;
use crate::theory::fretboard::{ChopShape, chop_shapes, least_movement};
use crate::time::Ticks;

/// How long a chop sounds where the style does not say, in milliseconds: the fingers relax right
/// after the stroke (Wikipedia "Chop chord"; the figure is common practice, no source).
const CLIP_MILLIS: f64 = 90.0;

/// The mandolin's notes.
pub(super) fn play(song: &Arrangement, style: &RoleStyle, feel: Feel, seed: u64) -> Vec<Note> {
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
    cues(song, style, Role::Chop, seed, |cue| chop.act(cue));
    chop.strings.finish()
}

/// The notes of a shape, low string first.
type Shape = Vec<(usize, MidiNote)>;

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
            let shape = candidates.get(id)?.get(chosen.next()?)?;
            let notes = shape.notes();
            Some(notes.iter().enumerate().filter_map(|(i, note)| Some((i, (*note)?))).collect())
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
                Some(Stroke::Down) => self.down(cue, strike.loud, self.ring),
                Some(Stroke::Chop) => self.down(cue, strike.loud, self.clip),
                Some(Stroke::Up) => self.up(cue, strike.loud),
                // A bow's: no bar of the chop has one.
                Some(Stroke::Tone | Stroke::DoubleStop) | None => {}
            },
            Act::Hit => self.down(cue, Loud::Accent, self.choke),
            Act::FinalHit => self.down(cue, Loud::Accent, Ring::FULL),
        }
    }

    fn down(&mut self, cue: Cue, loud: Loud, ring: Ring) {
        let Some(Some(notes)) = self.shapes.get(cue.span) else { return };
        let strum = Strum { notes, crossed: 0, spread: self.spread, loud, share: 1.0, ring };
        strum.play(cue, &mut self.feel, &mut self.strings);
    }

    fn up(&mut self, cue: Cue, loud: Loud) {
        let Some(Some(shape)) = self.shapes.get(cue.span) else { return };
        let taken = usize::from(self.style.up_strings).min(shape.len());
        let notes: Shape = shape.iter().rev().take(taken).copied().collect();
        let share = self.feel.up();
        let (spread, ring) = (self.spread, self.clip);
        let strum = Strum { notes: &notes, crossed: 0, spread, loud, share, ring };
        strum.play(cue, &mut self.feel, &mut self.strings);
    }
}
