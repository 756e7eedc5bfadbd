//! How a song starts before its form and how it ends after it. What is played there is common
//! practice, no source, unless a line says otherwise.

use std::fs;
use std::process::Command;

use openchair::arrange::{Arrangement, BarKind, Plan, arrange};
use openchair::chart::{Kickoff, Role, RoleSet, Song, read_song};
use openchair::live::{Action, Desk, Wish};
use openchair::perform::{Note, Performance, perform};
use openchair::practice::{Chairs, Stretch, changes};
use openchair::rehearsal::{Rehearsal, Wishes};
use openchair::style::{Style, Tag};
use openchair::text::{Problems, Source, report};
use openchair::time::{Meter, Nanos};

use crate::common::midi_file::{CUE_POINT, MARKER, MidiFile, TEMPO, TEXT};
use crate::common::shipped;

const BEAT: i64 = 960;
const BAR: i64 = 4 * BEAT;

fn song(head: &str, chords: &str) -> Song {
    shipped::song(&format!(
        "title = 'Tar Bucket'\ntempo = 120\nstyle = 'any'\n{head}\n\
         [section.a]\nchords = '{chords}'\n"
    ))
}

/// Patterns without any feel, for every role that has words of its own.
fn plain_style(meter: &str) -> Style {
    let mut toml = format!("about = 'any'\nmeters = ['{meter}']\n[dynamics]\nending = 1.0\n");
    for (role, bar) in
        [("bass", "R . . ."), ("chop", "- x - x"), ("guitar", "R D R D"), ("fiddle", "o . . .")]
    {
        let bar = match meter {
            "3/4" => bar.rsplit_once(' ').unwrap().0.to_owned(),
            "6/8" => bar.replace(' ', " . "),
            _ => bar.to_owned(),
        };
        let bar =
            if meter == "6/8" { bar.split(' ').take(6).collect::<Vec<_>>().join(" ") } else { bar };
        toml += &format!("[{role}]\nlooseness = 0\n[[{role}.bar]]\nbar = '{bar}'\n");
    }
    shipped::style("any", &toml)
}

fn play(song: &Song, style: &Style) -> (Arrangement, Performance) {
    let plan = Plan { tag: style.tag, ..Plan::default() };
    let arrangement = arrange(song, &plan).unwrap();
    let performance = perform(&arrangement, style, 1).unwrap();
    (arrangement, performance)
}

fn notes(performance: &Performance, role: Role) -> Vec<Note> {
    let parts = performance.parts.iter().filter(|part| part.role == role);
    parts.flat_map(|part| part.notes.clone()).collect()
}

fn before(notes: Vec<Note>, at: i64) -> Vec<Note> {
    notes.into_iter().filter(|note| note.start.get() < at).collect()
}

#[test]
fn a_kickoff_changes_nothing_of_the_song_itself() {
    for (path, plain, style) in shipped::pairs() {
        // One that is written out is a kickoff already.
        if plain.sections.iter().any(|section| section.pickup.is_some()) {
            continue;
        }
        for kickoff in [Kickoff::Pickup, Kickoff::Shuffles] {
            if kickoff == Kickoff::Shuffles && plain.meter == Meter::ThreeFour {
                continue;
            }
            let without = Song { kickoff: Kickoff::None, ..plain.clone() };
            let with = Song { kickoff, ..plain.clone() };
            let (_, before) = play(&without, &style);
            let (arrangement, after) = play(&with, &style);
            let shift = arrangement.form_start();
            assert!(shift.get() > 0 && after.end == before.end + shift, "{path:?}");
            for part in &before.parts {
                let moved: Vec<_> = part
                    .notes
                    .iter()
                    .map(|n| (n.start + shift, n.end + shift, n.pitch, n.velocity))
                    .collect();
                let now: Vec<_> = notes(&after, part.role)
                    .iter()
                    .filter(|note| note.start >= shift)
                    .map(|n| (n.start, n.end, n.pitch, n.velocity))
                    .collect();
                assert_eq!(moved, now, "{} {path:?} {}", part.role, style.name);
            }
        }
    }
}

