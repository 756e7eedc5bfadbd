//! What a string band does, held against what is published of it, and marked where it is common
//! practice without a source.

use openchair::arrange::Plan;
use openchair::chart::{Lead, Role, Song};
use openchair::style::Style;
use openchair::time::Meter;

use crate::common::midi_file::{MidiFile, Note};
use crate::common::played::Played;
use crate::common::shipped;
use crate::common::shipped::{exported, pairs};
use crate::common::timetable::{Bar, Timetable};

/// Some performances of a song, looked at one role at a time.
fn each_part(song: &Song, style: &Style, role: Role, mut look: impl FnMut(&Played<'_>)) {
    if !song.band.contains(role) || style.part(role).is_none() {
        return;
    }
    let plan = Plan::default();
    let sheet = Timetable::new(song, &plan, style);
    for seed in 1..=5 {
        let file: MidiFile = exported(song, &plan, style, seed);
        let track = file.track(role.as_str()).unwrap();
        look(&Played::new(role, track, &sheet, style.part(role).unwrap()));
    }
}

/// The bars in which a role just plays: no sit-out, no stop, a chord throughout.
fn plain_bars(sheet: &Timetable, role: Role) -> impl Iterator<Item = &Bar> {
    let plain = move |bar: &&Bar| {
        bar.final_hit.is_none()
            && !bar.line
            && !bar.kickoff
            && (bar.start..bar.end).step_by(480).all(|at| sheet.heard(role, at))
    };
    sheet.bars.iter().filter(plain)
}

/// The places of a bar at which something is struck, in ticks from its head.
fn struck(part: &Played<'_>, bar: &Bar) -> Vec<i64> {
    let places = part.notes.iter().filter_map(|note| part.place(note));
    let mut inside: Vec<i64> =
        places.filter(|at| (bar.start..bar.end).contains(at)).map(|at| at - bar.start).collect();
    inside.sort_unstable();
    inside.dedup();
    inside
}

/// The pass in which the band comes down: the last sung verse, where a sung chorus follows and another verse was
/// before.
fn down(song: &Song) -> Option<usize> {
    let is = |at: usize, name: &str| {
        song.form.get(at).is_some_and(|pass| {
            pass.lead == Some(Lead::Voice) && song.sections[pass.section].name.starts_with(name)
        })
    };
    let last = (0..song.form.len()).rfind(|&at| is(at, "verse"))?;
    ((0..last).any(|at| is(at, "verse")) && is(last + 1, "chorus")).then_some(last)
}

#[test]
fn the_chop_is_on_the_backbeats() {
    // A clipped backbeat, on 2 and 4 against the bass on 1 and 3 (Wikipedia "Chop chord";
    // randysstudio.com). An upstroke ahead of an off-beat is for now and then ("Bluegrass Instrument
    // Roles"): not behind a singer.
    let mut sung = 0;
    for (path, song, style) in pairs() {
        if style.name != "boom-chick" {
            continue;
        }
        let down = down(&song);
        each_part(&song, &style, Role::Chop, |part| {
            for bar in plain_bars(part.sheet, Role::Chop) {
                let places = struck(part, bar);
                // In the verse that the band comes down in the chop rests until it builds.
                if down == Some(bar.pass) && places.is_empty() {
                    continue;
                }
                // In a tune in 2/4 the bass has both beats, and the backbeats are the "ands".
                let apart = if song.meter == Meter::TwoFour { 960 } else { 1920 };
                let backbeats: Vec<i64> =
                    (apart / 2..bar.end - bar.start).step_by(apart as usize).collect();
                for backbeat in &backbeats {
                    assert!(places.contains(backbeat), "{path:?} {}: {places:?}", bar.start);
                }
                assert!(!places.iter().any(|at| at % apart == 0), "on the bass's beat: {places:?}");
                if bar.sung {
                    sung += 1;
                    assert_eq!(places, backbeats, "{path:?} at {}", bar.start);
                }
            }
        });
    }
    assert!(sung > 300, "{sung}");
}

#[test]
fn the_chop_is_short() {
    // Muted right after the stroke (Wikipedia "Chop chord"). A fifth of a second is the most that
    // could still be called clipped (common practice, no source).
    for (_, song, style) in pairs() {
        each_part(&song, &style, Role::Chop, |part| {
            let most = part.sheet.ticks(200.0) as i64;
            let end = part.sheet.end;
            // A held chord rings, and so does the last one.
            let held =
                |at: i64| part.sheet.holds().any(|hold| (hold.start..hold.end).contains(&at));
            let rings = |n: &Note| n.end == end || part.place(n).is_some_and(held);
            let long = part.notes.iter().find(|n| !rings(n) && n.end - n.start > most);
            assert_eq!(long, None, "{}", style.name);
        });
    }
}

#[test]
fn the_bass_is_on_the_downbeats() {
    // Beats 1 and 3 in 4/4, 1 and 2 in 2/4, the downbeat in 3/4 (Wikipedia "Double bass", bluegrass
    // section). In cut time and in 6/8 those are its two beats (common practice, no source).
    for (path, song, style) in pairs() {
        each_part(&song, &style, Role::Bass, |part| {
            for bar in plain_bars(part.sheet, Role::Bass) {
                let places = struck(part, bar);
                let beats: &[i64] = match bar.gait {
                    Meter::FourFour | Meter::TwoTwo => &[0, 1920],
                    Meter::SixEight => &[0, 1440],
                    Meter::TwoFour if song.meter == Meter::TwoFour => &[0, 960],
                    // A short bar of a crooked tune is half of one of its own.
                    _ => &[0],
                };
                for beat in beats {
                    assert!(places.contains(beat), "{path:?} {} {places:?}", bar.start);
                }
            }
        });
    }
}

#[test]
fn the_guitar_booms_with_the_chord() {
    // Root on 1, strum on 2 ("Boom chick with alternating bass"): where a chord begins on a beat, the
    // lowest note struck is its root or slash bass (common practice, no source).
    for (path, song, style) in pairs() {
        each_part(&song, &style, Role::Guitar, |part| {
            for stretch in &part.sheet.chords {
                let Some(chord) = stretch.value else { continue };
                let on_a_beat = stretch.start % 960 == 0 && part.sheet.meter.denominator() != 8;
                let rests = part.sheet.rests_at(stretch.start);
                if !on_a_beat || rests || !part.sheet.heard(Role::Guitar, stretch.start) {
                    continue;
                }
                let struck = part.notes_in(part.window(stretch.start));
                let lowest = struck.map(|note| note.key).min();
                let class = lowest.map(|key| key % 12);
                assert_eq!(class, Some(chord.bass_class()), "{path:?} {chord} {}", stretch.start);
            }
        });
    }
}

#[test]
fn a_walk_arrives_by_step() {
    // Diatonic walk-ups and walk-downs at a chord change (Wikipedia "Double bass"); that the last note
    // lies a whole tone at most from the root it leads to is common practice, no source.
    let walking = |meter: &str, bar: &str| {
        let toml = format!(
            "about = 'walks'\nmeters = ['{meter}']\ntempo = [40, 240]\ntag = 'chords'\n[bass]\nlooseness = 0\n\
             [[bass.bar]]\nwhen = 'change next'\nbar = '{bar}'\n[[bass.bar]]\nbar = '{plain}'\n",
            plain = bar.replace('>', "."),
        );
        shipped::style("walking", &toml)
    };
    let mut walks = 0;
    for (path, song) in shipped::songs() {
        let bars: &[&str] = match song.meter.as_str() {
            "3/4" => &["R . >", "R > >"],
            "6/8" => &["R . . > . >", "R . . > > >"],
            _ => &["R . . >", "R . > >", "R > > >"],
        };
        for bar in bars {
            let style = walking(song.meter.as_str(), bar);
            let band = Plan { band: Some([Role::Bass].into_iter().collect()), ..Plan::default() };
            let sheet = Timetable::new(&song, &band, &style);
            let file = exported(&song, &band, &style, 1);
            let part = Played::new(
                Role::Bass,
                file.track("bass").unwrap(),
                &sheet,
                style.part(Role::Bass).unwrap(),
            );
            for (at, bar) in sheet.bars.iter().enumerate() {
                let Some(next) = sheet.bars.get(at + 1) else { break };
                let lead = bar.chords.last().unwrap().clone();
                let target = sheet.chord_at(next.start);
                let walks_here = lead.value.is_some()
                    && target.is_some()
                    && target != lead.value
                    && !bar.silent.contains(Role::Bass)
                    && sheet.heard(Role::Bass, next.start)
                    && (bar.start..bar.end).step_by(480).all(|at| sheet.heard(Role::Bass, at))
                    && bar.meter == song.meter
                    && bar.chords.len() == 1;
                if !walks_here {
                    continue;
                }
                let upto = |at: i64| part.notes.partition_point(|n| part.place(n).unwrap() < at);
                let first: Note = part.notes[upto(next.start)];
                let last = part.notes[upto(next.start) - 1];
                assert!(last.start > bar.start + 480, "the walk is there");
                let step = (i32::from(first.key) - i32::from(last.key)).abs();
                assert!((1..=2).contains(&step), "{path:?} {}: {last:?} {first:?}", bar.start);
                walks += 1;
            }
        }
    }
    assert!(walks > 100, "{walks}");
}

#[test]
fn timing_wanders_and_does_not_jitter() {
    // Human deviations from the beat are correlated from one to the next (Hennig et al. 2011, PLoS
    // ONE 6(10) e26457): positive at lag 1. And they are there. A slow song with a stroke to the bar
    // has a hundred of them in one performance, so it is reckoned over all of them.
    for (path, song, style) in pairs() {
        for role in Role::BAND {
            let (mut all_together, mut all_variance) = (0.0, 0.0);
            each_part(&song, &style, role, |part| {
                let mut last = i64::MIN;
                let mut off = Vec::new();
                for note in &part.notes {
                    let at = part.place(note).unwrap();
                    // The first string of each stroke.
                    if at > last {
                        off.push(note.start as f64 - part.sheet.swung(at));
                        last = at;
                    }
                }
                let mean = off.iter().sum::<f64>() / off.len() as f64;
                let variance: f64 = off.iter().map(|x| (x - mean).powi(2)).sum();
                let together: f64 = off.windows(2).map(|w| (w[0] - mean) * (w[1] - mean)).sum();
                all_together += together;
                all_variance += variance;
                // Below what a trio is heard as even with (SD of 30 to 50 ms: Rasch 1979).
                let sd = (variance / off.len() as f64).sqrt() / part.sheet.ticks(1.0);
                assert!((0.3..30.0).contains(&sd), "{role}: {sd} ms");
            });
            let lag_1 = all_together / all_variance;
            // Drummers to a click 0.14 to 0.42 (Groove MIDI data); of one song some less or more.
            assert!((0.05..0.6).contains(&lag_1), "{role} {path:?} {}: {lag_1}", style.name);
        }
    }
}

#[test]
fn up_strokes_are_lighter_and_strings_sound_in_order() {
    // Within one down-stroke the strings follow from low to high; an up-stroke goes the other way
    // and is lighter (common practice, no source).
    for (_, song, style) in pairs() {
        each_part(&song, &style, Role::Guitar, |part| {
            let mut strokes: Vec<Vec<Note>> = Vec::new();
            for note in &part.notes {
                let at = part.place(note);
                match strokes.last_mut() {
                    Some(stroke) if part.place(&stroke[0]) == at => stroke.push(*note),
                    _ => strokes.push(vec![*note]),
                }
            }
            let mean = |stroke: &[Note]| {
                let sum: f64 = stroke.iter().map(|n| f64::from(n.velocity)).sum();
                sum / stroke.len() as f64
            };
            let (mut down, mut up) = (Vec::new(), Vec::new());
            for stroke in strokes.iter().filter(|stroke| stroke.len() >= 3) {
                let rises = stroke.windows(2).all(|w| w[0].key < w[1].key);
                let falls = stroke.windows(2).all(|w| w[0].key > w[1].key);
                assert!(rises || falls, "{}: {stroke:?}", style.name);
                if rises { down.push(mean(stroke)) } else { up.push(mean(stroke)) }
            }
            let average = |x: &[f64]| x.iter().sum::<f64>() / x.len() as f64;
            assert!(down.len() > 20 && (up.is_empty() || average(&up) < average(&down)));
        });
    }
}
