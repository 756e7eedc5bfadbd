//! Songs as ABC and MusicXML and back: the same sections, chords, tune and form, for every shipped song and for songs
//! made up with all that a song can hold.

use std::fs;

use openchair::chart::{Section, Share, Song, Tune, read_song};
use openchair::interchange::{Format, Given, read_tunes, write_abc, write_musicxml};
use openchair::text::{Problems, Source, report};
use proptest::prelude::*;

use crate::common::made_up;

fn song(toml: &str) -> Song {
    let source = Source::new("song.toml", toml).unwrap();
    let mut problems = Problems::new();
    let read = read_song(&source, &mut problems);
    read.unwrap_or_else(|| panic!("{toml}\n{}", report(&source, &problems, false))).0
}

fn back(bytes: &[u8], format: Format) -> Result<Song, TestCaseError> {
    let read = read_tunes("x", bytes, format, Given::default());
    let read = read.map_err(|why| TestCaseError::fail(why.to_string()))?;
    prop_assert!(read.strays.is_empty(), "{:?}", read.strays);
    prop_assert_eq!(read.tunes.len(), 1);
    let (song, _) = read.tunes[0].song().map_err(|why| TestCaseError::fail(why.to_string()))?;
    Ok(song)
}

/// What a lead sheet holds of a section. A hold with nothing before it is no note there.
fn kept(section: &Section) -> impl PartialEq + std::fmt::Debug + use<> {
    let mut sounds = false;
    let mut tune: Vec<Vec<Share<Tune>>> = Vec::new();
    for bar in &section.bars {
        let mut shares: Vec<Share<Tune>> = Vec::new();
        for share in &bar.melody {
            let value = match share.value {
                Tune::Hold if !sounds => Tune::Rest,
                value => value,
            };
            sounds = value != Tune::Rest;
            match shares.last_mut() {
                Some(last) if value == Tune::Rest && last.value == Tune::Rest => {
                    last.length += share.length
                }
                _ => shares.push(Share::new(share.length, value)),
            }
        }
        tune.push(shares);
    }
    let bars: Vec<_> = section
        .bars
        .iter()
        .map(|bar| (bar.meter, bar.chords.clone(), bar.line, bar.line_start, bar.line_end))
        .collect();
    let pickup =
        section.pickup.as_ref().map(|pickup| (pickup.length, pickup.chord, pickup.melody.clone()));
    (section.name.clone(), pickup, bars, tune)
}

/// The words of a song, each line as it is read, and what stands around its form.
fn words(song: &Song) -> impl PartialEq + std::fmt::Debug + use<> {
    let one_line = |text: &str| {
        let plain = text.replace(char::is_control, " ");
        plain.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let notes: Vec<String> =
        song.notes.iter().flat_map(|notes| notes.lines()).map(one_line).collect();
    // Paragraphs, however many lines are left free between them.
    let notes: Vec<String> = notes
        .split(String::is_empty)
        .map(|lines| lines.join("\n"))
        .filter(|lines| !lines.is_empty())
        .collect();
    (song.composer.as_deref().map(one_line), notes, song.kickoff, song.ending)
}

fn same(song: &Song, read: &Song, text: &str) -> Result<(), TestCaseError> {
    prop_assert_eq!(song.key, read.key);
    prop_assert_eq!(song.meter, read.meter);
    prop_assert!((song.tempo - read.tempo).abs() < 1e-3, "{} {}", song.tempo, read.tempo);
    for (one, other) in song.sections.iter().zip(&read.sections) {
        let (one, other) = (kept(one), kept(other));
        prop_assert!(one == other, "{text}\n{one:?}\n{other:?}");
    }
    prop_assert_eq!(song.sections.len(), read.sections.len());
    let form = |song: &Song| -> Vec<_> {
        song.form.iter().map(|pass| (pass.section, pass.lead)).collect()
    };
    prop_assert_eq!(form(song), form(read), "{}", text);
    prop_assert_eq!(words(song), words(read), "{}", text);
    Ok(())
}

fn by_abc(song: &Song) -> Result<(), TestCaseError> {
    let text = write_abc(song);
    same(song, &back(text.as_bytes(), Format::Abc)?, &text)
}

fn by_musicxml(song: &Song) -> Result<(), TestCaseError> {
    let text = write_musicxml(song);
    same(song, &back(text.as_bytes(), Format::MusicXml)?, &text)
}

#[test]
fn every_shipped_song_comes_back() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/songs");
    let mut count = 0;
    for path in fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()) {
        if path.extension().is_some_and(|ending| ending == "toml") {
            let song = song(&fs::read_to_string(&path).unwrap());
            by_abc(&song).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
            by_musicxml(&song).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
            count += 1;
        }
    }
    assert!(count >= 16);
}

/// So many songs are made up and sent out and back; `OPENCHAIR_SONGS_BACK` says how many more or fewer.
fn songs_back() -> ProptestConfig {
    let asked = std::env::var("OPENCHAIR_SONGS_BACK").ok().and_then(|count| count.parse().ok());
    ProptestConfig::with_cases(asked.unwrap_or(128))
}

