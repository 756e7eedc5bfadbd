//! Pickups: read, written, laid before the form and over the ends of passes, played and counted.

use openchair::arrange::{Arrangement, BarKind, Plan, arrange};
use openchair::chart::{Role, Song, Tune, read_song, write_song};
use openchair::perform::{Performance, perform};
use openchair::style::read_style;
use openchair::text::{Problems, Source, report};
use openchair::time::Ticks;

const STYLE: &str = "about = 'any'\nmeters = ['4/4']\n[bass]\nlooseness = 0\n[[bass.bar]]\nbar = 'R . 5 .'\n\
                     [lead]\nlooseness = 0\nloudness = { vary = 0 }\n[[lead.bar]]\nbar = 'o . . .'\n";

fn read(rows: &str, form: &str) -> Result<Song, String> {
    let toml = format!(
        "title = 'Tar Bucket Reel'\nkey = 'G'\nmeter = '4/4'\ntempo = 120\nstyle = 'any'\nform = {form}\n\
         band = ['bass', 'lead']\nending = 'none'\n[section.a]\n{rows}\n"
    );
    let source = Source::new("song.toml", toml).unwrap();
    let mut problems = Problems::new();
    match read_song(&source, &mut problems) {
        Some((song, _)) if problems.is_empty() => Ok(song),
        _ => Err(report(&source, &problems, false)),
    }
}

fn played(song: &Song, count_in: u32) -> (Arrangement, Performance) {
    let arrangement = arrange(song, &Plan { count_in, ..Plan::default() }).unwrap();
    let style = read_style("any", &Source::new("t", STYLE).unwrap(), &mut Problems::new()).unwrap();
    let performance = perform(&arrangement, &style, 1).unwrap();
    (arrangement, performance)
}

const TUNE: &str = "chords = '| (1/4) D | G | C | D | G |'\nmelody = '| A B | d / B / | c / e / | d c B A | G / / / |'";

/// Beats from the first bar of the form, in quarters, and the pitches of a role.
fn notes(song: &Arrangement, performance: &Performance, role: Role) -> Vec<(f64, u8)> {
    let part = performance.parts.iter().find(|part| part.role == role).unwrap();
    let beats = |at: Ticks| (at - song.form_start()).get() as f64 / 960.0;
    part.notes.iter().map(|note| (beats(note.start), note.pitch.get())).collect()
}

/// The highest note at each moment: a fiddle sounds another string with it here and there.
fn tune(notes: Vec<(f64, u8)>) -> Vec<(f64, u8)> {
    let mut tune: Vec<(f64, u8)> = Vec::new();
    for (beat, pitch) in notes {
        match tune.last_mut() {
            Some((at, highest)) if (*at - beat).abs() < 0.05 => *highest = (*highest).max(pitch),
            _ => tune.push((beat, pitch)),
        }
    }
    tune
}

#[test]
fn a_pickup_is_no_bar_of_the_song() {
    let song = read(TUNE, "['a: fiddle']").unwrap();
    let section = &song.sections[0];
    assert_eq!(section.bars.len(), 4);
    let pickup = section.pickup.as_ref().unwrap();
    assert_eq!(pickup.length, Ticks::QUARTER);
    assert_eq!(pickup.chord.unwrap().to_string(), "D");
    let notes: Vec<i64> = pickup.melody.iter().map(|share| share.length.get()).collect();
    assert_eq!(notes, [480, 480], "two eighths");
    assert!(matches!(pickup.melody[0].value, Tune::Note(note) if note.get() == 69));
    let (arrangement, _) = played(&song, 0);
    assert_eq!(arrangement.bars[0].kind, BarKind::Kickoff);
    assert_eq!(arrangement.bars[0].number, 0);
    assert_eq!(arrangement.bars[1].number, 1);
}

