//! What a lead's strokes sound like.

use super::stroke::{Does, Others, Stroke};
use crate::arrange::Arrangement;
use crate::perform::Note;
use crate::perform::around::rings_until;
use crate::perform::choice::Seat;
use crate::perform::feel::Feel;
use crate::perform::slurs::{SLURRED, SlidingHand};
use crate::perform::strings::{CHOKE_MILLIS, Ring, STRINGS, Strings};
use crate::theory::{Chord, MidiNote};
use crate::time::Ticks;

/// From the first string of a stroke to the last, in milliseconds: two of them, and a strum (common practice, no
/// source).
const PAIR_MILLIS: f64 = 5.0;
const STRUM_MILLIS: f64 = 14.0;

/// The longest that an open string and a strum ring on, in milliseconds (common practice, no source).
const RING_MILLIS: f64 = 1600.0;

/// A whole tone, in half steps.
const SECOND: u8 = 2;

/// The open strings in a pass.
pub(super) type Open = (&'static [u8], u8);

/// The notes of strokes, each with the open strings that it is played on, in the order of time.
pub(super) fn sound(seat: &Seat<'_>, feel: Feel, strokes: &[(Stroke, Open)]) -> Vec<Note> {
    let Seat { song, part: style, .. } = *seat;
    let choke = song.tempo.ticks_in_millis(CHOKE_MILLIS);
    let mut player = Player {
        song,
        feel,
        ring: Ring { share: style.length, at_most: None },
        choke: Ring { share: 1.0, at_most: Some(choke) },
        open: Ring { share: 1.0, at_most: Some(song.tempo.ticks_in_millis(RING_MILLIS)) },
        slides: SlidingHand::at(song.tempo),
        strings: Strings::new(rings_until(song)),
        span: 0,
    };
    let mut rest = strokes;
    while let [(stroke, open), later @ ..] = rest {
        player.act(stroke, *open, &goes_on(stroke, later));
        rest = later;
    }
    player.strings.finish()
}

/// The strings that go on as another note where the chord changes: the hand is on its way there, and lifts off none of
/// them.
fn goes_on(stroke: &Stroke, later: &[(Stroke, Open)]) -> Vec<(usize, MidiNote)> {
    if !matches!(stroke.does, Does::Change(_)) {
        return Vec::new();
    }
    let there = later.iter().map(|(next, _)| next).take_while(|next| next.at == stroke.at);
    there
        .filter_map(|next| match next.does {
            Does::Joins(string, pitch) | Does::Slides(string, pitch) => Some((string, pitch)),
            _ => None,
        })
        .collect()
}

struct Player<'a> {
    song: &'a Arrangement,
    feel: Feel,
    ring: Ring,
    choke: Ring,
    open: Ring,
    slides: SlidingHand,
    strings: Strings,
    /// The chord of the moment, in the arrangement's spans.
    span: usize,
}

