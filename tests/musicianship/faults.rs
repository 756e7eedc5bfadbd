//! Each measure notices what it is there for: it passes a good performance, and fails one that is made
//! wrong in one way.

use openchair::arrange::{Arrangement, Plan, arrange};
use openchair::chart::{Lead, Role, Song};
use openchair::perform::{Note, Performance, perform};
use openchair::style::Style;
use openchair::theory::MidiNote;
use openchair::time::{Meter, Ticks};

use crate::measure::row::Row;
use crate::measure::swing::{self, Heard};
use crate::measure::take::Take;
use crate::measure::{bass_notes, hands, leads, lines, players, timing, together, touch};
use crate::shipped;

/// Lines of the same chords, with room for the band to vary them, or not.
const SONG: &str = r#"
title = "Four Times Round the Lamp"
key   = "G"
meter = "4/4"
tempo = 108
style = "boom-chick"
form  = ["verse: fiddle", "verse: fiddle", "verse: fiddle"]

[section.verse]
chords = """
| G | C | D | G |
| G | C | D | G |
| G | C | D | G |
| G | C | D | G |
| G | C | D | G |
"""
"#;

fn song() -> Song {
    shipped::song(SONG)
}

fn style() -> Style {
    shipped::styles().into_iter().find(|style| style.name == "boom-chick").unwrap()
}

fn played(style: &Style, doctor: impl FnOnce(&mut Performance, &Arrangement)) -> Vec<Take> {
    let sheet = arrange(&song(), &Plan::default()).unwrap();
    let mut performance = perform(&sheet, style, 1).unwrap();
    doctor(&mut performance, &sheet);
    vec![Take::of("made up", sheet, style, &performance, 1)]
}

/// The band as it plays, but for one role's notes.
fn with(role: Role, doctor: impl FnOnce(&mut Vec<Note>)) -> Vec<Take> {
    played(&style(), |performance, _| {
        let part = performance.parts.iter_mut().find(|part| part.role == role).unwrap();
        doctor(&mut part.notes);
    })
}

fn each(role: Role, doctor: impl FnMut(&mut Note)) -> Vec<Take> {
    with(role, |notes| notes.iter_mut().for_each(doctor))
}

fn moved(note: &mut Note, semitones: i32) {
    note.pitch = MidiNote::clamped(i32::from(note.pitch.get()) + semitones);
}

fn is_good(row: &Row) -> bool {
    assert!(row.looked > 0, "{}: nothing to look at", row.name);
    assert_eq!(row.bound.is_met(row.value), row.misses.is_empty(), "{row}");
    row.bound.is_met(row.value)
}

/// The measure passes the band as it plays, and none of the others.
fn tells(measure: impl Fn(&[Take]) -> Row, wrong: &[Vec<Take>]) {
    let good = measure(&played(&style(), |_, _| {}));
    assert!(is_good(&good), "{good}");
    for takes in wrong {
        let row = measure(takes);
        assert!(!is_good(&row), "{row}");
    }
}

#[test]
fn a_wrong_bass_note_is_noticed() {
    tells(bass_notes::roots, &[each(Role::Bass, |note| moved(note, 1))]);
}

#[test]
fn a_run_that_misses_its_goal_is_noticed() {
    // The last note of a bar, a tritone from the next.
    let tritones = with(Role::Bass, |notes| {
        for at in 1..notes.len() {
            if notes[at - 1].bar != notes[at].bar {
                notes[at - 1].pitch = notes[at].pitch;
                moved(&mut notes[at - 1], 6);
            }
        }
    });
    tells(bass_notes::runs, &[tritones]);
}

#[test]
fn what_no_hand_holds_is_noticed() {
    let far_apart = |role, from| {
        each(role, move |note| {
            if note.pitch.get() >= from {
                moved(note, 12);
            }
        })
    };
    let below = |role| each(role, |note| moved(note, -24));
    let above = |role| each(role, |note| moved(note, 24));
    let chop = [far_apart(Role::Chop, 70), below(Role::Chop), above(Role::Chop)];
    tells(|takes| hands::shapes(Role::Chop, takes), &chop);
    let guitar = [far_apart(Role::Guitar, 60), below(Role::Guitar), above(Role::Guitar)];
    tells(|takes| hands::shapes(Role::Guitar, takes), &guitar);
}