#[test]
fn the_tune_begins_before_its_first_bar_and_the_band_waits() {
    let song = read(TUNE, "['a: fiddle', 'a: fiddle']").unwrap();
    let (arrangement, performance) = played(&song, 0);
    let lead = tune(notes(&arrangement, &performance, Role::Lead));
    assert_eq!(lead[..3], [(-1.0, 69), (-0.5, 71), (0.0, 74)]);
    let bass = notes(&arrangement, &performance, Role::Bass);
    assert_eq!(bass[0].0, 0.0);
    // The second time it goes over the end of the first: the long note makes room.
    let again: Vec<(f64, u8)> =
        lead.iter().copied().filter(|&(beat, _)| (12.0..16.5).contains(&beat)).collect();
    assert_eq!(again[0].1, 67);
    let notes: Vec<u8> = again.iter().map(|&(_, pitch)| pitch).collect();
    assert_eq!(notes[notes.len() - 3..], [69, 71, 74], "{again:?}");
    assert_eq!(again[again.len() - 3..][..2], [(15.0, 69), (15.5, 71)]);
    let part = performance.parts.iter().find(|part| part.role == Role::Lead).unwrap();
    let long =
        part.notes.iter().find(|n| n.start == arrangement.form_start() + Ticks::QUARTER * 12);
    assert!(long.unwrap().end <= arrangement.form_start() + Ticks::QUARTER * 15);
}

#[test]
fn a_lead_that_only_this_line_up_has_plays_the_pickup() {
    let mut song = read(TUNE, "['a: fiddle']").unwrap();
    song.band = [Role::Bass].into_iter().collect();
    let band = [Role::Bass, Role::Lead].into_iter().collect();
    let plan = Plan { count_in: 1, band: Some(band), ..Plan::default() };
    let arrangement = arrange(&song, &plan).unwrap();
    let style = read_style("any", &Source::new("t", STYLE).unwrap(), &mut Problems::new()).unwrap();
    let performance = perform(&arrangement, &style, 1).unwrap();
    let first = tune(notes(&arrangement, &performance, Role::Lead))[0];
    assert!((first.0 + 1.0).abs() < 0.1, "{first:?}");
}

#[test]
fn the_count_goes_on_to_the_pickup() {
    let song = read(TUNE, "['a: fiddle']").unwrap();
    let (arrangement, performance) = played(&song, 1);
    let clicks: Vec<f64> =
        performance.clicks.iter().map(|n| n.start.get() as f64 / 960.0).collect();
    assert_eq!(clicks, [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0], "one two three four, one two three");
    assert_eq!(arrangement.form_start(), Ticks::QUARTER * 8);
    let (_, uncounted) = played(&song, 0);
    assert!(uncounted.clicks.is_empty());
}

#[test]
fn a_singer_sings_it_and_nobody_plays() {
    let rows = "chords = '| (3/8) N.C. | G | C |'\nvoice = '| = | = | - |'";
    let song = read(rows, "['a: voice', 'a: voice']").unwrap();
    let (arrangement, performance) = played(&song, 1);
    assert_eq!(arrangement.bars[0].kind, BarKind::Kickoff);
    assert!(
        performance
            .parts
            .iter()
            .all(|part| part.notes.iter().all(|note| note.start >= arrangement.form_start()))
    );
    // The answer in the pause makes an end before the singer is back.
    let pause = arrangement.bars.iter().find(|bar| bar.number == 2).unwrap();
    assert_eq!(pause.sung, 0b1110_0000);
}

#[test]
fn it_is_written_as_it_is_read() {
    for rows in [
        TUNE,
        "chords = '| (1/8) N.C. | G | C |'",
        "chords = '| (pickup 2/4) D7 | G | C |'\nvoice = '| - | = | = |'",
        "chords = '| (7/8) D |: G | C :|'\nmelody = '| - G A B c d e | d | c |'\nstops = '| . | x- | . |'",
    ] {
        let song = read(rows, "['a: fiddle']").unwrap_or_else(|told| panic!("{rows}: {told}"));
        assert!(song.sections[0].pickup.is_some(), "{rows}");
        let text = write_song(&song);
        let source = Source::new("again.toml", text.clone()).unwrap();
        let mut problems = Problems::new();
        let again = read_song(&source, &mut problems);
        assert!(problems.is_empty(), "{text}\n{}", report(&source, &problems, false));
        assert_eq!(again.unwrap().0, song, "{text}");
    }
}

