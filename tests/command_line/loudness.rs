//! How loud the shipped songs come out, measured as broadcasters do, and who is heard of whom.

use std::path::Path;
use std::process::Command;
use std::sync::Mutex;
use std::thread;

use crate::common::loudness::{Measured, lufs, measured, through_small_speakers};
use crate::common::shipped::{songs, styles};
use crate::common::sound::{RATE, rendered};
use openchair::arrange::{Plan, arrange};
use openchair::chart::{Lead, Role, RoleSet, SectionPart, Song};
use openchair::perform::{Performance, perform};
use openchair::style::Style;
use openchair::synth::{LOUDNESS, Synth, loudness, make_up};

/// Every shipped song, and its own style.
fn songs_in_their_styles() -> Vec<(String, Song, Style)> {
    let styles = styles();
    let with_style = |(path, song): (std::path::PathBuf, Song)| {
        let named = Path::new(&song.style).file_stem().unwrap().to_str().unwrap().to_owned();
        let style = styles.iter().find(|style| style.name == named).unwrap().clone();
        (path.file_stem().unwrap().to_str().unwrap().to_owned(), song, style)
    };
    songs().into_iter().map(with_style).collect()
}

fn played(song: &Song, style: &Style, band: Option<RoleSet>) -> Performance {
    let plan = Plan { band, tag: style.tag, ..Plan::default() };
    perform(&arrange(song, &plan).unwrap(), style, 1).unwrap()
}

/// Both sides of the band's own sound, as loud as it is exported.
fn heard(performance: &Performance, gain: f32) -> (Vec<f32>, Vec<f32>) {
    rendered(&mut Synth::new(performance, RATE).at_gain(gain), 4_096)
}

/// Does `work` for each, on as many threads as the machine has cores, and gives the results in order.
fn each<T: Sync, R: Send>(things: &[T], work: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let cores = thread::available_parallelism().map_or(1, usize::from);
    let next = Mutex::new(0..things.len());
    let done = Mutex::new(Vec::new());
    thread::scope(|scope| {
        for _ in 0..cores {
            scope.spawn(|| {
                loop {
                    let Some(number) = next.lock().unwrap().next() else { return };
                    let result = work(&things[number]);
                    done.lock().unwrap().push((number, result));
                }
            });
        }
    });
    let mut done = done.into_inner().unwrap();
    done.sort_by_key(|(number, _)| *number);
    done.into_iter().map(|(_, result)| result).collect()
}

#[test]
fn every_song_is_as_loud_as_the_others() {
    // -18 LUFS within 1 LU, and the true peak below -1 dBTP, which leaves a lossy coder room (EBU R 128
    // asks the same of programmes: the peak at -1 dBTP, the loudness within 1 LU live; from memory).
    let songs = songs_in_their_styles();
    let table = each(&songs, |(name, song, style)| {
        let performance = played(song, style, None);
        let gain = make_up(&performance);
        let (left, right) = heard(&performance, gain);
        (name.clone(), style.name.clone(), loudness(&performance), gain, measured(&left, &right))
    });
    println!("song, style, LUFS reckoned at a gain of 1, made up by dB, LUFS, dBTP:");
    for (name, style, reckoned, gain, Measured { lufs, true_peak }) in &table {
        println!(
            "{name:32} {style:12} {:6.2} {:+5.2} {lufs:6.2} {true_peak:5.2}",
            reckoned.unwrap(),
            20.0 * gain.log10()
        );
    }
    for (name, _, _, _, Measured { lufs, true_peak }) in &table {
        assert!((lufs - LOUDNESS).abs() < 1.0, "{name}: {lufs:.2} LUFS");
        assert!(*true_peak < -1.0, "{name}: {true_peak:.2} dBTP");
    }
}

#[test]
fn the_program_writes_it_so() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("made.wav");
    let (name, ..) = shortest(1).remove(0);
    let song = Path::new(env!("CARGO_MANIFEST_DIR")).join("songs").join(format!("{name}.toml"));
    let whole = |more: &[&str]| {
        let made = Command::new(env!("CARGO_BIN_EXE_openchair"))
            .arg("export")
            .arg(&song)
            .arg("-o")
            .arg(&file)
            .args(more)
            .output()
            .unwrap();
        assert!(made.status.success(), "{made:?}");
        let mut reader = hound::WavReader::open(&file).unwrap();
        let samples: Vec<f32> =
            reader.samples::<i16>().map(|it| f32::from(it.unwrap()) / 32_768.0).collect();
        let side = |from: usize| samples.iter().skip(from).step_by(2).copied().collect();
        let (left, right): (Vec<f32>, Vec<f32>) = (side(0), side(1));
        measured(&left, &right)
    };
    let all = whole(&[]);
    assert!((all.lufs - LOUDNESS).abs() < 1.0 && all.true_peak < -1.0, "{name}: {all:?}");
    // Whoever sits out makes the others no louder.
    let without = whole(&["--sit-out", "bass"]);
    assert!(without.lufs < all.lufs, "{all:?} {without:?}");
}

/// The shortest of the shipped songs, so many.
fn shortest(count: usize) -> Vec<(String, Song, Style)> {
    let mut songs = songs_in_their_styles();
    songs.sort_by_cached_key(|(_, song, style)| {
        let performance = played(song, style, None);
        performance.nanos(performance.end).0
    });
    songs.truncate(count);
    songs
}