#[test]
fn the_guitar_alone_picks_up_into_the_first_chord() {
    for (key, chords, root) in
        [("G", "| G | C |", 7), ("A mixolydian", "| A | G |", 9), ("C", "| F | C |", 5)]
    {
        for meter in ["4/4", "2/2", "2/4", "3/4", "6/8"] {
            let head =
                format!("key = '{key}'\nmeter = '{meter}'\nform = ['a']\nkickoff = 'pickup'");
            let song = song(&head, chords);
            let (arrangement, performance) = play(&song, &plain_style(meter));
            let form = arrangement.form_start().get();
            assert_eq!(form, song.meter.bar().get(), "one bar");
            for role in Role::ALL.into_iter().filter(|&role| role != Role::Guitar) {
                assert_eq!(before(notes(&performance, role), form), [], "{role} waits");
            }
            let line = before(notes(&performance, Role::Guitar), form);
            assert!((2..=3).contains(&line.len()), "{key} {meter}: {line:?}");
            assert!(line.windows(2).all(|pair| pair[0].pitch < pair[1].pitch));
            assert!(line.iter().all(|note| note.end.get() <= form && note.start.get() > 0));
            let up = (root + 12 - i32::from(line.last().unwrap().pitch.pitch_class())) % 12;
            assert!((1..=2).contains(&up), "{key} {meter}: {line:?}");
        }
    }
}

#[test]
fn who_leads_first_kicks_it_off_or_leaves_it_to_another() {
    // One in which everybody has a part.
    let style = shipped::styles().into_iter().find(|style| style.name == "boom-chick").unwrap();
    let own = |role| Some(role);
    for (form, band, player) in [
        ("['a: guitar']", "", own(Role::Bass)),
        // The player's own banjo.
        ("['a: banjo']", "", None),
        ("['a: banjo']", "band = ['bass', 'guitar', 'banjo']", own(Role::Banjo)),
        ("['a: banjo']", "band = ['bass', 'guitar', 'lead']", own(Role::Lead)),
        ("['a: fiddle']", "band = ['bass', 'guitar', 'lead']", own(Role::Lead)),
        ("['a: voice']", "band = ['bass', 'guitar', 'lead']", own(Role::Guitar)),
        ("['a: voice']", "band = ['bass', 'chop']", own(Role::Bass)),
        ("['a: bass']", "band = ['bass', 'chop']", own(Role::Chop)),
        ("['a: guitar']", "band = ['guitar', 'fiddle']", own(Role::Fiddle)),
    ] {
        let head = format!("key = 'D'\nmeter = '4/4'\nform = {form}\nkickoff = 'pickup'\n{band}");
        let (arrangement, performance) = play(&song(&head, "| D | G |"), &style);
        let form = arrangement.form_start().get();
        let heard: RoleSet = Role::ALL
            .into_iter()
            .filter(|&role| !before(notes(&performance, role), form).is_empty())
            .collect();
        assert_eq!(heard, player.into_iter().collect(), "{head}");
        assert_eq!(form, arrangement.meter.bar().get(), "a bar is left for it");
    }
    let head =
        "key = 'D'\nmeter = '4/4'\nform = ['a: guitar']\nkickoff = 'pickup'\nband = ['guitar']";
    let (arrangement, _) = play(&song(head, "| D | G |"), &plain_style("4/4"));
    assert_eq!(arrangement.form_start().get(), 0, "nobody is left to play it");
}

const TUNE: &str = "title = 'Tar Bucket'\nkey = 'G'\nmeter = '4/4'\ntempo = 110\nstyle = 'any'\n\
    kickoff = 'line'\n[section.a]\nchords = '''\n| G | C | D | G |\n| G | (2/4) D | G |\n'''\n\
    melody = '''\n| G A B d | c / A / | A / F / | G / - - |\n| B / d / | c A | G / / - |\n'''\n";

