//! The banjo's part in every shipped song and style: what it picks can be played, belongs to the chord,
//! and changes nothing for the others.

use std::collections::BTreeSet;

use openchair::arrange::{Arrangement, Plan, arrange};
use openchair::chart::{Role, RoleSet, Song};
use openchair::perform::{Ends, Pick, banjo_picks, perform};
use openchair::style::{BarFacts, Slot, Style};
use openchair::theory::fretboard::banjo::{choose_banjo_capo, short_string_rings};
use openchair::theory::{Chord, Key, Mode, Scale, added_sixth, lead_in};
use openchair::time::Ticks;

use crate::common::contract;
use crate::common::shipped;
use crate::common::shipped::{exported, pairs};
use crate::common::timetable::Timetable;

/// gDGBD, first string first (reference/instruments.json).
const OPEN: [u8; 5] = [62, 59, 55, 50, 67];

fn with_banjo(key: Option<Key>) -> Plan {
    let band: RoleSet = Role::BAND.into_iter().chain([Role::Banjo]).collect();
    Plan { band: Some(band), key, ..Plan::default() }
}

/// The song's own key, and the keys of every capo there is.
fn keys(song: &Song) -> impl Iterator<Item = Option<Key>> {
    let key = song.key;
    std::iter::once(None).chain([1, 3, 5, 8, 10].map(move |up| Some(key.moved(up))))
}

/// What a banjo picks in each song and style, in one key or in several.
fn each_part(every_key: bool, mut look: impl FnMut(&str, &Arrangement, &Style, &[Pick])) {
    for (path, song, style) in pairs() {
        for key in keys(&song).take(if every_key { 6 } else { 1 }) {
            let plan = arrange(&song, &with_banjo(key)).unwrap();
            for seed in 1..=2 {
                let picks = banjo_picks(&plan, style.part(Role::Banjo).unwrap(), seed);
                let name = format!("{} {} {}", path.display(), style.name, plan.key);
                look(&name, &plan, &style, &picks);
            }
        }
    }
}

/// The picks that sound together.
fn together(picks: &[Pick]) -> impl Iterator<Item = &[Pick]> {
    picks.chunk_by(|a, b| a.at == b.at)
}

fn chord_at(song: &Arrangement, at: Ticks) -> &Chord {
    let span = song.spans.iter().rfind(|span| span.start <= at).unwrap();
    song.chord(span.chord.unwrap()).unwrap()
}

#[test]
fn every_pick_is_on_the_neck_and_under_the_hand() {
    each_part(true, |name, song, _, picks| {
        let capo = choose_banjo_capo(song.key);
        for picks in together(picks) {
            let fingers: BTreeSet<_> = picks.iter().map(|pick| pick.finger()).collect();
            let strings: BTreeSet<_> = picks.iter().map(|pick| pick.string).collect();
            assert_eq!((fingers.len(), strings.len()), (picks.len(), picks.len()), "{name}");
            for pick in picks {
                assert!(
                    (1..=5).contains(&pick.string) && pick.fret + capo <= 22,
                    "{name} {pick:?}"
                );
                let open = OPEN[usize::from(pick.string) - 1];
                assert_eq!(pick.pitch.get(), open + pick.fret + capo, "{name} {pick:?}");
            }
        }
        // What is stopped while one chord is held low lies under one hand: four frets, five from the
        // sixth up.
        for span in &song.spans {
            let rolled = picks.iter().filter(|pick| {
                (span.start..span.end).contains(&pick.at)
                    && pick.ends != Ends::Vamped
                    && pick.fret > 0
            });
            let frets: Vec<u8> = rolled.map(|pick| pick.fret).collect();
            let (Some(low), Some(high)) = (frets.iter().min(), frets.iter().max()) else {
                continue;
            };
            // The hand may reach on for one note and back, as a lead-in does, but no further than this.
            assert!(high - low <= 5, "{name}: frets {low} to {high} in {span:?}");
        }
    });
}

/// Thumb, index and middle finger in turn (Evans; Witt): none twice in a row within an eighth note, and each
/// on the strings that the rule gives it, but for a few.
#[test]
fn no_finger_plays_twice_in_a_row() {
    let (mut all, mut unusual) = (0, 0);
    each_part(true, |name, _, _, picks| {
        let moments: Vec<&[Pick]> = together(picks).collect();
        for pair in moments.windows(2) {
            if pair[1][0].at - pair[0][0].at > Ticks::EIGHTH {
                continue;
            }
            for pick in pair[1] {
                let before = pair[0].iter().find(|other| other.finger() == pick.finger());
                assert_eq!(before, None, "{name}: {pick:?}");
            }
        }
        all += picks.len();
        unusual += picks
            .iter()
            .filter(|pick| pick.finger().is_some_and(|finger| !finger.is_usual(pick.string)))
            .count();
    });
    assert!(all > 100_000, "{all}");
    assert!(unusual * 100 < all, "{unusual} of {all}");
}

