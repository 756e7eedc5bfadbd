//! Songs without mistakes, read to the last share.

use openchair::chart::{ChartBar, Ending, Lead, Role, Share, Song, Stop, read_song};
use openchair::text::{Problems, Source, report};
use openchair::theory::{Chord, Key};
use openchair::time::{Meter, Ticks};

fn read(toml: &str) -> Song {
    let source = Source::new("song.toml", toml).unwrap();
    let mut problems = Problems::new();
    let song = read_song(&source, &mut problems);
    assert!(problems.is_empty(), "{}", report(&source, &problems, false));
    song.unwrap().0
}

/// A one-section song in 4/4 around these rows.
fn read_rows(key: &str, rows: &str) -> Vec<ChartBar> {
    let song = read(&format!(
        "title = 'Row by Row'\nkey = '{key}'\nmeter = '4/4'\ntempo = 100\nstyle = 'drive'\n\
         form = ['a']\n[section.a]\n{rows}\n"
    ));
    song.sections.into_iter().next().unwrap().bars
}

/// The chords of a bar with the eighths they last: `G 6 D 2`.
fn chords(bar: &ChartBar) -> String {
    let share = |share: &Share<Option<Chord>>| {
        let name = share.value.map_or("N.C.".to_owned(), |chord| chord.to_string());
        format!("{name} {}", eighths(share.length))
    };
    bar.chords.iter().map(share).collect::<Vec<_>>().join(" ")
}

fn eighths(length: Ticks) -> i64 {
    assert!(length.is_multiple_of(Ticks::EIGHTH));
    length.get() / Ticks::EIGHTH.get()
}

fn all_chords(bars: &[ChartBar]) -> Vec<String> {
    bars.iter().map(chords).collect()
}

fn lines(bars: &[ChartBar]) -> String {
    let mut text = String::new();
    for bar in bars {
        text += if bar.line_start { "(" } else { " " };
        text += &bar.line.to_string();
        text += if bar.line_end { ")" } else { "" };
    }
    text
}

#[test]
fn lantern_on_the_landing() {
    let song = read(include_str!("../songs/lantern.toml"));
    assert_eq!(song.title, "Lantern on the Landing");
    assert_eq!(song.key, Key::parse("G").unwrap());
    assert_eq!((song.meter, song.tempo), (Meter::FourFour, 108.0));
    assert_eq!(song.style, "boom-chick");
    assert_eq!(song.ending, Ending::Hit);
    assert_eq!(song.band.iter().collect::<Vec<_>>(), Role::BAND);
    assert_eq!((song.swing, song.capo), (None, None));

    let labels: Vec<_> = song.form.iter().map(|pass| pass.label.as_str()).collect();
    assert_eq!(labels, ["verse: voice", "chorus: voice", "verse: guitar", "chorus: voice"]);
    assert_eq!(song.form[2].lead, Some(Lead::Guitar));
    assert_eq!(song.form.iter().map(|pass| pass.section).collect::<Vec<_>>(), [0, 1, 0, 1]);

    let [verse, chorus] = song.sections.as_slice() else { panic!("two sections") };
    assert_eq!((verse.name.as_str(), chorus.name.as_str()), ("verse", "chorus"));
    assert_eq!(
        all_chords(&verse.bars),
        ["G 8", "G 8", "C 8", "G 8", "G 6 D 2", "G/B 8", "D7 4", "G 8"]
    );
    assert_eq!(lines(&verse.bars), "(0 0 0 0)(1 1 1 1)");
    assert_eq!(verse.bars[6].meter, Meter::TwoFour);
    assert_eq!(verse.bars[7].meter, Meter::FourFour);
    let half = Ticks::QUARTER * 2;
    assert_eq!(verse.bars[0].singing, [Share::new(half * 2, true)]);
    assert_eq!(verse.bars[1].singing, [Share::new(half, true), Share::new(half, false)]);
    assert_eq!(verse.bars[6].singing, [Share::new(half, true)]);
    assert_eq!(
        verse.bars[4].stops,
        [Share::new(Ticks::QUARTER, Stop::Hit), Share::new(Ticks::QUARTER * 3, Stop::Silence)]
    );

    assert_eq!(
        all_chords(&chorus.bars),
        ["C 8", "G 8", "D7 8", "G 8", "C 8", "G 8", "A7 8", "D7 8"]
    );
    assert_eq!(lines(&chorus.bars), "(0 0 0 0)(1 1 1 1)");
    let sung: Vec<_> = chorus.bars.iter().map(|bar| bar.singing[0].value).collect();
    assert_eq!(sung, [true, true, true, false, true, true, true, false]);
}

#[test]
fn every_optional_key() {
    let song = read(
        r#"
title = "The Long Way to Millrace"
composer = "Nobody in Particular"
notes = """
Slow at first.
Then not."""
key = "E dorian"
meter = "3/4"
tempo = 84.5
style = "./my-waltz.toml"
swing = 0.5
capo = 2
band = ["bass", "guitar"]
ending = "tag"
form = [
  "A part",
  { play = "A part", lead = "mandolin", sit_out = ["bass"] },
  { play = "B" },
]

[section."A part"]
chords = "1m | b7 / 1m"

[section.B]
chords = '| 1m / b7 / / / | N.C. |'
"#,
    );
    assert_eq!(song.composer.as_deref(), Some("Nobody in Particular"));
    assert_eq!(song.notes.as_deref(), Some("Slow at first.\nThen not."));
    assert_eq!((song.tempo, song.swing, song.capo), (84.5, Some(0.5), Some(2)));
    assert_eq!(song.band.iter().collect::<Vec<_>>(), [Role::Bass, Role::Guitar]);
    assert_eq!(song.ending, Ending::Tag);
    assert_eq!(song.form[1].label, "A part: mandolin");
    assert_eq!(song.form[1].sit_out.iter().collect::<Vec<_>>(), [Role::Bass]);
    assert_eq!(song.form[2].label, "B");
    assert_eq!(all_chords(&song.sections[0].bars), ["Em 6", "D 4 Em 2"]);
    assert_eq!(all_chords(&song.sections[1].bars), ["Em 2 D 4", "N.C. 6"]);
}