#[test]
fn the_tune_s_last_line_is_played_by_who_leads() {
    let style = shipped::styles().into_iter().find(|style| style.name == "boom-chick").unwrap();
    for (form, band, who, label) in [
        ("a: fiddle", "['bass', 'guitar', 'lead']", Role::Lead, "kickoff: fiddle"),
        ("a: banjo", "['bass', 'guitar', 'lead']", Role::Lead, "kickoff: banjo"),
        ("a: resonator", "['bass', 'guitar', 'lead']", Role::Lead, "kickoff: resonator"),
        ("a: voice", "['bass', 'guitar', 'lead']", Role::Guitar, "kickoff: guitar"),
        ("a: guitar", "['bass', 'chop', 'guitar']", Role::Bass, "kickoff: bass"),
    ] {
        let head = format!("form = ['{form}']\nband = {band}\n");
        let song = shipped::song(&TUNE.replace("[section", &format!("{head}[section")));
        let (arrangement, performance) = play(&song, &style);
        let form = arrangement.form_start().get();
        assert_eq!(form, BAR + BAR / 2 + BAR, "the line's own bars");
        assert_eq!(arrangement.passes[0].label, label);
        for role in Role::ALL.into_iter().filter(|role| *role != who) {
            assert_eq!(before(notes(&performance, role), form), [], "{role} waits: {label}");
        }
        let line = before(notes(&performance, who), form);
        assert!(line.iter().all(|note| note.end.get() <= form), "{label}");
        // The tune's notes on the strong beats, in whatever octave: B d, c, G.
        for (at, class) in [(0, 11), (BAR / 2, 2), (BAR, 0), (BAR + BAR / 2, 7)] {
            let near = |note: &&Note| (note.start.get() - at).abs() <= BEAT / 2;
            let has = line.iter().filter(near).any(|note| note.pitch.pitch_class() == class);
            assert!(has, "{label} at {at}: {line:?}");
        }
    }
}

#[test]
fn a_line_that_is_not_written_is_no_kickoff() {
    let head = "form = ['a: fiddle']\n[section";
    let toml = TUNE
        .replace("[section", head)
        .replace("melody", "voice")
        .replace("| B / d / | c A | G / / - |", "| = | = | = |");
    let toml = toml.replace("| G A B d | c / A / | A / F / | G / - - |", "| = | = | = | = |");
    let source = Source::new("song.toml", toml).unwrap();
    let mut problems = Problems::new();
    assert!(read_song(&source, &mut problems).is_none());
    let told = report(&source, &problems, false);
    assert!(told.contains("has no `melody` to kick off with"), "{told}");
    assert!(told.contains("kickoff = 'line'") && told.contains('^'), "{told}");
}

#[test]
fn shuffles_go_long_short_short() {
    let fiddle = "band = ['bass', 'fiddle']";
    for (meter, half, long) in [("4/4", 1920, 960), ("2/2", 1920, 960), ("2/4", 960, 480)] {
        for (band, player, key, pitches) in [
            // The open D and A strings of the fiddle, its A and E (GDAE: mingus and music21 tunings).
            (fiddle, Role::Fiddle, "D", vec![62, 69]),
            (fiddle, Role::Fiddle, "A", vec![69, 76]),
            ("band = ['bass', 'banjo']", Role::Bass, "A", vec![33]),
        ] {
            let head = format!(
                "key = '{key}'\nmeter = '{meter}'\nform = ['a: fiddle']\nkickoff = 'shuffles'\n{band}"
            );
            let song = song(&head, "| 1 | 4 |");
            let (arrangement, performance) = play(&song, &plain_style(meter));
            let form = arrangement.form_start().get();
            assert_eq!(form, 2 * song.meter.bar().get(), "two bars");
            let played = before(notes(&performance, player), form);
            let wanted: Vec<i64> = (0..4)
                .flat_map(|shuffle| [0, long, long + long / 2].map(|at| shuffle * half + at))
                .collect();
            let mut starts: Vec<i64> = played.iter().map(|note| note.start.get()).collect();
            starts.dedup();
            assert_eq!(starts, wanted, "{meter}");
            for at in wanted {
                let here = played.iter().filter(|note| note.start.get() == at);
                let here: Vec<u8> = here.map(|note| note.pitch.get()).collect();
                assert_eq!(here, pitches, "{key} at {at}");
            }
        }
    }
    // Without a bow, mandolin and guitar strum it.
    let head = "key = 'D'\nmeter = '6/8'\nform = ['a: voice']\nkickoff = 'shuffles'";
    let (arrangement, performance) = play(&song(head, "| D | G |"), &plain_style("6/8"));
    let form = arrangement.form_start().get();
    for role in [Role::Chop, Role::Guitar] {
        let played = before(notes(&performance, role), form);
        let strokes: Vec<i64> = played.iter().map(|note| note.start.get() / 480).collect();
        assert!([0, 2, 3, 5, 6, 8, 9, 11].iter().all(|at| strokes.contains(at)), "{strokes:?}");
        assert!(played.iter().all(|note| [2, 6, 9].contains(&note.pitch.pitch_class())), "D F# A");
    }
    assert_eq!(before(notes(&performance, Role::Bass), form), []);
}

