//! What is heard of a banjo whose every note is known: when, which notes, how hard; at every rate, in noise, with
//! a band in the background. `tests/outside/onsets.py` does the same by others' measures on others' sounds.

use crate::common;
use crate::common::rolls::{Chance, Stroke, roll};
use crate::common::sound::{RATE, band, mono, p95, rendered, solo};
use openchair::chart::Role;
use openchair::hear::{Sound, Unheard, hear};
use openchair::synth::Synth;
use openchair::take::Hit;

/// Milliseconds within which a stroke heard is one struck: as MIREX counts onsets (its wiki, "Audio Onset
/// Detection"; 50 ms).
const WINDOW: f64 = 50.0;

fn millis(hit: &Hit) -> f64 {
    hit.at.seconds() * 1_000.0
}

/// Each stroke struck with the one heard for it, both by time, none twice.
fn matched<'a>(struck: &'a [Stroke], heard: &'a [Hit]) -> Vec<(&'a Stroke, &'a Hit)> {
    let (mut pairs, mut next) = (Vec::new(), 0);
    for stroke in struck {
        while next < heard.len() && millis(&heard[next]) < stroke.0 as f64 - WINDOW {
            next += 1;
        }
        if next < heard.len() && millis(&heard[next]) <= stroke.0 as f64 + WINDOW {
            pairs.push((stroke, &heard[next]));
            next += 1;
        }
    }
    pairs
}

/// The F-measure, and how late each matched stroke was heard in milliseconds.
fn score(struck: &[Stroke], heard: &[Hit]) -> (f64, Vec<f64>) {
    let pairs = matched(struck, heard);
    let late = pairs.iter().map(|(stroke, hit)| millis(hit) - stroke.0 as f64).collect();
    (2.0 * pairs.len() as f64 / (struck.len() + heard.len()) as f64, late)
}

fn banjo(a_second: f64, seconds: f64, seed: u64) -> (Vec<Stroke>, Vec<f32>) {
    let (strokes, notes) = roll(a_second, seconds, seed);
    let sound = mono(&solo(Role::Banjo, notes));
    (strokes, sound)
}

fn rms(sound: &[f32]) -> f32 {
    (sound.iter().map(|x| x * x).sum::<f32>() / sound.len() as f32).sqrt()
}

/// Another sound behind it, so many decibels softer.
fn with(sound: &[f32], other: &[f32], softer: f32) -> Vec<f32> {
    let gain = rms(sound) / rms(other) * 10.0_f32.powf(-softer / 20.0);
    sound.iter().zip(other.iter().cycle()).map(|(a, b)| a + gain * b).collect()
}

#[test]
fn rolls_are_heard_to_the_millisecond() {
    for (a_second, seed) in [(4.0, 1), (6.0, 2), (8.0, 3), (10.0, 4), (12.0, 5)] {
        // Three takes of a rate together: in a single slow one there are hardly forty strokes. Ten at ten and twelve a
        // second: from three to three the share of soft strokes that are missed there goes up and down by more than a
        // hundredth, and with those that are heard late the 95th of a hundred.
        let takes = if a_second >= 10.0 { 10 } else { 3 };
        let (mut both, mut all, mut late) = (0, 0, Vec::new());
        for seed in (0..takes).map(|take| seed + 10 * take) {
            let (strokes, sound) = banjo(a_second, 12.0, seed);
            let heard = hear(&sound, RATE).unwrap().take.hits;
            let (_, off) = score(&strokes, &heard);
            both += 2 * off.len();
            all += strokes.len() + heard.len();
            late.extend(off);
        }
        let f = both as f64 / all as f64;
        println!("measured: {a_second} a second: F {f:.3}, p95 {:.2} ms", p95(&late));
        // At twelve a second a soft stroke beneath two loud ones is missed now and then.
        let least = if a_second > 10.0 { 0.975 } else { 0.98 };
        assert!(f >= least, "{a_second} a second: F {f:.3}");
        // Friberg and Sundberg 1995 (J. Acoust. Soc. Am. 98): one tone out of place is noticed from 6 ms on. The highs
        // of a banjo ring for a second or two (bank FluidR3), so a soft stroke soon after a hard one is heard late.
        let most = if a_second > 10.0 { 3.5 } else { 2.5 };
        assert!(p95(&late) < most, "{a_second} a second: p95 {:.2} ms", p95(&late));
    }
}

