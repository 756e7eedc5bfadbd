//! Runs between chords: who has them, where they arrive, how fast they may be; and the G run.

use crate::common::shipped;
use openchair::arrange::{Arrangement, Plan, arrange};
use openchair::chart::{Role, RoleSet, Song};
use openchair::perform::{Note, perform};
use openchair::style::Style;
use openchair::theory::Key;
use openchair::time::Ticks;

/// What a role plays.
fn played(sheet: &Arrangement, style: &Style, role: Role, seed: u64) -> Vec<Note> {
    let performance = perform(sheet, style, seed).unwrap();
    performance.parts.into_iter().find(|part| part.role == role).map_or(Vec::new(), |p| p.notes)
}

fn song(key: &str, meter: &str, tempo: u32, chords: &str) -> Song {
    shipped::song(&format!(
        "title = 't'\nkey = '{key}'\nmeter = '{meter}'\ntempo = {tempo}\nstyle = 'boom-chick'\n\
         ending = 'none'\nform = ['a']\n[section.a]\nchords = '''\n{chords}\n'''\n"
    ))
}

fn sheet(song: &Song) -> Arrangement {
    arrange(song, &Plan::default()).unwrap()
}

/// A style in which whatever may run does, exactly on the grid.
fn runner(meter: &str, bass: &[(&str, &str)], guitar: &[(&str, &str)]) -> Style {
    let mut toml = format!("about = 'runs'\nmeters = ['{meter}']\n");
    for (role, bars) in [("bass", bass), ("guitar", guitar)] {
        toml += &format!("[{role}]\nlooseness = 0\nloudness = {{ vary = 0 }}\n");
        for (when, bar) in bars {
            let when = if when.is_empty() { String::new() } else { format!("when = '{when}'\n") };
            toml += &format!("[[{role}.bar]]\n{when}bar = '{bar}'\n");
        }
    }
    shipped::style("runner", &toml)
}

/// Pitches and places of the single notes of a bar, in ticks from its head.
fn of_bar(sheet: &Arrangement, notes: &[Note], bar: u32) -> Vec<(i64, u8)> {
    let start = sheet.bars[bar as usize].start;
    let inside = notes.iter().filter(|note| note.bar == bar);
    inside.map(|note| ((note.start - start).get(), note.pitch.get())).collect()
}

fn pitches(sheet: &Arrangement, notes: &[Note], bar: u32) -> Vec<u8> {
    of_bar(sheet, notes, bar).into_iter().map(|(_, pitch)| pitch).collect()
}

#[test]
fn the_g_run_is_as_published() {
    // Written g4 a8 ais8 b8 d8 e8 d8, then g4, sounding an octave lower: Wikipedia "G run", after Traum
    // 1974, p. 25.
    let style = runner(
        "4/4",
        &[("", "R . 5 .")],
        &[("phrase end and home chord", "R . G G G G G G"), ("", "R . D . 5 . D .")],
    );
    let in_g = sheet(&song("G", "4/4", 120, "| G | G |\n| G | C |"));
    let notes = played(&in_g, &style, Role::Guitar, 1);
    let run = of_bar(&in_g, &notes, 1);
    let published =
        [(0, 43), (960, 45), (1440, 46), (1920, 47), (2400, 50), (2880, 52), (3360, 50)];
    assert_eq!(run, published);
    assert_eq!(of_bar(&in_g, &notes, 2)[0], (0, 55), "it comes to rest");
    let bass = played(&in_g, &style, Role::Bass, 1);
    assert_eq!(pitches(&in_g, &bass, 1), [43, 38], "the bass stays plain");
}

#[test]
fn the_g_run_is_played_in_every_key_within_a_hands_reach() {
    let style = runner(
        "4/4",
        &[("", "R . 5 .")],
        &[("phrase end and home chord", "R . G G G G G G"), ("", "R . D . 5 . D .")],
    );
    let in_g = song("G", "4/4", 120, "| 1 | 1 |\n| 1 | 4 |");
    for home in ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"] {
        let plan = Plan { key: Some(Key::parse(home).unwrap()), ..Plan::default() };
        let moved = arrange(&in_g, &plan).unwrap();
        let notes = played(&moved, &style, Role::Guitar, 1);
        let run = pitches(&moved, &notes, 1);
        let root = run[0];
        let above: Vec<u8> = run.iter().map(|note| note - root).collect();
        assert_eq!(above, [0, 2, 3, 4, 7, 9, 7], "{home}");
        assert_eq!(pitches(&moved, &notes, 2)[0], root + 12, "{home}");
        // From the capo to four frets above it on one string or another (EADGBE: mingus and music21
        // tunings), which one hand holds without moving.
        let reached = |note: u8| {
            [40, 45, 50, 55, 59, 64]
                .iter()
                .any(|open| (0..=4).contains(&(i32::from(note) - open - i32::from(moved.capo))))
        };
        assert!(run.iter().all(|&note| reached(note)) && reached(root + 12), "{home} {run:?}");
    }
}