#[test]
fn any_row_may_say_its_length_once_more() {
    let said = "chords = '| (1/4) D | G | C | D | G |'\nmelody = '| (1/4) A B | d / B / | c / e / | d c B A | G / / / |'\n\
                voice = '| (1/4) = | = | = | = | - |'";
    let plain = said.replace("'| (1/4) A", "'| A").replace("'| (1/4) =", "'| =");
    assert_eq!(read(said, "['a: fiddle']").unwrap(), read(&plain, "['a: fiddle']").unwrap());
    let other = said.replace("'| (1/4) A", "'| (3/8) A");
    let told = read(&other, "['a: fiddle']").unwrap_err();
    assert!(told.contains("the chords begin with another pickup"), "{told}");
}

#[test]
fn a_file_says_pickup_where_the_tune_begins() {
    let song = read(TUNE, "['a: fiddle']").unwrap();
    let (arrangement, performance) = played(&song, 0);
    let at = arrangement.form_start() - Ticks::QUARTER;
    assert_eq!(performance.cues, [(at, "pickup")]);
}

#[test]
fn a_bar_cut_short_is_no_pickup() {
    let song = read("chords = '| (2/4) G | C | D | G |'", "['a']").unwrap();
    assert_eq!((song.sections[0].bars.len(), song.sections[0].pickup.is_some()), (4, false));
}

#[test]
fn what_is_wrong_with_a_pickup_is_told() {
    let told = |rows: &str| read(rows, "['a: fiddle']").unwrap_err();
    let two = told("chords = '| (1/4) D A | G | C |'");
    assert!(two.contains("a pickup has one chord at most"), "{two}");
    let long = told("chords = '| (pickup 5/4) D | G | C |'");
    assert!(long.contains("is no pickup to a bar of 4/4"), "{long}");
    let split = told("chords = '| (1/4) D | G | C |'\nmelody = '| A B c | d | e |'");
    assert!(split.contains("don't share a pickup of (1/4)"), "{split}");
    let short = told("chords = '| (1/4) D | G | C |'\nmelody = '| d | e |'");
    assert!(short.contains("melody"), "{short}");
    let mark = told("chords = '| (1/4) D | G | C |'\nvoice = '| x | = | = |'");
    assert!(mark.contains("the first bar of this row is the pickup's"), "{mark}");
    let chord = told("chords = '| (1/4) Hm | G | C |'");
    assert!(chord.contains("Hm"), "{chord}");
}

/// Whoever kicks off with the last line plays on into the tune: the pickup takes the end of the line's last note.
#[test]
fn a_line_before_the_tune_goes_on_into_its_pickup() {
    let rows = TUNE.replace("'| (1/4) D | G | C | D | G |'", "'| (1/4) D | G | C |\\n | D | G |'");
    let rows = rows.replace("'", "\"").replace("c / e / | d", "c / e / |\\n | d");
    let text = |form: &str| {
        let toml = format!(
            "title = 'Tar Bucket Reel'\nkey = 'G'\nmeter = '4/4'\ntempo = 120\nstyle = 'any'\nform = {form}\n\
             band = ['bass', 'lead']\nkickoff = 'line'\nending = 'none'\n[section.a]\n{rows}\n"
        );
        let source = Source::new("song.toml", toml).unwrap();
        let mut problems = Problems::new();
        let song = read_song(&source, &mut problems);
        assert!(problems.is_empty(), "{}", report(&source, &problems, false));
        song.unwrap().0
    };
    let song = text("['a: fiddle', 'a: fiddle']");
    let (arrangement, performance) = played(&song, 0);
    let lead = tune(notes(&arrangement, &performance, Role::Lead));
    let line: Vec<(f64, u8)> = lead.iter().copied().filter(|&(beat, _)| beat < -1.01).collect();
    assert!(line.len() >= 5 && line[0].0 >= -8.0, "{line:?}");
    let into: Vec<(f64, u8)> =
        lead.iter().copied().filter(|&(beat, _)| (-1.01..0.1).contains(&beat)).collect();
    assert_eq!(into, [(-1.0, 69), (-0.5, 71), (0.0, 74)]);
    let part = performance.parts.iter().find(|part| part.role == Role::Lead).unwrap();
    let at = arrangement.form_start() - Ticks::QUARTER;
    assert!(part.notes.iter().all(|note| note.start >= at || note.end <= at));
}