fn fiddle_tune() -> (Song, Style) {
    let root = env!("CARGO_MANIFEST_DIR");
    let read = |path: &str| fs::read_to_string(format!("{root}/{path}")).unwrap();
    let song = shipped::song(&read("songs/goat-on-the-ferry-rail.toml"));
    (song, shipped::style("drive", &read("backing-styles/drive.toml")))
}

#[test]
fn bars_keep_their_numbers_behind_a_kickoff() {
    let (song, style) = fiddle_tune();
    let (arrangement, _) = play(&song, &style);
    let numbers: Vec<usize> = arrangement.bars.iter().map(|bar| bar.number).take(4).collect();
    assert_eq!(numbers, [0, 0, 1, 2]);
    let bars = |text: &str| Stretch::parse(text).unwrap().bars(&arrangement);
    assert_eq!(bars("a"), Ok(1..=16));
    assert_eq!(bars("5-8"), Ok(5..=8));
    assert!(bars("0").is_err() && bars("kickoff").is_err());
    let plain = Song { kickoff: Kickoff::None, ..song.clone() };
    let (without, _) = play(&plain, &style);
    let round = |song: &Arrangement| perform(&song.excerpt(1..=16, 2).unwrap(), &style, 3).unwrap();
    assert_eq!(round(&arrangement), round(&without), "a loop knows of no kickoff");
    assert!(arrangement.excerpt(0..=0, 1).is_none());
    assert_eq!(changes(&arrangement), changes(&without));
    // Chairs that open by turns begin with the form: what leads into it is no pass.
    let mut turns = arrangement.clone();
    Chairs::Turns.lay_out(&mut turns);
    let out: Vec<_> = turns.bars.iter().map(|bar| bar.resting).collect();
    assert!(out[0].contains(Role::Bass) && out[2].contains(Role::Bass));
    assert!(out[18].contains(Role::Chop) && !out[18].contains(Role::Bass));
}

#[test]
fn keys_find_their_way_from_a_kickoff() {
    let (song, style) = fiddle_tune();
    let wishes = Wishes { count_in: 1, ..Wishes::default() };
    let rehearsal = Rehearsal::new(song, style, wishes).unwrap();
    let mut desk = Desk::new(rehearsal, Wish::default()).unwrap();
    let opening = desk.open().unwrap();
    let mut status = openchair::live::Status {
        score: opening.score.id(),
        standing: openchair::live::Standing::Playing,
        bar: 1,
        visit: 1,
        bar_start: Nanos(0),
        tempo: opening.tempo,
        since: Nanos(0),
        round: 0,
        pass: 0,
        muted: RoleSet::EMPTY,
        out: RoleSet::EMPTY,
        dropped: 0,
        lost: false,
        lost_time: None,
    };
    desk.watch(&status);
    let mut said = |desk: &mut Desk, action, bar| {
        status.bar = bar;
        desk.watch(&status);
        let answer = desk.act(action, &status, Nanos(0));
        answer.message.unwrap_or_default()
    };
    assert_eq!(said(&mut desk, Action::LoopSection, 0), "the kickoff can't be looped");
    assert_eq!(said(&mut desk, Action::BarForward, 1), "to bar 1");
    assert_eq!(said(&mut desk, Action::BarBack, 2), "to bar 1");
    assert_eq!(said(&mut desk, Action::SectionForward, 1), "to bar 1");
    assert_eq!(said(&mut desk, Action::LoopFrom, 1), "a loop from bar 1; ] at its last bar");
    assert_eq!(said(&mut desk, Action::LoopTo, 5), "looping bars 1 to 4");
}