/// Whoever trims a recording leaves next to nothing before the first stroke; cut within what rings, it begins with none.
#[test]
fn a_trimmed_recording_begins_with_its_stroke() {
    let (mut firsts, mut none, mut all) = (0, 0, 0);
    for seed in 1..=4 {
        let (strokes, sound) = banjo(6.0, 6.0, seed);
        for stroke in strokes.iter().skip(3).step_by(5).take(5) {
            let at = stroke.0 as usize * RATE as usize / 1_000;
            let near = |hit: &Hit, at: f64| (millis(hit) - at).abs() < 15.0;
            let trimmed = hear(&sound[at - 6 * RATE as usize / 1_000..], RATE).unwrap().take.hits;
            firsts += usize::from(near(&trimmed[0], 6.0));
            let within = hear(&sound[at + 60 * RATE as usize / 1_000..], RATE).unwrap().take.hits;
            none += usize::from(millis(&within[0]) > 30.0);
            all += 1;
        }
    }
    // A soft one beneath what rings of louder ones may be missed here as anywhere.
    assert!(firsts * 10 >= all * 8, "{firsts} of {all} first strokes heard");
    assert!(none * 10 >= all * 9, "{none} of {all} begin with none");
}

#[test]
fn notes_are_told_right_or_not_at_all() {
    let (mut told, mut right, mut all) = (0, 0, 0);
    for (a_second, seed) in [(4.0, 11), (8.0, 12)] {
        let (strokes, sound) = banjo(a_second, 15.0, seed);
        let heard = hear(&sound, RATE).unwrap();
        assert_eq!(heard.tuning, Some(0.0));
        for (stroke, hit) in matched(&strokes, &heard.take.hits) {
            all += 1;
            told += usize::from(!hit.pitches.is_empty());
            let there = hit.pitches.iter().all(|pitch| stroke.1.contains(&pitch.get()));
            right += usize::from(!hit.pitches.is_empty() && there);
        }
    }
    assert!(told * 100 >= all * 97, "{told} of {all} told");
    // Of recorded banjos nine in ten are told right in a roll; this one's overtones are as long as theirs.
    assert!(right * 1000 >= told * 975, "{right} of {told} right");
}

/// A room: some hundred reflections that die away by 60 dB in so many seconds, all of them together so many decibels
/// softer than what comes straight from the player.
fn in_a_room(sound: &[f32], rate: u32, seconds: f64, softer: f64, seed: u64) -> Vec<f32> {
    let mut chance = Chance::new(seed);
    let mut reflections: Vec<(usize, f64)> = (0..300)
        .map(|_| {
            let late = 0.003 + chance.even() * seconds;
            let sign = if chance.even() < 0.5 { -1.0 } else { 1.0 };
            ((late * f64::from(rate)) as usize, sign * (-6.9 * late / seconds).exp())
        })
        .collect();
    let energy: f64 = reflections.iter().map(|(_, gain)| gain * gain).sum();
    let gain = 10.0_f64.powf(-softer / 20.0) / energy.sqrt();
    reflections.iter_mut().for_each(|reflection| reflection.1 *= gain);
    let mut heard = sound.to_vec();
    for (late, gain) in reflections {
        let behind = sound.iter().take(sound.len().saturating_sub(late));
        heard.iter_mut().skip(late).zip(behind).for_each(|(to, from)| *to += gain as f32 * from);
    }
    heard
}

/// Chords of three strings on the second and fourth beat and a bass note on the first and third, each choked or
/// stopped: strokes and notes.
fn vamps(seconds: i64, seed: u64) -> (Vec<Stroke>, Vec<openchair::perform::Note>) {
    const CHORDS: [[u8; 3]; 3] = [[59, 62, 67], [60, 64, 67], [57, 62, 66]];
    let mut chance = Chance::new(seed);
    let (mut strokes, mut notes) = (Vec::new(), Vec::new());
    for beat in 0..(seconds - 1) * 1_000 / 280 {
        let at = 400 + beat * 280 + (5.0 * chance.normal()).round() as i64;
        let chord = CHORDS[(beat / 8) as usize % 3];
        if beat % 2 == 0 {
            if chance.even() < 0.5 {
                notes.push(common::sound::note(at, 180, chord[0] - 12 + 7, 84));
                strokes.push((at, vec![chord[0] - 12 + 7]));
            }
            continue;
        }
        let spread = (chance.even() * 10.0) as i64;
        for (string, pitch) in (0..).zip(chord) {
            notes.push(common::sound::note(at + spread * string, 95, pitch, 96));
        }
        strokes.push((at, chord.to_vec()));
    }
    (strokes, notes)
}