#[test]
fn the_g_run_needs_room() {
    let guitar = [("phrase end and home chord", "R . G G G G G G"), ("", "R . D . R . D .")];
    let style = runner("4/4", &[("", "R . 5 .")], &guitar);
    let second = |song: &Song| {
        let sheet = sheet(song);
        pitches(&sheet, &played(&sheet, &style, Role::Guitar, 1), 1).len()
    };
    let run = 7;
    assert_eq!(second(&song("G", "4/4", 120, "| G | G |\n| G | C |")), run);
    assert_ne!(second(&song("G", "4/4", 120, "| G | G |\n| C | C |")), run, "the chord changes");
    assert_ne!(second(&song("G", "4/4", 120, "| G | G |\n| N.C. | C |")), run, "nobody plays on");
    assert_ne!(second(&song("G", "4/4", 120, "| G | G |")), run, "nothing follows");
    assert_ne!(second(&song("C", "4/4", 120, "| G | G |\n| G | C |")), run, "not home");
    assert_eq!(second(&song("G", "4/4", 265, "| G | G |\n| G | C |")), run);
    assert_ne!(second(&song("G", "4/4", 275, "| G | G |\n| G | C |")), run, "too fast");
}

#[test]
fn a_fast_walk_has_fewer_steps() {
    let walks = [("change next", "R . R . > > > >"), ("", "R . R . R . R .")];
    let style = runner("4/4", &walks, &walks[1..]);
    let steps = |tempo, role| {
        let sheet = sheet(&song("G", "4/4", tempo, "| G | C | C |"));
        let notes = played(&sheet, &style, role, 1);
        let places = of_bar(&sheet, &notes, 0).into_iter().map(|(at, _)| at);
        places.filter(|at| *at >= 1920).collect::<Vec<_>>()
    };
    assert_eq!(steps(140, Role::Bass), [1920, 2400, 2880, 3360]);
    assert_eq!(steps(160, Role::Bass), [1920, 2880], "five notes a second");
    let style = runner("4/4", &walks[1..], &walks);
    let steps = |tempo| {
        let sheet = sheet(&song("G", "4/4", tempo, "| G | C | C |"));
        let notes = played(&sheet, &style, Role::Guitar, 1);
        of_bar(&sheet, &notes, 0).into_iter().filter(|(at, _)| *at >= 1920).collect::<Vec<_>>()
    };
    // G A A# B, C: common practice, no source.
    assert_eq!(steps(200), [(1920, 43), (2400, 45), (2880, 46), (3360, 47)]);
    assert_eq!(steps(280), [(1920, 45), (2880, 47)], "nine notes a second");
}

#[test]
fn a_fast_walk_keeps_to_the_beats() {
    let walks = [("change next", "R . . > > >"), ("", "R . . R . .")];
    let style = runner("6/8", &walks, &[("", "R . U D . U")]);
    let sheet = sheet(&song("G", "6/8", 112, "| G | C | C |"));
    let notes = played(&sheet, &style, Role::Bass, 1);
    let places: Vec<i64> = of_bar(&sheet, &notes, 0).into_iter().map(|(at, _)| at).collect();
    assert_eq!(places, [0, 1440]);
}

#[test]
fn a_short_chord_is_heard_before_it_is_left() {
    let walks = [("change next", "R > > >"), ("", "R . R .")];
    let style = runner("4/4", &walks, &[("", "R . D .")]);
    let steps = |chords| {
        let sheet = sheet(&song("G", "4/4", 100, chords));
        let notes = played(&sheet, &style, Role::Bass, 1);
        let bar = u32::try_from(sheet.bars.len() - 2).unwrap();
        of_bar(&sheet, &notes, bar).len()
    };
    assert_eq!(steps("| G | G | C |"), 4, "two bars of it: three steps");
    assert_eq!(steps("| C | G | C |"), 3, "one bar of it: two");
}