/// A vamp is three stopped strings up the neck, the hand stays up for the whole bar, and from chord to
/// chord it moves little.
#[test]
fn vamps_are_closed_and_keep_their_place() {
    let (mut vamps, mut moved, mut shifts) = (0, 0, 0);
    each_part(true, |name, song, _, picks| {
        let vamped: Vec<&[Pick]> =
            together(picks).filter(|picks| picks[0].ends == Ends::Vamped).collect();
        let position = |picks: &[Pick]| picks.iter().map(|pick| pick.fret).min().unwrap();
        for picks in &vamped {
            assert!(picks.iter().all(|pick| pick.fret > 0 && pick.ends == Ends::Vamped), "{name}");
            let capo = choose_banjo_capo(song.key);
            assert!(picks.iter().all(|pick| (3..=15).contains(&(pick.fret + capo))), "{name}");
        }
        for pair in vamped.windows(2).filter(|pair| position(pair[0]) != position(pair[1])) {
            shifts += 1;
            moved += u32::from(position(pair[0]).abs_diff(position(pair[1])));
        }
        vamps += vamped.len();
        let bars: BTreeSet<u32> = vamped.iter().map(|picks| picks[0].bar).collect();
        let low = |pick: &&Pick| matches!(pick.ends, Ends::Rings | Ends::Passes);
        let low = picks.iter().filter(low).find(|pick| bars.contains(&pick.bar));
        assert_eq!(low, None, "{name}: the hand jumps within a bar");
    });
    assert!(vamps > 1000, "{vamps}");
    // Less than three frets on the way from one chord to the next.
    assert!(moved < 3 * shifts, "{moved} frets in {shifts} shifts");
}

/// Tones of the chord; the sixth; the short string where it fits; on the way into a change a note that
/// leads there.
#[test]
fn every_note_belongs() {
    let (mut sixths, mut leads) = (0, 0);
    each_part(true, |name, song, style, picks| {
        for pick in picks {
            let chord = chord_at(song, pick.at);
            let class = pick.pitch.pitch_class();
            if chord.contains(class) {
                continue;
            }
            assert_eq!(pick.ends == Ends::Passes, pick.string != 5, "{name} {pick:?}");
            if pick.string == 5 {
                let capo = choose_banjo_capo(song.key);
                assert!(short_string_rings(chord, capo, song.drone), "{name} {chord} {pick:?}");
            } else if added_sixth(chord, song.key) == Some(class) {
                sixths += 1;
            } else {
                let next = song.spans.iter().find(|span| span.start > pick.at).unwrap();
                let next = song.chord(next.chord.unwrap()).unwrap();
                let bar = &song.bars[pick.bar as usize];
                assert!(bar.facts.change_next, "{name} {chord} {pick:?}");
                let way: Vec<u8> =
                    (1..=4).flat_map(|steps| lead_in(chord, next, steps, song.key)).collect();
                assert!(way.contains(&class), "{name} {style:?} {chord} to {next}: {pick:?}");
                // Over the seventh chords of a circle, the scale of where each leads.
                let third = i32::from(chord.root.pitch_class() + 4);
                let in_key =
                    song.key.scale().iter().any(|n| i32::from(n.pitch_class()) == third % 12);
                let major = chord.quality.third() == Some(4);
                let own = Key { tonic: chord.root, mode: Mode::Mixolydian };
                let key = if major && !in_key { own } else { song.key };
                let own = Scale::of(key, chord).has(i32::from(class));
                assert!(own || class == next.root.pitch_class(), "{name} {chord} {next} {pick:?}");
                leads += 1;
            }
        }
    });
    assert!(sixths > 500 && leads > 500, "{sixths} {leads}");
}