impl Player<'_> {
    fn act(&mut self, stroke: &Stroke, open: Open, goes_on: &[(usize, MidiNote)]) {
        self.strings.set_bar(stroke.bar);
        if stroke.does == Does::Again {
            self.strings.end_round();
            return;
        }
        let at = self.feel.place(stroke.at, stroke.even);
        let next = |player: &Self| player.song.spans.get(player.span + 1).map(|span| span.start);
        while next(self).is_some_and(|start| start <= stroke.at) {
            self.span += 1;
        }
        let loud = stroke.loud;
        let velocity =
            |player: &Self, share: f64| player.feel.velocity(stroke.at, loud, share * stroke.share);
        match &stroke.does {
            Does::Stop => self.strings.damp_all(at),
            Does::Change(_) => self.leave(at, goes_on, |_, own| own),
            Does::Again => {}
            Does::Strikes(strings, others) => {
                let rings = |is_open: bool, own: bool| match others {
                    Others::Stop => false,
                    Others::OpenRing => is_open && own,
                    Others::Ring => own,
                };
                let is_open = |string: usize, note: MidiNote| {
                    let (strings, capo) = open;
                    strings.get(string).is_some_and(|nut| nut + capo == note.get())
                };
                let pitches: Vec<Option<MidiNote>> =
                    (0..STRINGS).map(|string| self.strings.pitch(string)).collect();
                self.leave(at, strings, |string, own| {
                    let pitch = pitches.get(string).copied().flatten();
                    rings(pitch.is_some_and(|pitch| is_open(string, pitch)), own)
                });
                let ring = if *others == Others::Stop { self.ring } else { self.open };
                let loud = velocity(self, 1.0);
                self.strike(at, strings, loud, ring);
            }
            Does::Joins(string, pitch) => {
                let loud = velocity(self, SLURRED);
                self.go_on(*string, at, *pitch, loud, |player, loud| {
                    player.strings.slur(*string, at, *pitch, loud, player.ring);
                });
            }
            Does::Slides(string, pitch) => {
                let loud = velocity(self, 1.0);
                let (feel, ring, slides) = (self.feel.clone(), self.ring, self.slides);
                let soft = |share| feel.velocity(stroke.at, stroke.loud, share * stroke.share);
                self.go_on(*string, at, *pitch, loud, |player, _| {
                    slides.slide(&mut player.strings, (*string, at, *pitch), soft, ring);
                });
            }
            Does::Hits(strings) => {
                self.strings.damp_all(at);
                let (loud, ring) = (velocity(self, 1.0), self.choke);
                self.strike(at, strings, loud, ring);
            }
            Does::Ends(strings) => {
                self.strings.damp_all(at);
                let loud = velocity(self, 1.0);
                self.strike(at, strings, loud, Ring::FULL);
            }
        }
    }

    /// Stops all strings but those that are struck or `rings`, asked with the string and whether it belongs to the chord.
    fn leave(
        &mut self,
        at: Ticks,
        struck: &[(usize, MidiNote)],
        rings: impl Fn(usize, bool) -> bool,
    ) {
        for string in 0..STRINGS {
            let Some(pitch) = self.strings.pitch(string) else { continue };
            let own = self.chord().is_some_and(|chord| chord.contains(pitch.pitch_class()));
            // A second rubs, however well both belong to the chord.
            let apart = |(_, note): &(usize, MidiNote)| note.get().abs_diff(pitch.get()) > SECOND;
            let own = own && struck.iter().all(apart);
            if !struck.iter().any(|(other, _)| *other == string) && !rings(string, own) {
                self.strings.damp(string, at);
            }
        }
    }

    fn chord(&self) -> Option<&Chord> {
        self.song.chord(self.song.spans.get(self.span)?.chord?)
    }

    fn strike(&mut self, at: Ticks, strings: &[(usize, MidiNote)], loud: u8, ring: Ring) {
        let millis = if strings.len() > 2 { STRUM_MILLIS } else { PAIR_MILLIS };
        let spread = self.song.tempo.ticks_in_millis(millis).get();
        let gaps = strings.len().saturating_sub(1).max(1) as i64;
        for (index, (string, pitch)) in (0..).zip(strings) {
            let later = Ticks::new(spread * index / gaps);
            self.strings.strike(*string, at + later, *pitch, loud, ring);
        }
    }

    /// Takes a string that sounds on to another note by `way`, and leaves the others; where it does not sound, it is
    /// struck.
    fn go_on(
        &mut self,
        string: usize,
        at: Ticks,
        pitch: MidiNote,
        loud: u8,
        way: impl FnOnce(&mut Self, u8),
    ) {
        let sounds = self.strings.pitch(string).is_some_and(|now| now != pitch);
        self.leave(at, &[(string, pitch)], |_, _| false);
        if sounds {
            way(self, loud);
        } else {
            self.strings.strike(string, at, pitch, loud, self.ring);
        }
    }
}
