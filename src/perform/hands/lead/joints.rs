//! Which notes of a break are joined by the left hand, or in one bow.

use super::leader::{Joins, Leader, leader};
use super::{Does, Move};
use crate::arrange::Arrangement;
use crate::hash::{GAMMA, mix};
use crate::perform::lines::theme;
use crate::perform::slurs::soonest;
use crate::theory::MidiNote;
use crate::time::Ticks;

/// How a note of a break begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Begins {
    /// It is struck.
    Struck,
    /// It goes on from the one before: hammered on, or in the same bow.
    Joined,
    /// It is slid into from the one before.
    Slid,
}

/// Of the notes that a hand could slur, and of those that could lie in one bow, so many in a hundred are: now and
/// then, so that most are spoken plainly (common practice, no source).
const SLURRED: u64 = 35;
const BOWED: u64 = 30;

/// The widest step that is slurred, and that lies in one bow, in half steps: two frets, and what four fingers reach
/// on a fiddle's string.
const FRETS: u8 = 2;
const FINGERS: u8 = 5;

/// Joins notes of a break here and there. A hand slurs up into a beat from the note before it on the same string;
/// a bow takes the note after a beat along with it.
pub(super) fn join(song: &Arrangement, seed: u64, moves: &mut [Move]) {
    let shortest = soonest(song.tempo);
    for at in 1..moves.len() {
        let (Some(&before), Some(&this)) = (moves.get(at - 1), moves.get(at)) else { continue };
        let gap = this.at - before.at;
        if gap < shortest || gap > Ticks::EIGHTH || before.begins != Begins::Struck {
            continue;
        }
        let (Does::Plays(from, _), Does::Plays(to, _)) = (before.act, this.act) else { continue };
        let (Some(bar), Some(own)) =
            (song.bars.get(this.bar as usize), song.bars.get(before.bar as usize))
        else {
            continue;
        };
        if bar.pass != own.pass || bar.melody.is_some() || own.melody.is_some() {
            continue;
        }
        let beat = bar.meter.beat();
        let on_beat = (this.at - bar.start).is_multiple_of(beat);
        let from_beat = (before.at - own.start).is_multiple_of(beat);
        let place = (theme(bar.line) as u64) << 40
            ^ (bar.turn as u64) << 16
            ^ (this.at - bar.start).get() as u64;
        let dice = mix((seed ^ 0x534C_5552).wrapping_mul(GAMMA).wrapping_add(place)) % 100;
        let begins = match Leader::of(leader(song, bar).flatten()).joins {
            Joins::Nothing => continue,
            Joins::Bow if from_beat && !on_beat && dice < BOWED => in_one_bow(from, to),
            Joins::Strings(open) if on_beat && dice < SLURRED => slurred(open, from, to),
            Joins::Bow | Joins::Strings(_) => continue,
        };
        if let (Some(begins), Some(this)) = (begins, moves.get_mut(at)) {
            this.begins = begins;
        }
    }
}

fn in_one_bow(from: MidiNote, to: MidiNote) -> Option<Begins> {
    let step = to.get().abs_diff(from.get());
    (1..=FINGERS).contains(&step).then_some(Begins::Joined)
}

/// Up to a fret or two higher on the same string: hammered on from the open string and by a half step, else slid.
fn slurred(open: &[u8], from: MidiNote, to: MidiNote) -> Option<Begins> {
    let string = |note: MidiNote| open.iter().rposition(|open| *open <= note.get());
    let up = to.get().checked_sub(from.get())?;
    let own = string(from).filter(|own| string(to) == Some(*own))?;
    if !(1..=FRETS).contains(&up) {
        return None;
    }
    let is_open = open.get(own) == Some(&from.get());
    Some(if is_open || up == 1 { Begins::Joined } else { Begins::Slid })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::theory::fretboard::GUITAR;

    #[test]
    fn a_hand_slurs_on_one_string() {
        let slur = |from, to| slurred(&GUITAR.open, MidiNote::clamped(from), MidiNote::clamped(to));
        assert_eq!(slur(55, 57), Some(Begins::Joined), "the open third string to its second fret");
        assert_eq!(slur(57, 58), Some(Begins::Joined));
        assert_eq!(slur(60, 62), Some(Begins::Slid), "the second string's first fret to its third");
        assert_eq!(slur(58, 59), None, "the next string, open");
        assert_eq!(slur(62, 60), None, "down");
        assert_eq!(slur(60, 63), None, "too far");
        assert_eq!(slur(60, 60), None);
    }

    #[test]
    fn a_bow_takes_what_four_fingers_reach() {
        let bow = |from, to| in_one_bow(MidiNote::clamped(from), MidiNote::clamped(to));
        assert_eq!((bow(69, 71), bow(71, 66)), (Some(Begins::Joined), Some(Begins::Joined)));
        assert_eq!((bow(69, 69), bow(62, 69)), (None, None));
    }
}