#[test]
fn choked_chords_are_one_stroke_each_and_damping_is_none() {
    let (strokes, notes) = vamps(14, 51);
    let (sound, _) = rendered(&mut Synth::new(&solo(Role::Banjo, notes), 16_000), 4_096);
    for (place, seconds, softer) in
        [("dry", 0.0, 0.0), ("bedroom", 0.35, 4.0), ("kitchen", 0.7, 2.0)]
    {
        let sound = if seconds > 0.0 {
            in_a_room(&sound, 16_000, seconds, softer, 5)
        } else {
            sound.clone()
        };
        let heard = hear(&sound, 16_000).unwrap();
        let (f, late) = score(&strokes, &heard.take.hits);
        assert!(f >= 0.97 && p95(&late) < 5.0, "{place}: F {f:.3}, p95 {:.2} ms", p95(&late));
        let pairs = matched(&strokes, &heard.take.hits);
        let fits = |(stroke, hit): &&(&Stroke, &Hit)| {
            let classes: Vec<u8> = stroke.1.iter().map(|pitch| pitch % 12).collect();
            !hit.pitches.is_empty()
                && hit.pitches.iter().all(|pitch| classes.contains(&pitch.pitch_class()))
        };
        let fit = pairs.iter().filter(fits).count();
        assert!(fit * 100 >= pairs.len() * 95, "{place}: {fit} of {} chords", pairs.len());
    }
}

#[test]
fn a_room_is_heard_through() {
    let (strokes, notes) = roll(8.0, 12.0, 61);
    let (sound, _) = rendered(&mut Synth::new(&solo(Role::Banjo, notes), 16_000), 4_096);
    for (seconds, softer) in [(0.25, 6.0), (0.5, 4.0), (0.8, 2.0)] {
        let heard = hear(&in_a_room(&sound, 16_000, seconds, softer, 6), 16_000).unwrap().take.hits;
        let (f, late) = score(&strokes, &heard);
        assert!(f >= 0.97 && p95(&late) < 3.0, "{seconds} s: F {f:.3}, p95 {:.2} ms", p95(&late));
    }
}

#[test]
fn slurs_are_told_from_strokes() {
    let (_, _, part) = common::slurred::played_for(90, "G", 24);
    let struck: Vec<(i64, bool)> =
        part.notes.iter().map(|note| (note.start.get(), note.slurred.is_some())).collect();
    let performance = openchair::perform::Performance {
        tempo: common::slurred::song(90, "G", 24).tempo,
        ..solo(Role::Banjo, part.notes)
    };
    let heard = hear(&mono(&performance), RATE).unwrap();
    let millis_of = |ticks: i64| {
        performance.tempo.nanos(openchair::time::Ticks::new(ticks)).seconds() * 1_000.0
    };
    let near = |hits: &[Hit], at: f64| hits.iter().any(|hit| (millis(hit) - at).abs() <= WINDOW);
    let slurs: Vec<f64> =
        struck.iter().filter(|(_, slurred)| *slurred).map(|(at, _)| millis_of(*at)).collect();
    // Of those that are heard at all, and do not fall together with a stroke.
    let picks: Vec<f64> =
        struck.iter().filter(|(_, slurred)| !*slurred).map(|(at, _)| millis_of(*at)).collect();
    let alone: Vec<f64> = slurs
        .into_iter()
        .filter(|slur| picks.iter().all(|pick| (pick - slur).abs() > 60.0))
        .collect();
    let right = alone.iter().filter(|at| near(&heard.slurs, **at)).count();
    let wrong = alone.iter().filter(|at| near(&heard.take.hits, **at)).count();
    // The built-in banjo's slurs, of a kind that nothing was learnt from; `tests/outside/ear` has the recorded ones.
    assert!(right * 100 >= alone.len() * 60, "{right} of {} heard", alone.len());
    assert!(right * 100 >= (right + wrong) * 60, "{right} told right, {wrong} as strokes");
}

#[test]
fn a_brush_is_one_stroke_and_a_tremolo_many() {
    let brushes = (0..16).flat_map(|n| {
        [55, 59, 62, 67].into_iter().zip(0..).map(move |(pitch, string)| {
            common::sound::note(500 + 400 * n + 8 * string, 380 - 8 * string, pitch, 90)
        })
    });
    let heard = hear(&mono(&solo(Role::Banjo, brushes.collect())), RATE).unwrap().take.hits;
    assert_eq!(heard.len(), 16);
    let tremolo =
        (0..60).map(|n| common::sound::note(500 + 75 * n, 75, 67, 80 + (n % 2) as u8 * 10));
    let heard = hear(&mono(&solo(Role::Banjo, tremolo.collect())), RATE).unwrap().take.hits;
    assert!((57..=63).contains(&heard.len()), "{}", heard.len());
}