#[test]
fn numbers_take_the_keys_chords() {
    // In G: 1 is G, 4 C, 5 D, flat seven F (Nashville numbers count on the major scale).
    let bars = read_rows("G", "chords = '| 1 | 4 / / 5 | b7 |'");
    assert_eq!(all_chords(&bars), ["G 8", "C 6 D 2", "F 8"]);
}

#[test]
fn slashes_hold_over_bar_lines_and_repeats() {
    let bars = read_rows("G", "chords = '| G | / D | / / C / | % |'");
    // The last bar is the one before again as it sounds: it begins on the D held into that bar.
    assert_eq!(all_chords(&bars), ["G 8", "G 4 D 4", "D 4 C 4", "D 4 C 4"]);
    let bars = read_rows("G", "chords = 'A |: / D :| N.C. | / G'");
    assert_eq!(all_chords(&bars), ["A 8", "A 4 D 4", "D 8", "N.C. 8", "N.C. 4 G 4"]);
    // What the second ending holds is what was played before it, not what stands before it.
    let bars = read_rows("G", "chords = 'G | C |1 D :|2 / G ||'");
    assert_eq!(all_chords(&bars), ["G 8", "C 8", "D 8", "G 8", "C 8", "C 4 G 4"]);
}

#[test]
fn a_bar_again_takes_its_own_meter() {
    let bars = read_rows("G", "chords = '| G D | (2/4) % | % | (3/4) % |'");
    // The head changes its own bar alone.
    assert_eq!(all_chords(&bars), ["G 4 D 4", "G 2 D 2", "G 4 D 4", "G 3 D 3"]);
    // After a crooked bar, its chords in a bar of the song's meter.
    let bars = read_rows("G", "chords = '| (2/4) G | % | (2/4) C D | % |'");
    assert_eq!(all_chords(&bars), ["G 4", "G 8", "C 2 D 2", "C 4 D 4"]);
    let bars = read_rows("G", "chords = '|( 6/8 )G|(2/2)D|(2/4) C / D / |'");
    assert_eq!(all_chords(&bars), ["G 6", "D 8", "C 2 D 2"]);
}

#[test]
fn phrases_run_through_the_ending_taken() {
    let bars = read_rows("G", "chords = '''\n|: G | C |\n D |1 G :|\n   |2 A | D ||\n G '''");
    assert_eq!(all_chords(&bars).join(" "), "G 8 C 8 D 8 G 8 G 8 C 8 D 8 A 8 D 8 G 8");
    assert_eq!(lines(&bars), "(0 0)(1 1)(2 2)(3 3 3)(4)");
    let bars = read_rows("G", "chords = '|: G | C :| D | G'");
    assert_eq!(lines(&bars), "(0 0)(1 1 1 1)");
    let bars = read_rows("G", "chords = '|: G :|'");
    assert_eq!(lines(&bars), "(0)(1)");
}

#[test]
fn rows_follow_the_chords_through_repeats() {
    let bars = read_rows(
        "G",
        "chords = '|: G | C |1 D :|2 (2/4) G ||'\nvoice = '= | =- | % | ==--'\nstops = '|xx|.|%|x-|'",
    );
    let sung = |bar: &ChartBar| {
        let share =
            |s: &Share<bool>| format!("{}{}", if s.value { '=' } else { '-' }, eighths(s.length));
        bar.singing.iter().map(share).collect::<String>()
    };
    let stops = |bar: &ChartBar| {
        let share = |s: &Share<Stop>| format!("{:?}{}", s.value, eighths(s.length));
        bar.stops.iter().map(share).collect::<Vec<_>>().join(" ")
    };
    let sung: Vec<_> = bars.iter().map(sung).collect();
    assert_eq!(sung, ["=8", "=4-4", "=4-4", "=8", "=4-4", "=2-2"]);
    let stops: Vec<_> = bars.iter().map(stops).collect();
    assert_eq!(stops, ["Hit4 Hit4", "PlayOn8", "PlayOn8", "Hit4 Hit4", "PlayOn8", "Hit2 Silence2"]);
}

#[test]
fn windows_line_ends_tabs_and_signs_read_the_same() {
    let plain = "chords = \"\"\"\n| G | Bb |\n| F#m7b5 | D |\n\"\"\"";
    let other = "chords = \"\"\"\r\n|\tG |\u{a0}B♭ |\r\n| F♯m7b5 | \\u0044 |\r\n\"\"\"";
    assert_eq!(read_rows("G", plain), read_rows("G", other));
}

#[test]
fn unused_sections_and_a_byte_order_mark_are_fine() {
    let song = read(
        "\u{feff}title='t'\nkey='G'\nmeter='3/4'\ntempo=10\nstyle='waltz'\nform=['b']\n\
         section.a.chords='G'\nsection.b.chords='D / /'\n",
    );
    assert_eq!(song.sections.len(), 2);
    assert_eq!(song.form[0].section, 1);
}