/// A bar that asks for a string gets one, in the styles that come with the program: nothing is left out for
/// want of a finger, but what stands just before a stop or the end.
#[test]
fn nothing_is_left_out() {
    let (mut asked, mut got) = (0, 0);
    each_part(false, |_, song, style, picks| {
        let part = style.part(Role::Banjo).unwrap();
        let meter = song.meter;
        // The least that any bar of the style asks for.
        let strikes =
            |slots: &[Slot]| slots.iter().filter(|s| matches!(s, Slot::Strike(_))).count();
        let least =
            part.bars.iter().filter(|bar| bar.meter == meter).map(|bar| strikes(&bar.slots));
        let least = least.min().unwrap();
        for (index, bar) in song.bars.iter().enumerate() {
            let plain = bar.stops.is_empty() && bar.meter == meter && bar.spans.len() == 1;
            let here = song.spans[bar.spans.start].chord.is_some();
            let played = !bar.resting.contains(Role::Banjo) && index + 2 < song.bars.len();
            if plain && here && played {
                asked += 1;
                let moments: BTreeSet<Ticks> = picks
                    .iter()
                    .filter(|pick| pick.bar as usize == index)
                    .map(|pick| pick.at)
                    .collect();
                got += usize::from(moments.len() >= least);
            }
        }
    });
    assert_eq!(asked, got);
}

/// A roll goes on however fast the song is, and however short its chords are.
#[test]
fn speed_makes_no_holes() {
    for (path, song, style) in pairs() {
        let places = |tempo| {
            let plan = arrange(&song, &Plan { tempo, ..with_banjo(None) }).unwrap();
            let picks = banjo_picks(&plan, style.part(Role::Banjo).unwrap(), 1);
            picks.iter().map(|pick| pick.at).collect::<BTreeSet<Ticks>>()
        };
        assert_eq!(places(Some(40.0)), places(Some(280.0)), "{path:?} {}", style.name);
    }
}

/// The picks are the notes: struck in the same order, at the same pitch.
#[test]
fn tablature_is_what_sounds() {
    each_part(false, |name, song, style, _| {
        let performed = perform(song, style, 1).unwrap();
        let part = performed.parts.iter().find(|part| part.role == Role::Banjo).unwrap();
        let picks = banjo_picks(song, style.part(Role::Banjo).unwrap(), 1);
        let sorted = |mut all: Vec<(u32, u8)>| {
            all.sort_unstable();
            all
        };
        // What comes before the form, if anything, is no banjo part yet.
        let notes = part.notes.iter().filter(|note| note.bar >= picks[0].bar);
        let sounded = sorted(notes.map(|n| (n.bar, n.pitch.get())).collect());
        let picked = sorted(picks.iter().map(|p| (p.bar, p.pitch.get())).collect());
        assert_eq!(sounded, picked, "{name}");
        let strings: Vec<usize> = part
            .notes
            .iter()
            .map(|note| {
                part.notes.iter().filter(|n| n.start <= note.start && note.start < n.end).count()
            })
            .collect();
        assert!(strings.into_iter().all(|sounding| sounding <= 5), "{name}");
    });
}

/// Stops, silences, sit-outs, the end, the grid: what holds for every exported part.
#[test]
fn it_keeps_what_every_part_keeps() {
    for (path, song, style) in pairs() {
        for plan in [with_banjo(None), Plan { count_in: 1, ..with_banjo(Some(song.key.moved(5))) }]
        {
            let file = exported(&song, &plan, &style, 3);
            let sheet = Timetable::new(&song, &plan, &style);
            contract::hold(&file, &song.title, &sheet, &style);
            assert!(file.track("banjo").is_some(), "{path:?}");
        }
    }
}

#[test]
fn the_others_play_as_they_do_without() {
    for (path, song, style) in pairs() {
        let notes = |band: &[Role]| {
            let band = Some(band.iter().copied().collect());
            let plan = arrange(&song, &Plan { band, ..Plan::default() }).unwrap();
            perform(&plan, &style, 1).unwrap().parts
        };
        let without = notes(&Role::BAND);
        let mut with = notes(&[Role::Bass, Role::Chop, Role::Guitar, Role::Banjo]);
        assert_eq!(with.pop().map(|part| part.role), Some(Role::Banjo), "{path:?}");
        assert_eq!(with, without, "{path:?} {}", style.name);
    }
}

/// Up the neck when nobody chops: in every style with a chop to miss, somewhere in the bar.
#[test]
fn it_vamps_when_the_chop_is_missing() {
    for style in shipped::styles() {
        // Old-time banjo knows no vamp, and a ballad hardly.
        if ["old-time", "slow"].contains(&style.name.as_str()) {
            continue;
        }
        let part = style.part(Role::Banjo).unwrap();
        for &meter in &style.meters {
            let facts = BarFacts { no_chop: true, instrument_leads: true, ..BarFacts::default() };
            for turn in 0..4 {
                let bar = part.pick(meter, &facts, turn, 0.99).unwrap();
                let vamps = bar
                    .slots
                    .iter()
                    .filter(|slot| matches!(slot, Slot::Strike(strike) if strike.stroke.is_some()));
                assert!(vamps.count() > 0, "{} {meter} {bar:?}", style.name);
            }
        }
    }
}