#[test]
fn a_hand_that_leaps_is_noticed() {
    // Up the neck in every other bar.
    let leaps = each(Role::Chop, |note| moved(note, 6 * (note.bar % 2) as i32));
    tells(hands::movement, &[leaps]);
}

#[test]
fn semitones_that_rub_are_noticed() {
    tells(together::clashes, &[each(Role::Bass, |note| moved(note, 1))]);
}

#[test]
fn a_crowded_register_is_noticed() {
    let high_bass = each(Role::Bass, |note| moved(note, 19));
    let low_chop = each(Role::Chop, |note| moved(note, -12));
    tells(together::registers, &[high_bass, low_chop]);
}

#[test]
fn a_band_that_repeats_itself_is_noticed() {
    let mut plain = style();
    for (_, part) in &mut plain.parts {
        part.bars.retain(|bar| bar.when.is_always() && bar.chance >= 1.0);
    }
    for measure in [lines::same_rhythm, lines::same_rhythm_in_a_song, lines::same_notes] {
        tells(measure, &[played(&plain, |_, _| {})]);
    }
}

#[test]
fn a_touch_that_never_changes_is_noticed() {
    let struck = |loud: fn(usize) -> u8| {
        played(&style(), |performance, _| {
            for part in &mut performance.parts {
                let notes = part.notes.iter_mut().enumerate();
                notes.for_each(|(at, note)| note.velocity = loud(at));
            }
        })
    };
    assert!(is_good(&touch::same_velocity(&struck(|at| 80 + (at % 13) as u8))));
    assert!(!is_good(&touch::same_velocity(&struck(|_| 80))));
}

/// Each note so many milliseconds later, told by its place among the role's.
fn later(role: Role, millis: impl Fn(usize) -> f64) -> Vec<Take> {
    played(&style(), |performance, sheet| {
        let part = performance.parts.iter_mut().find(|part| part.role == role).unwrap();
        for (at, note) in part.notes.iter_mut().enumerate() {
            let by = sheet.tempo.ticks_in_millis(millis(at));
            note.start = (note.start + by).max(Ticks::ZERO);
            note.end += by;
        }
    })
}

#[test]
fn strokes_off_the_grid_are_noticed() {
    let late = later(Role::Bass, |_| 40.0);
    let once = later(Role::Guitar, |at| if (98..106).contains(&at) { -40.0 } else { 0.0 });
    // The band swings as the style says; held against a style that swings otherwise, it does not.
    let mut even = style();
    even.feel.swing.clear();
    let sheet = arrange(&song(), &Plan::default()).unwrap();
    let performance = perform(&sheet, &style(), 1).unwrap();
    let otherwise = vec![Take::of("made up", sheet, &even, &performance, 1)];
    tells(timing::on_the_grid, &[late, once, otherwise]);
}

#[test]
fn breaks_that_are_all_alike_are_noticed() {
    let song = song();
    let take = |lead| leads::take("made up", &song, &style(), lead);
    let own = [take(Lead::Fiddle), take(Lead::Mandolin), take(Lead::Guitar)];
    let met = |row: &Row| row.bound.is_met(row.value);
    assert!(met(&leads::same_rhythm(&own)));
    // The fiddle's notes under three names.
    let alike = [Lead::Fiddle, Lead::Mandolin, Lead::Guitar].map(|lead| {
        let mut other = take(Lead::Fiddle);
        other.sheet.passes[0].lead = Some(lead);
        other
    });
    assert!(!met(&leads::same_rhythm(&alike)));
    let [least, most] = leads::chord_tones(&alike[..1]);
    assert!(least.value < 100.0 || most.value > 98.0, "{least} {most}");
}

#[test]
fn a_break_that_leaves_its_notes_hanging_is_noticed() {
    let mut take = leads::take("made up", &song(), &style(), Lead::Fiddle);
    let part = take.parts.iter_mut().find(|part| part.role == Role::Lead).unwrap();
    for stroke in &mut part.strokes {
        stroke.notes.iter_mut().for_each(|note| moved(note, 1));
    }
    let takes = [take];
    let met = |row: &Row| row.bound.is_met(row.value);
    assert!(!met(&leads::chord_tones(&takes)[0]));
    assert!(!met(&leads::resolved(&takes)));
    let mut late = leads::take("made up", &song(), &style(), Lead::Fiddle);
    let end = late.sheet.bars.iter().rfind(|bar| bar.pass == 0).unwrap().end();
    let part = late.parts.iter_mut().find(|part| part.role == Role::Lead).unwrap();
    let last = part.strokes.iter_mut().rfind(|stroke| stroke.at < end.get()).unwrap();
    last.at = end.get() - 480;
    assert!(!met(&leads::leaves_room(&[late])));
}