#[test]
fn the_bass_sets_off_and_arrives_where_the_walk_goes_by_step() {
    // G A B C and D, its fifth, F# G: common practice, no source.
    let walk = |bar, chords| {
        let style = runner("4/4", &[("change next", bar), ("", "R . 5 .")], &[("", "R . D .")]);
        let sheet = sheet(&song("G", "4/4", 100, chords));
        let notes = played(&sheet, &style, Role::Bass, 1);
        [pitches(&sheet, &notes, 1), pitches(&sheet, &notes, 2)]
    };
    assert_eq!(walk("R . > >", "| G | G | C | C |"), [vec![31, 33, 35], vec![36, 31]]);
    assert_eq!(walk("R . 5 >", "| C | D | G | G |"), [vec![38, 33, 30], vec![31, 38]]);
    assert_eq!(walk("R . > >", "| C | D | G | G |"), [vec![38, 40, 42], vec![43, 38]]);
    // Whoever comes in with a pass finds the bass at home.
    assert_eq!(walk("R . > >", "| G | C | C | C |")[0], [36, 31]);
    let style = runner("4/4", &[("change next", "R . > >"), ("", "R . 5 .")], &[("", "R . D .")]);
    let sheet = sheet(&song("G", "4/4", 100, "| G | C | C | C |"));
    assert_eq!(pitches(&sheet, &played(&sheet, &style, Role::Bass, 1), 0), [43, 40, 38]);
}

#[test]
fn at_the_end_of_a_section_the_bass_walks_round() {
    let style = runner(
        "4/4",
        &[("last bar and home chord", "R > > >"), ("", "R . 5 .")],
        &[("", "R . D .")],
    );
    let song = shipped::song(
        "title = 't'\nkey = 'G'\nmeter = '4/4'\ntempo = 100\nstyle = 'boom-chick'\n\
         ending = 'none'\nform = ['a', 'a']\n[section.a]\nchords = '''\n| G | D | G | G |\n'''\n",
    );
    let sheet = sheet(&song);
    let notes = played(&sheet, &style, Role::Bass, 1);
    // 1, 5 6 7, 1: common practice, no source.
    assert_eq!(pitches(&sheet, &notes, 3), [43, 38, 40, 42]);
    assert_eq!(pitches(&sheet, &notes, 4), [43, 38]);
    assert_eq!(pitches(&sheet, &notes, 7)[0], 43, "and at the end there is nowhere to go");
    assert!(pitches(&sheet, &notes, 7)[1..].iter().all(|note| [38, 43].contains(note)));
}

#[test]
fn leaving_the_guitar_out_changes_nothing_for_the_bass() {
    let walks = [("change next", "R . > >"), ("home chord", "R . > >"), ("", "R . 5 .")];
    let runs = [
        ("phrase end and change next", "R . D . > > > >"),
        ("phrase end and home chord", "R . G G G G G G"),
        ("", "R . D . 5 . D ."),
    ];
    let style = runner("4/4", &walks, &runs);
    for (path, song) in shipped::songs() {
        if song.meter.as_str() != "4/4" {
            continue;
        }
        let with = arrange(&song, &Plan::default()).unwrap();
        let band: RoleSet = [Role::Bass].into_iter().collect();
        let without = arrange(&song, &Plan { band: Some(band), ..Plan::default() }).unwrap();
        let bass = |sheet| played(sheet, &style, Role::Bass, 1);
        assert_eq!(bass(&with), bass(&without), "{path:?}");
    }
}

#[test]
fn bass_and_guitar_never_run_in_the_same_bar() {
    // Heard from outside: a bar in which both play notes that are neither the chord's nor its sixth.
    let mut runs = [0_u32; 2];
    for (path, song, style) in shipped::pairs() {
        let sheet = sheet(&song);
        for seed in 1..=3 {
            let foreign = |role| {
                let notes = played(&sheet, &style, role, seed);
                let mut bars = vec![false; sheet.bars.len()];
                for note in notes {
                    // Feel may put a stroke a little ahead of its chord.
                    let felt = note.start + Ticks::new(100);
                    let chord = sheet.spans.iter().rfind(|span| span.start <= felt);
                    let chord = chord.and_then(|span| sheet.chord(span.chord?));
                    let class = note.pitch.pitch_class();
                    let sixth = |root: u8| [8, 9].map(|up| (root + up) % 12).contains(&class);
                    let own = |chord: &openchair::theory::Chord| {
                        chord.contains(class) || sixth(chord.root.pitch_class())
                    };
                    bars[note.bar as usize] |= chord.is_some_and(|chord| !own(chord));
                }
                bars
            };
            let (bass, guitar) = (foreign(Role::Bass), foreign(Role::Guitar));
            for (bar, (bass, guitar)) in bass.into_iter().zip(guitar).enumerate() {
                assert!(!(bass && guitar), "{path:?} {} {seed} bar {}", style.name, bar + 1);
                runs[0] += u32::from(bass);
                runs[1] += u32::from(guitar);
            }
        }
    }
    assert!(runs.iter().all(|&count| count > 100), "{runs:?}");
}