/// What the program writes to standard output.
fn exported(song: &str, options: &[&str]) -> MidiFile {
    let done = Command::new(env!("CARGO_BIN_EXE_openchair"))
        .args(["export", song, "-o", "-", "--format", "mid"])
        .args(options)
        .output()
        .unwrap();
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    MidiFile::read(&done.stdout).unwrap()
}

#[test]
fn the_file_says_where_the_kickoff_stands() {
    let goat = concat!(env!("CARGO_MANIFEST_DIR"), "/songs/goat-on-the-ferry-rail.toml");
    for (count_in, start) in [("0", 0), ("2", 2 * BAR)] {
        let file = exported(goat, &["--count-in", count_in]);
        let conductor = &file.tracks[0];
        assert_eq!(conductor.texts(CUE_POINT)[0], (start, "kickoff".to_owned()));
        assert_eq!(conductor.texts(MARKER)[0], (start + 2 * BAR, "a: fiddle".to_owned()));
        let chords = conductor.texts(TEXT);
        assert_eq!(chords[0], (start, "N.C.".to_owned()), "nobody has a chord to play there");
        assert_eq!(chords[1], (start + 2 * BAR, "A".to_owned()));
        let bass = file.track("bass").unwrap().notes().unwrap();
        assert!(bass[0].start >= start + 2 * BAR, "{:?}", bass[0]);
        let chop = file.track("chop").unwrap().notes().unwrap();
        assert!(chop.iter().any(|note| (start..start + BAR).contains(&note.start)));
    }
}

/// The notes of the ending's two bars as (eighth of a bar, pitch).
fn tag(key: &str, meter: &str, role: Role) -> Vec<(i64, u8)> {
    let head = format!("key = '{key}'\nmeter = '{meter}'\nform = ['a']\nending = 'tag'");
    let song = song(&head, "| 1 | 4 |");
    let (arrangement, performance) = play(&song, &plain_style(meter));
    let kinds: Vec<BarKind> = arrangement.bars.iter().rev().take(2).map(|bar| bar.kind).collect();
    assert_eq!(kinds, [BarKind::TagEnd, BarKind::Tag]);
    let (from, eighth) = (2 * song.meter.bar().get(), song.meter.bar().get() / 8);
    let here = notes(&performance, role).into_iter().filter(|note| note.start.get() >= from);
    here.map(|note| ((note.start.get() - from) / eighth, note.pitch.get())).collect()
}

#[test]
fn bass_and_guitar_say_together_that_it_is_over() {
    for meter in ["4/4", "2/2", "2/4"] {
        let bass = tag("G", meter, Role::Bass);
        let line = [(0, 43), (2, 38), (3, 38), (4, 40), (6, 38), (10, 42), (12, 43)];
        assert_eq!(bass, line, "G, D D E D, F# G");
        let chop: Vec<i64> = tag("G", meter, Role::Chop).iter().map(|note| note.0).collect();
        assert!(chop.iter().all(|at| [0, 12].contains(at)), "with the first note and the last");
    }
    assert_eq!(
        tag("A mixolydian", "4/4", Role::Bass).iter().map(|note| note.1).collect::<Vec<_>>(),
        [33, 28, 28, 30, 28, 31, 33],
        "home from the flat seven"
    );
    assert_eq!(
        tag("Am", "4/4", Role::Bass).iter().map(|note| note.1 % 12).collect::<Vec<_>>(),
        [9, 4, 4, 5, 4, 8, 9],
        "the minor's six, and the leading note of its five"
    );
    for key in ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B", "Dm", "E dorian"] {
        let bass = tag(key, "4/4", Role::Bass);
        let guitar = tag(key, "4/4", Role::Guitar);
        let single = |notes: &[(i64, u8)]| -> Vec<(i64, u8)> {
            notes.iter().filter(|note| note.0 < 12).map(|note| (note.0, note.1 % 12)).collect()
        };
        assert_eq!(single(&bass), single(&guitar), "{key}: in unison");
        let leap = |pair: &[(i64, u8)]| pair[0].1.abs_diff(pair[1].1);
        for line in [&bass[..], &guitar[..6]] {
            assert!(line.windows(2).all(|pair| leap(pair) <= 8), "{key}: {line:?}");
        }
        assert!(guitar[6..].len() >= 4 && guitar[6..].iter().all(|note| note.0 == 12));
    }
}