#[test]
fn noise_and_a_band_in_the_background_are_not_the_player() {
    let (strokes, sound) = banjo(8.0, 12.0, 21);
    let mut chance = Chance::new(1);
    let noise: Vec<f32> = (0..sound.len()).map(|_| chance.normal() as f32).collect();
    let (f, late) = score(&strokes, &hear(&with(&sound, &noise, 20.0), RATE).unwrap().take.hits);
    assert!(f >= 0.97 && p95(&late) < 3.0, "noise: F {f:.3}, p95 {:.2} ms", p95(&late));
    let others = mono(&band(6));
    let (f, late) = score(&strokes, &hear(&with(&sound, &others, 20.0), RATE).unwrap().take.hits);
    assert!(f >= 0.95 && p95(&late) < 3.0, "band: F {f:.3}, p95 {:.2} ms", p95(&late));
}

#[test]
fn a_constant_offset_changes_nothing() {
    let (struck, sound) = banjo(6.0, 12.0, 9);
    let peak = sound.iter().fold(0.0_f32, |peak, sample| peak.max(sample.abs()));
    let offset = sound.iter().map(|sample| sample + 0.4 * peak).collect();
    let centred = Sound::new(offset, 1, RATE);
    let heard = hear(&centred.samples, centred.rate).unwrap().take.hits;
    let plain = hear(&sound, RATE).unwrap().take.hits;
    assert_eq!(heard.len(), plain.len());
    let (of, _) = score(&struck, &heard);
    assert!(of >= 0.99, "{of}");
}

#[test]
fn every_rate_is_heard_by_the_same_rules() {
    let (strokes, notes) = roll(7.0, 8.0, 31);
    let performance = solo(Role::Banjo, notes);
    for rate in [8_000, 11_025, 16_000, 22_050, 44_100, 96_000, 192_000] {
        let (left, _) = rendered(&mut Synth::new(&performance, rate), 4_096);
        let heard = hear(&left, rate).unwrap().take.hits;
        let (f, late) = score(&strokes, &heard);
        assert!(f >= 0.97 && p95(&late) < 4.0, "{rate}: F {f:.3}, p95 {:.2} ms", p95(&late));
        let told = heard.iter().filter(|hit| !hit.pitches.is_empty()).count();
        assert!(told * 10 >= heard.len() * 8, "{rate}: {told} of {}", heard.len());
    }
}

#[test]
fn a_capo_out_of_tune_is_heard_through() {
    let (strokes, sound) = banjo(5.0, 10.0, 41);
    for cents in [-30.0_f64, 30.0] {
        // Played back at another rate it is out of tune, and over sooner or later by as much.
        let faster = (cents / 1_200.0).exp2();
        let heard = hear(&sound, (f64::from(RATE) * faster).round() as u32).unwrap();
        let tuning = heard.tuning.unwrap();
        assert!((tuning - cents).abs() <= 10.0, "{cents}: {tuning}");
        let moved: Vec<Stroke> = strokes
            .iter()
            .map(|(at, pitches)| ((*at as f64 / faster).round() as i64, pitches.clone()))
            .collect();
        let pairs = matched(&moved, &heard.take.hits);
        let right = |(stroke, hit): &&(&Stroke, &Hit)| {
            hit.pitches.first().is_some_and(|pitch| stroke.1.contains(&pitch.get()))
        };
        let right = pairs.iter().filter(right).count();
        assert!(right * 100 >= moved.len() * 85, "{cents}: {right} of {}", moved.len());
    }
}

#[test]
fn harder_strokes_are_louder() {
    let notes = (0..20).map(|n| {
        let velocity = if n % 2 == 0 { 60 } else { 110 };
        common::sound::note(500 + 400 * n, 350, 62, velocity)
    });
    let sound = mono(&solo(Role::Banjo, notes.collect()));
    let heard = hear(&sound, RATE).unwrap().take.hits;
    assert_eq!(heard.len(), 20);
    for pair in heard.chunks(2) {
        assert!(pair[1].loud > pair[0].loud + 15, "{} {}", pair[0].loud, pair[1].loud);
    }
}

#[test]
fn where_nothing_is_to_be_heard_that_is_said() {
    assert!(matches!(hear(&[0.1; 100], 44_100), Err(Unheard::TooShort { .. })));
    assert!(matches!(hear(&[], 44_100), Err(Unheard::TooShort { .. })));
    assert!(matches!(hear(&vec![0.0; 44_100], 44_100), Err(Unheard::Silent { .. })));
    let mut chance = Chance::new(7);
    // Steady hiss, at any loudness.
    let hiss: Vec<f32> = (0..5 * 44_100).map(|_| 0.05 * chance.normal() as f32).collect();
    assert_eq!(hear(&hiss, 44_100), Err(Unheard::NoStrokes));
    // Nonsense does no harm.
    for rate in [0, 1, 7, 200, 8_000, 4_000_000_000] {
        let _ = hear(&hiss[..9_000], rate);
    }
}