#[test]
fn line_ups_of_all_sizes_are_near() {
    // A duo need not be as loud as a band, nor the whole room exactly so: within 3 LU.
    let line_ups: [&[Role]; 4] = [
        &[Role::Bass, Role::Guitar],
        &[Role::Bass, Role::Banjo],
        &[Role::Chop, Role::Guitar],
        &Role::ALL,
    ];
    let pairs: Vec<_> = shortest(4).into_iter().zip(line_ups).collect();
    let found = each(&pairs, |((name, song, style), roles)| {
        let performance = played(song, style, Some(roles.iter().copied().collect()));
        let (left, right) = heard(&performance, make_up(&performance));
        (name.clone(), *roles, measured(&left, &right))
    });
    for (name, roles, Measured { lufs, true_peak }) in found {
        println!("measured: {name} by {roles:?}: {lufs:.2} LUFS, {true_peak:.2} dBTP");
        assert!((lufs - LOUDNESS).abs() < 3.0, "{name} by {roles:?}: {lufs:.2}");
        assert!(true_peak < -1.0, "{name} by {roles:?}: {true_peak:.2}");
    }
}

/// How loud a role, alone, is at least and at most beside all six together, in LU, through a small
/// loudspeaker. Common practice, no source: what lies more than 15 below the rest is missed only when it
/// stops; nobody who accompanies comes near to all the others together; and a fiddle's chops are to be
/// felt under the mandolin's.
const fn share(role: Role) -> std::ops::Range<f64> {
    match role {
        Role::Fiddle => -22.0..-4.0,
        Role::Lead => -12.0..-1.0,
        _ => -15.0..-1.5,
    }
}

#[test]
fn everybody_is_heard_on_small_speakers() {
    // A laptop's loudspeaker gives nothing below 150 Hz, where a bass has its fundamentals. Half the rate of
    // files: what is above 12 kHz makes nobody heard.
    const HALF: u32 = RATE / 2;
    let mut work = Vec::new();
    for (name, song, style) in shortest(3) {
        let all = played(&song, &style, Some(Role::ALL.into_iter().collect()));
        for part in &all.parts {
            let mut alone = all.clone();
            alone.parts = vec![part.clone()];
            work.push((name.clone(), part.role, alone));
        }
    }
    // So softly that the limiter sleeps, and the sum of each alone is all together.
    let sounds = each(&work, |(_, _, alone)| {
        let (left, right) = rendered(&mut Synth::new(alone, HALF).at_gain(0.25), 4_096);
        [left, right].map(|side| through_small_speakers(&side, HALF))
    });
    let of = |[left, right]: &[Vec<f32>; 2]| lufs(left, right, HALF);
    for heard in work.iter().zip(&sounds).collect::<Vec<_>>().chunk_by(|a, b| a.0.0 == b.0.0) {
        let mut all = [vec![0.0; heard[0].1[0].len()], vec![0.0; heard[0].1[0].len()]];
        for (_, alone) in heard {
            for (all, alone) in all.iter_mut().zip(*alone) {
                all.iter_mut().zip(alone).for_each(|(sum, x)| *sum += x);
            }
        }
        for ((name, role, _), alone) in heard {
            let found = of(alone) - of(&all);
            println!("measured: {name}: {role} at {found:.1} LU");
            assert!(share(*role).contains(&found), "{name}: {role} at {found:.1} LU");
        }
    }
}

/// A song has a shape that is heard: from the first sung verse to the first sung chorus 2 dB or more, from that to
/// the last 1 dB or more, in LUFS over the bars in which all play (common practice, no source).
#[test]
fn a_chorus_is_heard_to_lift_and_the_last_one_more() {
    let songs: Vec<_> = songs_in_their_styles()
        .into_iter()
        .filter(|(_, song, _)| {
            let is = |part| song.sections.iter().any(|s| SectionPart::of(&s.name) == Some(part));
            is(SectionPart::Verse) && is(SectionPart::Chorus)
        })
        .collect();
    assert!(songs.len() > 3, "{}", songs.len());
    let table = each(&songs, |(name, song, style)| {
        let plan = Plan { tag: style.tag, ..Plan::default() };
        let arrangement = arrange(song, &plan).unwrap();
        let performance = perform(&arrangement, style, 1).unwrap();
        let (left, right) = heard(&performance, make_up(&performance));
        let frame = |at| (performance.nanos(at).seconds() * f64::from(RATE)) as usize;
        let loud = |pass: usize| {
            let (mut a, mut b) = (Vec::new(), Vec::new());
            let bars = arrangement.bars.iter().filter(|bar| {
                let chords = arrangement.spans[bar.spans.clone()].iter();
                bar.pass == pass
                    && bar.stops.is_empty()
                    && chords.clone().all(|s| s.chord.is_some())
            });
            for bar in bars {
                let range = frame(bar.start)..frame(bar.end()).min(left.len());
                a.extend_from_slice(&left[range.clone()]);
                b.extend_from_slice(&right[range]);
            }
            lufs(&a, &b, RATE)
        };
        let sung = |part| -> Vec<usize> {
            let passes = arrangement.passes.iter().enumerate();
            let passes = passes.filter(|(_, pass)| {
                let section = pass.label.split(':').next().unwrap();
                pass.lead == Some(Lead::Voice) && SectionPart::of(section) == Some(part)
            });
            passes.map(|(at, _)| at).collect()
        };
        let (verses, choruses) = (sung(SectionPart::Verse), sung(SectionPart::Chorus));
        let first = loud(choruses[0]);
        let last = (choruses.len() > 1).then(|| loud(*choruses.last().unwrap()) - first);
        (name.clone(), first - loud(verses[0]), last)
    });
    println!("song, verse to chorus, first to last chorus, dB: {table:#?}");
    for (name, chorus, last) in table {
        assert!(chorus >= 2.0, "{name}: {chorus:.2} dB");
        assert!(last.is_none_or(|last| last >= 1.0), "{name}: {last:?} dB");
    }
}
