//! The five-string banjo: fingers that take turns, strings that fit, notes beside the chord that a player
//! would put there. Of every song and style with a banjo in the band.
//!
//! Strings, frets and fingers are the program's own tablature; that it is what sounds is held elsewhere
//! (tests/pure/banjo_part.rs). What they must be is said here anew.

use openchair::chart::Role;
use openchair::perform::{Pick, banjo_picks};
use openchair::theory::fretboard::banjo::choose_banjo_capo;

use super::row::{Bound, Row, share};
use super::stroke::spoken;
use super::take::Take;

/// How long before a chord a note may lead into it, in ticks: a bar of 4/4.
const NEAR: i64 = 3840;

/// An eighth note.
const EIGHTH: i64 = 480;

fn picks(take: &Take) -> Vec<Pick> {
    let part = take.style.part(Role::Banjo).unwrap();
    banjo_picks(&take.sheet, part, take.seed)
}

/// Thumb, index and middle finger take turns: none picks twice in a row within an eighth note (the six
/// rolls of reference/rolls.json, each with its source, have none that does).
pub fn fingers(takes: &[Take]) -> Row {
    let name = "banjo: another finger than the one before within an eighth note";
    share(name, Bound::AtLeast(100.0), 1000, takes, |take, tally| {
        let picks = picks(take);
        let moments: Vec<&[Pick]> = picks.chunk_by(|one, other| one.at == other.at).collect();
        for pair in moments.windows(2) {
            let at = pair[1][0].at.get();
            if at - pair[0][0].at.get() > EIGHTH {
                continue;
            }
            let twice = pair[1].iter().find(|p| pair[0].iter().any(|o| o.finger() == p.finger()));
            tally.see(twice.is_none(), || (take.bar_number(at), format!("{twice:?}")));
        }
    })
}

/// What is picked is of the chord, or its sixth (E over G, A over C, B over D), or lies on the way into the
/// root of a chord that comes within a bar, no further from it than a fourth. Common practice, no source.
pub fn notes(takes: &[Take]) -> Row {
    let name = "banjo: notes of the chord, its sixth, or on the way into the next chord";
    share(name, Bound::AtLeast(100.0), 1000, takes, |take, tally| {
        for pick in picks(take) {
            let at = pick.at.get();
            let (Some(span), Some(chord)) = (take.span_at(at), take.chord_at(at)) else { continue };
            let class = pick.pitch.get() % 12;
            let above = (12 + class - chord.root.pitch_class()) % 12;
            let leads = || {
                let next = take.chord_at(span.end.get());
                let near = span.end.get() - at <= NEAR;
                next.filter(|_| near).is_some_and(|next| {
                    let away = (12 + class - next.root.pitch_class()) % 12;
                    away.min(12 - away) <= 5
                })
            };
            // The short string cannot be stopped: where it rings is held below.
            let rings = pick.string == 5;
            let good = chord.contains(class) || above == 9 || rings || leads();
            tally.see(good, || {
                (take.bar_number(at), format!("{} over {chord}", spoken(pick.pitch.get())))
            });
        }
    })
}

/// The last note before G goes to C, and before C goes to D, where it is not of the chord: an A (or a B on
/// from it) leads into C, an E or a D into D. Common practice, no source.
pub fn lead_ins(takes: &[Take]) -> Row {
    const G: u8 = 7;
    let name = "banjo: A or B leads G into C, D or E leads C into D, and so from any one to its four or two";
    share(name, Bound::AtLeast(100.0), 100, takes, |take, tally| {
        let picks = picks(take);
        for pair in take.sheet.spans.windows(2) {
            let (Some(from), Some(to)) = (take.chord_of(&pair[0]), take.chord_of(&pair[1])) else {
                continue;
            };
            let at = pair[1].start.get();
            // The short string drones and leads nowhere.
            let long = |pick: &&Pick| pick.string < 5 && pick.at.get() < at;
            let Some(last) = picks.iter().rfind(long) else { continue };
            let class = last.pitch.get() % 12;
            let in_chord = last.at < pair[0].start || from.contains(class);
            let major = |chord: &openchair::theory::Chord| chord.quality.third() == Some(4);
            if in_chord || !major(from) || !major(to) {
                continue;
            }
            // As if the first chord were G, or C.
            let up = (12 + to.root.pitch_class() - from.root.pitch_class()) % 12;
            let as_in = |home: u8| (12 + class + home - from.root.pitch_class()) % 12;
            let wanted: &[u8] = match up {
                // G into C; its sixth, E, is a note of the roll.
                5 => &[9, 11, 4],
                // C into D; its sixth is A.
                2 => &[2, 4, 9],
                _ => continue,
            };
            let heard = as_in(if up == 5 { G } else { 0 });
            tally.see(wanted.contains(&heard), || {
                let what = format!("{} from {from} to {to}", spoken(last.pitch.get()));
                (take.bar_number(last.at.get()), what)
            });
        }
    })
}

/// The short string, a G above the capo, is picked over the chords that the G fits, and drones over others, D among
/// them, where nothing that the banjo sounds lies a semitone beside it: neither at once nor an eighth before or
/// after, but for what leads into the next chord. Common practice, no source.
pub fn short_string(takes: &[Take]) -> Row {
    let name =
        "banjo: the short string rings with G and C, and drones over D where no F sharp sounds";
    share(name, Bound::AtLeast(100.0), 1000, takes, |take, tally| {
        let capo = choose_banjo_capo(take.sheet.key);
        let class = (7 + capo) % 12;
        let beside = |tone: u8| matches!((12 + tone - class) % 12, 1 | 11);
        let picks = picks(take);
        for pick in picks.iter().filter(|pick| pick.string == 5) {
            let at = pick.at.get();
            let (Some(chord), Some(span)) = (take.chord_at(at), take.span_at(at)) else { continue };
            let above = (12 + class - chord.root.pitch_class()) % 12;
            // Of the chord, or its sixth or ninth.
            let fits = chord.contains(class) || above == 9 || above == 2;
            let near = |other: &&Pick| {
                let apart = (other.at.get() - at).abs();
                let leads = span.end.get() - other.at.get() <= 2 * EIGHTH;
                other.string < 5 && apart <= EIGHTH && !leads
            };
            let rubs = picks.iter().filter(near).any(|other| beside(other.pitch.get() % 12));
            let others = chord.pitch_classes().any(|tone| beside(tone) && above != 5);
            let good = pick.fret == 0 && (fits || !(rubs || others));
            tally.see(good, || (take.bar_number(at), format!("the short string over {chord}")));
        }
    })
}