#[test]
fn a_style_can_keep_to_chords() {
    let song = song("key = 'G'\nmeter = '4/4'\nform = ['a']\nending = 'tag'", "| G | C |");
    let style = Style { tag: Tag::Chords, ..plain_style("4/4") };
    let (arrangement, performance) = play(&song, &style);
    assert_eq!(arrangement.bars[3].kind, BarKind::FinalHit);
    let chords: Vec<&str> = performance.chords.iter().map(|(_, name)| name.as_str()).collect();
    assert_eq!(chords, ["G", "C", "G", "D", "G"]);
    let last = notes(&performance, Role::Bass);
    assert_eq!(last.last().unwrap().start.get(), 3 * BAR, "on the first beat of the last bar");
}

#[test]
fn a_ballad_slows_down_into_its_end() {
    let rope = concat!(env!("CARGO_MANIFEST_DIR"), "/songs/hand-on-the-rope.toml");
    for options in [&[][..], &["--speed", "80"], &["--tempo", "200"]] {
        let file = exported(rope, options);
        let tempos: Vec<(i64, u32)> = file.tracks[0]
            .metas(TEMPO)
            .map(|(at, bytes)| (at, u32::from_be_bytes([0, bytes[0], bytes[1], bytes[2]])))
            .collect();
        assert!(tempos.is_sorted_by_key(|tempo| tempo.1), "slower and slower: {tempos:?}");
        let (first, last) = (tempos[0].1, tempos[tempos.len() - 1]);
        assert_eq!(last.0, file.tracks[0].end() - BAR, "the last chord stands");
        let share = f64::from(first) / f64::from(last.1);
        assert!((share - 0.72).abs() < 0.001, "{share}");
        assert_eq!(tempos.len(), 6, "each beat of the bar before it");
    }
    assert_eq!(exported(rope, &["--style", "lope"]).tracks[0].metas(TEMPO).count(), 1);
}

#[test]
fn sound_and_file_slow_down_alike() {
    let root = env!("CARGO_MANIFEST_DIR");
    let read = |path: &str| fs::read_to_string(format!("{root}/{path}")).unwrap();
    let song = shipped::song(&read("songs/hand-on-the-rope.toml"));
    let (_, performance) = play(&song, &shipped::style("slow", &read("backing-styles/slow.toml")));
    // By the file's own tempo events, one after the other.
    let file = MidiFile::read(&openchair::sink::smf::to_bytes(&performance).unwrap()).unwrap();
    let (mut at, mut micros, mut seconds) = (0, 0_u32, 0.0);
    for (next, bytes) in file.tracks[0].metas(TEMPO) {
        seconds += (next - at) as f64 * f64::from(micros) / 960e6;
        (at, micros) = (next, u32::from_be_bytes([0, bytes[0], bytes[1], bytes[2]]));
    }
    seconds += (performance.end.get() - at) as f64 * f64::from(micros) / 960e6;
    let frame = openchair::synth::frame_in(&performance, performance.end, 48_000);
    assert!((frame as f64 / 48_000.0 - seconds).abs() < 1e-4, "{frame} {seconds}");
    let steady = performance.tempo.nanos(performance.end).seconds();
    assert!(seconds > steady + 0.5, "it does slow down: {seconds} {steady}");
}
