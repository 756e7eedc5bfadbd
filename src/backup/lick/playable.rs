//! Whether two hands can play a lick, and whether it goes where it says.

use std::ops::Range;

use super::lick::{Lick, LickSlot, Purpose};
use super::word::goes;
use crate::text::list;
use crate::theory::Chord;
use crate::theory::fretboard::banjo::{BANJO, sounding};

/// What is wrong in a step of a lick: the step, counted on through `arrives`, and the words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Fault {
    pub slots: Range<usize>,
    pub message: String,
    pub help: String,
}

/// Within so many steps the hand stays in one place.
const ONE_PLACE: usize = 4;

/// All that is wrong with a lick.
pub(super) fn faults(lick: &Lick) -> Vec<Fault> {
    let slots: Vec<&LickSlot> = lick.slots.iter().chain(&lick.arrives).collect();
    let mut faults = fingers(&slots, lick.slots.len());
    faults.extend(slurs(&slots));
    faults.extend(places(&slots));
    faults.extend(arrival(lick));
    faults
}

/// No finger twice running within an eighth. From `end` on it has arrived.
fn fingers(slots: &[&LickSlot], end: usize) -> Vec<Fault> {
    let pairs = slots.iter().zip(slots.iter().skip(1)).enumerate();
    let clash = pairs.filter_map(|(at, (one, next))| {
        let both = one.notes().iter().find_map(|note| {
            let finger = note.finger?;
            next.notes().iter().any(|other| other.finger == Some(finger)).then_some(finger)
        })?;
        Some(Fault {
            slots: at..at + 2,
            message: format!(
                "the finger {} picks twice in a row{}",
                both.letter(),
                if at + 1 == end { ": in the last step and where it arrives" } else { "" }
            ),
            help: "give one of the two to another finger, or let it ring between: .".to_owned(),
        })
    });
    clash.collect()
}

/// What the left hand makes hangs on a string that sounds.
fn slurs(slots: &[&LickSlot]) -> Vec<Fault> {
    let mut faults = Vec::new();
    let mut sounding: [Option<u8>; 6] = [None; 6];
    for (at, slot) in slots.iter().enumerate() {
        if **slot == LickSlot::Rest {
            sounding = [None; 6];
        }
        for note in slot.notes() {
            let Some(held) = sounding.get_mut(usize::from(note.string)) else { continue };
            if let (None, Some((kind, to))) = (note.finger, note.slur) {
                let wrong = match *held {
                    None => Some((
                        format!("string {} does not sound yet", note.string),
                        "pick it before the left hand takes it on".to_owned(),
                    )),
                    Some(from) => {
                        goes(kind, from, to).err().map(|wrong| (wrong.message, wrong.help))
                    }
                };
                if let Some((message, help)) = wrong {
                    faults.push(Fault { slots: at..at + 1, message, help });
                }
            }
            *held = Some(note.ends_at());
        }
    }
    faults
}

/// What is stopped within a few steps lies under one hand.
fn places(slots: &[&LickSlot]) -> Option<Fault> {
    let reach = BANJO.reach;
    (0..slots.len()).find_map(|at| {
        let window = slots.get(at..(at + ONE_PLACE).min(slots.len()))?;
        let frets: Vec<u8> = window
            .iter()
            .flat_map(|slot| slot.notes())
            .flat_map(|note| [note.fret, note.ends_at()])
            .filter(|fret| *fret > 0)
            .collect();
        let (low, high) = (frets.iter().min()?, frets.iter().max()?);
        // A slide takes the hand along, so one fret more than it spans.
        let most = if *low >= reach.higher_from { reach.higher } else { reach.anywhere } + 1;
        (high - low > most).then(|| Fault {
            slots: at..at + window.len(),
            message: format!("these steps need frets {low} to {high} at once"),
            help: format!("keep what is stopped within {most} frets, or let it ring between: ."),
        })
    })
}

/// It arrives on the root or the third of the chord that it leads to.
fn arrival(lick: &Lick) -> Option<Fault> {
    let end = lick.slots.len();
    let fault = |slots, message: &str, help: String| {
        Some(Fault { slots, message: message.to_owned(), help })
    };
    match (&lick.to, &lick.arrives) {
        (None, None) if lick.purpose == Purpose::LeadIn => fault(
            0..end,
            "this lead-in leads nowhere",
            "say to which chord, as in to = \"C\", and where it arrives: arrives = \"t2:1\""
                .to_owned(),
        ),
        (Some(to), None) => fault(
            0..end,
            "it does not say where it arrives",
            format!("add arrives with the root or the third of {to}: {}", landings(to)),
        ),
        (None, Some(_)) => fault(
            end..end + 1,
            "it does not say what chord it arrives at",
            "add to = \"C\"".to_owned(),
        ),
        (Some(to), Some(slot)) => {
            let homes = homes(to);
            let home = slot.notes().iter().any(|note| {
                homes.contains(&sounding(note.string, note.ends_at(), 0).pitch_class())
            });
            if home {
                return None;
            }
            fault(
                end..end + 1,
                "it does not arrive on the root or the third of the chord that it leads to",
                format!("write one of the two of {to}: {}", landings(to)),
            )
        }
        (None, None) => None,
    }
}

/// Where the root or the third of a chord lies down the neck, as it is written: once on each string.
fn landings(chord: &Chord) -> String {
    /// A hand in open position comes as far.
    const HIGHEST: u8 = 5;
    let homes = homes(chord);
    let on = |(string, finger): (u8, &str)| {
        let fret =
            (0..=HIGHEST).find(|fret| homes.contains(&sounding(string, *fret, 0).pitch_class()))?;
        Some(format!("{finger}{string}:{fret}"))
    };
    let words: Vec<String> =
        [(4, "t"), (3, "t"), (2, "i"), (1, "m")].into_iter().filter_map(on).collect();
    list(&words, "or")
}

/// The pitch classes that a lead-in arrives on: the root, and the third or what is suspended for it.
pub(in crate::backup) fn homes(chord: &Chord) -> Vec<u8> {
    let root = chord.root.pitch_class();
    let third = chord.quality.third_or_suspended().map(|third| (root + third) % 12);
    std::iter::once(root).chain(third).collect()
}