#[test]
fn blue_notes_that_rock_and_bars_that_come_again_are_noticed() {
    let met = |row: &Row| row.bound.is_met(row.value);
    let plain = leads::take("made up", &song(), &style(), Lead::Guitar);
    let mut rocks = leads::take("made up", &song(), &style(), Lead::Guitar);
    let roots: Vec<u8> = {
        let strokes = &rocks.part(Role::Lead).unwrap().strokes;
        let root = |at| rocks.chord_at(at).map_or(7, |chord| chord.root.pitch_class());
        strokes.iter().map(|stroke| root(stroke.at)).collect()
    };
    let part = rocks.parts.iter_mut().find(|part| part.role == Role::Lead).unwrap();
    for (at, (stroke, root)) in part.strokes.iter_mut().zip(roots).enumerate() {
        for note in &mut stroke.notes {
            note.pitch = MidiNote::new(48 + root + [4, 3][at % 2]).unwrap();
        }
    }
    let rocks = [rocks];
    assert!(!met(&leads::blue_notes(&rocks)));
    assert!(!met(&leads::first_bars(&rocks)));
    let mut again = plain;
    let bars: Vec<_> = again.sheet.bars.iter().filter(|bar| bar.pass == 0).cloned().collect();
    let part = again.parts.iter_mut().find(|part| part.role == Role::Lead).unwrap();
    let first: Vec<_> = part.strokes.iter().filter(|stroke| stroke.bar == 0).cloned().collect();
    let moved = |index: usize| {
        let by = bars[index].start - bars[0].start;
        first.iter().cloned().map(move |mut stroke| {
            (stroke.bar, stroke.at) = (index, stroke.at + by.get());
            for note in &mut stroke.notes {
                note.start += by;
                note.end += by;
            }
            stroke
        })
    };
    part.strokes = (0..bars.len()).flat_map(moved).collect();
    assert!(!met(&leads::bars_again(&[again])));
}

#[test]
fn a_band_that_gains_on_its_click_is_noticed() {
    let moved = |by: fn(i64) -> i64| {
        played(&style(), |performance, _| {
            for note in performance.parts.iter_mut().flat_map(|part| &mut part.notes) {
                let by = Ticks::new(by(note.start.get()));
                note.start += by;
                note.end += by;
            }
        })
    };
    let met = |row: &Row| row.bound.is_met(row.value);
    let [drift, far] = players::tempo(&moved(|_| 0));
    assert!(met(&drift) && met(&far), "{drift}{far}");
    // By one in 2,500: a twentieth of a beat in a minute.
    let [drift, _] = players::tempo(&moved(|at| -at / 2500));
    assert!(!met(&drift), "{drift}");
    // 29 ms, all of them.
    let [_, far] = players::tempo(&moved(|_| 50));
    assert!(!met(&far), "{far}");
}

#[test]
fn jitter_is_noticed() {
    let by_turns = later(Role::Bass, |at| if at % 2 == 0 { 8.0 } else { -8.0 });
    tells(timing::memory, &[by_turns]);
}

#[test]
fn a_band_that_is_not_together_is_noticed() {
    tells(timing::asynchrony, &[later(Role::Chop, |_| 25.0)]);
}

#[test]
fn swing_that_is_none_is_noticed() {
    let heard = |stated, share| {
        let (style, meter) = ("made up".to_owned(), Meter::FourFour);
        vec![Heard { style, meter, tempo: 200.0, pairs: 200.0, stated, share, looked: 100 }]
    };
    assert!(is_good(&swing::short_note(&heard(0.66, 0.66))));
    assert!(!is_good(&swing::short_note(&heard(0.7, 0.7))), "90 ms");
    assert!(is_good(&swing::ratio(&heard(0.77, 0.77))));
    assert!(!is_good(&swing::ratio(&heard(0.8, 0.8))), "4 to 1");
    assert!(is_good(&swing::as_stated(&heard(0.66, 0.65))));
    assert!(!is_good(&swing::as_stated(&heard(0.66, 0.6))), "18 ms off");
}