proptest! {
    #![proptest_config(songs_back())]

    #[test]
    fn any_song_comes_back(toml in made_up::song_text()) {
        let song = song(&toml);
        by_abc(&song)?;
        by_musicxml(&song)?;
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    #[test]
    fn no_file_is_too_strange(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        harmless(&bytes)?;
    }

    /// Files that are nearly right: pieces of one put together in any order.
    #[test]
    fn nor_any_that_is_nearly_right(
        pieces in prop::collection::vec(prop::sample::select(PIECES.to_vec()), 0..60),
    ) {
        harmless(format!("X:1\nT:x\nM:4/4\nL:1/8\nK:G\n{}", pieces.concat()).as_bytes())?;
    }
}

const PIECES: [&str; 64] = [
    "G",
    "A2",
    "B/",
    "c3/2",
    "^d",
    "=f,,",
    "_b'",
    "z4",
    "x",
    "Z3",
    "y",
    "|",
    "||",
    "|:",
    ":|",
    "::",
    "|1 ",
    ":|2 ",
    "[1",
    "|]",
    "[|",
    "|[2",
    "(3",
    "(5:4:3",
    "(",
    ")",
    "-",
    ">",
    "<<",
    "{ag}",
    "{",
    "[GB]2",
    "[",
    "]",
    "\"G\"",
    "\"Am7/C\"",
    "\"^words\"",
    "\"",
    "!trill!",
    "!",
    "+",
    "&",
    "[K:D]",
    "[M:6/8]",
    "[L:1/16]",
    "[M:7/8]",
    "[V:2]",
    "[P:B]",
    "\n",
    "\\\n",
    "\nP:A\n",
    "\nM:9/8\n",
    "\nK:Am\n",
    "\nL:1/4\n",
    "\nV:1\n",
    "\nw:la la\n",
    "\n\nX:2\nK:D\n",
    "\nP:ABA\n",
    "%",
    "é",
    "9999999999999999999",
    "/9999999999",
    "[Q:1/4=9999]",
    "~",
];

/// Whatever the bytes are, the songs that come of them can be written and read.
fn harmless(bytes: &[u8]) -> Result<(), TestCaseError> {
    for format in Format::ALL {
        let Ok(read) = read_tunes("x", bytes, format, Given::default()) else { continue };
        for tune in read.tunes {
            let Ok((song, _)) = tune.song() else { continue };
            let written = openchair::chart::write_song(&song);
            let source = Source { name: "x".into(), text: written };
            let mut problems = Problems::new();
            let again = read_song(&source, &mut problems).map(|(song, _)| song);
            prop_assert!(
                problems.is_empty(),
                "{}\n{}",
                source.text,
                report(&source, &problems, false)
            );
            prop_assert_eq!(
                again.map(|song| song.sections),
                Some(song.sections.clone()),
                "{}",
                source.text
            );
        }
    }
    Ok(())
}

/// As people type them: common practice, no source.
#[test]
fn the_head_of_a_sheet_needs_no_names_and_a_break_is_not_sung() {
    let text = "Lamp in the Boathouse\nKey of A, 3/4, 132 bpm\nCapo: 2\nlearnt on the ferry\n\nVerse\n| A | D | A | E |\n\
                There was a lamp\n\nBreak\n| A | E |\n\nMandolin solo\n| D | E |\n\nVerse\n";
    let read = read_tunes("x", text.as_bytes(), Format::Sheet, Given::default()).unwrap();
    let (song, said) = read.tunes[0].song().unwrap();
    assert_eq!(song.title, "Lamp in the Boathouse");
    assert_eq!(song.key.to_string(), "A");
    assert_eq!(song.meter.to_string(), "3/4");
    assert!((song.tempo - 132.0).abs() < 1e-9);
    let passes: Vec<&str> = song.form.iter().map(|pass| pass.label.as_str()).collect();
    assert_eq!(
        passes,
        ["verse: voice", "break: fiddle", "mandolin solo: mandolin", "verse: voice"]
    );
    let said: Vec<String> = said.all().iter().map(|remark| remark.sentence()).collect();
    let capo = "with a capo at 2 it sounds higher than its chords say; they are kept as they stand";
    assert_eq!(said, [capo, "`learnt on the ferry` is not kept"]);
}

/// Found by random files: a few letters asked for gigabytes.
#[test]
fn a_note_that_lasts_for_years_is_refused() {
    let rest = "<note><rest/><duration>31111111111111111111</duration></note>";
    let score = format!(
        "<score-partwise version=\"4.0\"><part id=\"P1\"><measure number=\"1\"><attributes><divisions>2</divisions>\
         <time><beats>2</beats><beat-type>4</beat-type></time></attributes>{rest}</measure></part></score-partwise>"
    );
    let read = read_tunes("x", score.as_bytes(), Format::MusicXml, Given::default()).unwrap();
    let songs = read.tunes.iter().map(|tune| tune.song().map_err(|why| why.to_string()));
    let why: Vec<String> = songs.map(|song| song.map(|_| ()).unwrap_err()).collect();
    assert_eq!(why, ["with its repeats it has more than 20000 bars"]);
}

/// Found by random files.
#[test]
fn a_field_with_nothing_in_it_says_nothing() {
    let text = "Title:\nKey:\nTime: 3/4\n| G | C |\n";
    let read = read_tunes("x", text.as_bytes(), Format::Sheet, Given::default()).unwrap();
    assert!(!read.tunes[0].title.is_empty());
    // Nor do signs that no screen shows.
    let text = "\u{f}\u{f}\n\u{1}\nLamp\n| G | C |\n";
    let read = read_tunes("x", text.as_bytes(), Format::Sheet, Given::default()).unwrap();
    assert_eq!(read.tunes[0].title, "Lamp");
    // Nor does a second header of a MIDI file break what reads it, whose time is in 128 frames a second.
    let midi = b"MThd\0\0\0\x06\0\x01\0\x01\x01\xe0MThd\0\0\0\x06\0\0\0\x01\x80\x28MTrk\0\0\0\x04\0\xff\x2f\0";
    harmless(midi).unwrap();
}

/// A tie must follow its first note (ABC 2.1, 4.11); real files have it at the head of the next line too.
#[test]
fn a_tie_that_stands_apart_is_one() {
    let notes = |body: &str| {
        let text = format!("X:1\nT:x\nM:4/4\nL:1/4\nK:C\n{body}\n");
        let read = read_tunes("x", text.as_bytes(), Format::Abc, Given::default()).unwrap();
        let (song, said) = read.tunes[0].song().unwrap();
        let bars = song.sections[0].bars.iter().flat_map(|bar| bar.melody.clone());
        let said = said.all().iter().map(|remark| remark.sentence());
        (
            bars.filter(|share| matches!(share.value, Tune::Note(_))).count(),
            said.filter(|words| words.contains("tie")).collect::<Vec<_>>(),
        )
    };
    assert_eq!(notes("CDEF-|FGAB|]"), (7, vec![]));
    let said = "bar 2: a tie that stands apart from its first note is taken for one";
    assert_eq!(notes("CDEF|\n-FGAB|]"), (7, vec![said.to_owned()]));
    // To another note it is a slur, and after a rest nothing.
    assert_eq!(notes("CDEF|\n-AGAB|]").0, 8);
    assert_eq!(notes("CDEz|\n-EGAB|]"), (7, vec![]));
}

#[test]
fn signs_that_go_back_are_read_alike() {
    let abc = "X:1\nT:Round the Lock\nM:4/4\nL:1/1\nK:C\nG|E!fine!|]F|D!D.C.!|]\n";
    let bar = |step: &str, more: &str| {
        let note = format!(
            "<note><pitch><step>{step}</step><octave>4</octave></pitch><duration>4</duration></note>"
        );
        format!("<measure number=\"1\">{note}{more}</measure>")
    };
    let words = |words: &str, sound: &str| {
        format!(
            "<direction><direction-type><words>{words}</words></direction-type>{sound}</direction>"
        )
    };
    let double = "<barline location=\"right\"><bar-style>light-light</bar-style></barline>";
    let head = "<attributes><divisions>1</divisions><key><fifths>0</fifths></key>\
                <time><beats>4</beats><beat-type>4</beat-type></time></attributes>";
    let score = |fine: &str, back: &str| {
        let bars = [
            bar("G", "").replacen("<note>", &format!("{head}<note>"), 1),
            bar("E", &format!("{fine}{double}")),
            bar("F", ""),
            bar("D", &format!("{back}{double}")),
        ];
        format!(
            "<score-partwise><part-list><score-part id=\"P1\"><part-name>x</part-name></score-part>\
             </part-list><part id=\"P1\">{}</part></score-partwise>",
            bars.concat()
        )
    };
    let form = |bytes: &str, format: Format| {
        let read = read_tunes("x", bytes.as_bytes(), format, Given::default()).unwrap();
        let (song, _) = read.tunes[0].song().unwrap();
        let labels = song.form.iter().map(|pass| pass.label.clone()).collect::<Vec<_>>();
        (labels, song.sections.iter().map(kept_bars).collect::<Vec<_>>())
    };
    let wanted = form(abc, Format::Abc);
    assert_eq!(
        wanted.0,
        ["a: fiddle", "b: fiddle", "a: fiddle", "a: banjo", "b: banjo", "a: banjo"]
    );
    let spoken = score(&words("Fine", ""), &words("D.C. al Fine", ""));
    assert_eq!(form(&spoken, Format::MusicXml), wanted);
    let sounded = score("<sound fine=\"yes\"/>", &words("come again", "<sound dacapo=\"yes\"/>"));
    assert_eq!(form(&sounded, Format::MusicXml), wanted);
}

fn kept_bars(section: &Section) -> Vec<Vec<Share<Tune>>> {
    section.bars.iter().map(|bar| bar.melody.clone()).collect()
}
