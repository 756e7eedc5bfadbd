//! `openchair chart` as typed: every shipped song in each kind of file, read back.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use assert_cmd::assert::Assert;
use openchair::chart::{Section, Song};
use openchair::theory::Chord;
use predicates::str::{contains, is_empty};
use tempfile::TempDir;

use crate::common::shipped;
use crate::common::skip::skipped;
use crate::common::xml_tree::{self, Node};

const SONG: &str = "songs/lantern-on-the-landing.toml";

fn chart(song: &Path, options: &[&str]) -> Assert {
    assert_cmd::Command::new(env!("CARGO_BIN_EXE_openchair"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .arg("chart")
        .arg(song)
        .args(options)
        .assert()
}

fn written(song: &Path, options: &[&str]) -> Vec<u8> {
    chart(song, &[&["-o", "-"], options].concat()).success().get_output().stdout.clone()
}

fn text(song: &Path, options: &[&str]) -> String {
    String::from_utf8(written(song, options)).unwrap()
}

/// A song's file, with that in place of the usual.
fn song_file(folder: &TempDir, more: &str, section: &str) -> PathBuf {
    let path = folder.path().join("song.toml");
    let toml = format!(
        "key = 'G'\nmeter = '4/4'\ntempo = 100\nstyle = 'boom-chick'\nform = ['a: voice']\n{more}\n\
         [section.a]\n{section}\n"
    );
    fs::write(&path, toml).unwrap();
    path
}

/// What stands in a text of a drawing.
fn words(node: &Node) -> String {
    node.all().iter().map(|node| node.text.as_str()).collect()
}

/// A line of a chart as it is drawn: the numbers of its first bar, and its chords.
#[derive(Debug, Default)]
struct Line {
    numbers: Vec<usize>,
    chords: Vec<String>,
}

/// The lines of a drawing, and how many pages it has.
fn lines(svg: &str) -> (Vec<Line>, usize) {
    let root = xml_tree::read(svg);
    let mut lines: Vec<Line> = Vec::new();
    for node in root.all().into_iter().filter(|node| node.name == "text") {
        match node.get("class") {
            Some("bar") => {
                let number = words(node).parse().unwrap();
                match lines.last_mut().filter(|line| line.chords.is_empty()) {
                    Some(line) => line.numbers.push(number),
                    None => lines.push(Line { numbers: vec![number], ..Line::default() }),
                }
            }
            Some("chord") => {
                lines.last_mut().unwrap().chords.push(words(node).replace('‹', ""));
            }
            _ => {}
        }
    }
    (lines, root.children("g").count())
}

/// The chords of a bar as they are written, each with the signs of music.
fn chords(section: &Section, bar: usize) -> Vec<String> {
    let name = |chord: Option<Chord>| {
        let name = chord.map_or_else(|| "N.C.".to_owned(), |chord| chord.to_string());
        // No letter of a quality's name is a small b, and no root.
        name.replace('#', "♯").replace('b', "♭")
    };
    section.bars[bar].chords.iter().map(|share| name(share.value)).collect()
}

/// The number of the first bar of a section in its first pass, and the section of every one that is played.
fn first_bars(song: &Song) -> Vec<(usize, &Section)> {
    let (mut at, mut seen, mut firsts) = (1, BTreeSet::new(), Vec::new());
    for pass in &song.form {
        let section = &song.sections[pass.section];
        if seen.insert(pass.section) {
            firsts.push((at, section));
        }
        at += section.bars.len();
    }
    firsts
}

/// Each line's chords are those of the bars with its numbers, and no bar is left out.
fn assert_chords_are_the_songs(song: &Song, lines: &[Line], what: &str) {
    for (first, section) in first_bars(song) {
        let last = first + section.bars.len();
        let mut drawn: BTreeSet<usize> = BTreeSet::new();
        let own = |line: &&Line| (first..last).contains(&line.numbers[0]);
        for line in lines.iter().filter(own) {
            for (time, &number) in line.numbers.iter().enumerate() {
                let mut left = line.chords.as_slice();
                // The chord that a pickup comes from stands before the first bar.
                let led = section.pickup.as_ref().and_then(|pickup| pickup.chord);
                if led.is_some() && line.numbers[0] == first {
                    left = &left[1..];
                }
                let mut bar = number;
                while bar < last && !left.is_empty() {
                    let wanted = chords(section, bar - first);
                    let Some(rest) = left.strip_prefix(wanted.as_slice()) else { break };
                    (left, bar) = (rest, bar + 1);
                    drawn.insert(bar - 1);
                }
                // The second time round a line may go on to another ending.
                assert!(left.is_empty() || time > 0, "{what}: {line:?} at bar {bar}");
            }
        }
        let all: BTreeSet<usize> = (first..last).collect();
        assert_eq!(drawn, all, "{what}: {}", section.name);
    }
}

#[test]
fn the_chords_of_every_song_stand_in_its_drawing_and_on_its_page() {
    for (path, song) in shipped::songs() {
        let what = path.display().to_string();
        let (drawn, pages) = lines(&text(&path, &["--format", "svg"]));
        assert_eq!(pages, 1, "{what}: one page");
        assert_chords_are_the_songs(&song, &drawn, &what);
        let page = text(&path, &["--format", "html"]);
        let of_drawing: Vec<String> = drawn.into_iter().flat_map(|line| line.chords).collect();
        assert_eq!(page_chords(&page, "name"), of_drawing, "{what}");
    }
}

/// The chords of a page, by the class that they have.
fn page_chords(page: &str, class: &str) -> Vec<String> {
    let start = format!("<span class=\"{class}\">");
    let ends =
        ["<span class=\"under", "<span class=\"chord", "<span class=\"slash", "<i ", "</div>"];
    let chord = |rest: &str| {
        let end = ends.iter().filter_map(|end| rest.find(end)).min().unwrap();
        let pieces =
            rest[..end].split('<').map(|piece| piece.split_once('>').map_or(piece, |p| p.1));
        pieces.collect::<String>().trim().to_owned()
    };
    page.split(&start).skip(1).map(chord).collect()
}

#[test]
fn a_pdf_says_what_the_drawing_says() {
    let songs = shipped::songs();
    let folder = TempDir::new().unwrap();
    for (path, _) in &songs {
        let file = folder.path().join("chart.pdf");
        chart(path, &["-o", file.to_str().unwrap()])
            .success()
            .stdout(is_empty())
            .stderr(is_empty());
        let bytes = fs::read(&file).unwrap();
        assert!(bytes.starts_with(b"%PDF-1.") && bytes.ends_with(b"%%EOF"), "{}", path.display());
        let Some(told) = pdf_text(&file, "a_pdf_says_what_the_drawing_says") else { return };
        assert_eq!(told.matches('\u{c}').count(), 1, "{}: one page", path.display());
        let svg = xml_tree::read(&text(path, &["--format", "svg"]));
        let drawn = svg.all().into_iter().filter(|node| node.name == "text").map(words);
        assert_eq!(letters(&told), letters(&drawn.collect::<String>()), "{}", path.display());
    }
}

/// What an outside reader finds in a PDF; `None`, with word of it, without one.
fn pdf_text(file: &Path, test: &str) -> Option<String> {
    let Ok(read) = Command::new("pdftotext").args(["-raw"]).arg(file).arg("-").output() else {
        skipped(test, "there is no pdftotext (poppler-utils)");
        return None;
    };
    assert!(read.status.success(), "{}", String::from_utf8_lossy(&read.stderr));
    assert!(read.stderr.is_empty(), "{}", String::from_utf8_lossy(&read.stderr));
    Some(String::from_utf8(read.stdout).unwrap())
}

/// The letters of a text, sorted: in which order a reader finds the pieces is its own.
fn letters(text: &str) -> String {
    let mut letters: Vec<char> =
        text.chars().filter(|c| !c.is_whitespace() && *c != '\u{c}').collect();
    letters.sort_unstable();
    letters.into_iter().collect()
}

#[test]
fn the_same_chart_is_the_same_bytes() {
    for format in ["html", "svg", "pdf"] {
        let options = ["--format", format, "--key", "Bb"];
        assert_eq!(
            written(Path::new(SONG), &options),
            written(Path::new(SONG), &options),
            "{format}"
        );
    }
}

/// What a chart says in another key: all its chords in a row.
fn said(song: &str, options: &[&str]) -> String {
    let svg = text(Path::new(song), &[&["--format", "svg"], options].concat());
    let chords: Vec<String> = lines(&svg).0.into_iter().flat_map(|line| line.chords).collect();
    chords.join(" ")
}

#[test]
fn numbers_are_right_in_any_key_and_names_in_that_key() {
    let song = "songs/eels-in-the-kettle.toml";
    // G C G D in G is 1 4 1 5, which in A is A D A E (by counting on the major scale).
    assert!(said(song, &[]).starts_with("G C G D G C G D G Em D C D G C Am D "));
    let numbers = said(song, &["--numbers"]);
    assert!(numbers.starts_with("1 4 1 5 1 4 1 5 1 6m 5 4 5 1 4 2m 5 "), "{numbers}");
    assert_eq!(said(song, &["--numbers", "--key", "A"]), numbers);
    assert!(said(song, &["--key", "A"]).starts_with("A D A E A D A E A F♯m E D E A D Bm E "));
    assert!(said(song, &["--key", "Eb"]).starts_with("E♭ A♭ E♭ B♭ "));
    // In a mode the degrees are those of the major scale: the flat seven is G in A.
    assert!(said("songs/low-water-at-the-weir.toml", &["--numbers"]).starts_with("1 1 ♭7 ♭7 "));
    let both = text(Path::new(song), &["--format", "html", "--numbers=both", "--key", "A"]);
    assert_eq!(page_chords(&both, "under").join(" "), numbers);
    assert!(page_chords(&both, "name").join(" ").starts_with("A D A E "));
}

#[test]
fn behind_a_capo_stand_its_shapes() {
    let page = text(Path::new(SONG), &["--format", "html", "--key", "A", "--capo", "2"]);
    assert!(page.contains("Key of A"));
    assert!(page.contains("written as played behind a capo at 2: G shapes"));
    assert!(page_chords(&page, "name").join(" ").starts_with("G G C G G Em A7 D "));
    // Whatever hangs on the band is that of the song as it is played.
    let page =
        text(Path::new(SONG), &["--format", "html", "--sit-out", "chop", "--band", "bass,chop"]);
    assert!(page.contains("band: bass and chop") && page.contains("<td class=\"open\">chop</td>"));
    let page = text(Path::new(SONG), &["--format", "html", "--speed", "50", "--style", "drive"]);
    assert!(page.contains("54 beats a minute") && page.contains("drive"));
}

#[test]
fn what_a_leader_hands_out_stands_in_it() {
    let page = text(Path::new(SONG), &["--format", "html"]);
    for words in [
        "Lantern on the Landing",
        "Marit Quill, ferry-keeper at Kettle Landing",
        "4/4",
        "108 beats a minute",
        "no capos",
        "guitar break",
        "33–48",
        "4 times, passes 1, 3, 5 and 6 · 16 bars",
        "roll softly; fill 4, 7–8, 12, 15–16",
        "× all hit and choke",
        "line below: somebody sings",
        "tag, and all strike home",
    ] {
        assert!(page.contains(words), "no `{words}`");
    }
    let page = text(Path::new("songs/goat-on-the-ferry-rail.toml"), &["--format", "html"]);
    assert!(page.contains("kickoff: four shuffles by chop and guitar, two bars"));
    assert!(page.contains("guitar: capo 2, G shapes"));
    assert!(page.contains("<span class=\"ending\">1.</span>"));
}

#[test]
fn pickups_pushes_splits_and_stops_are_drawn() {
    let folder = TempDir::new().unwrap();
    let song = song_file(
        &folder,
        "title = 'Tar'",
        "chords = '| (1/4) D | G / C / / / / G | (2/4) D | N.C. | G |'\n\
         stops = '| - | . | . | - | o |'",
    );
    let svg = text(&song, &["--format", "svg"]);
    let root = xml_tree::read(&svg);
    let all: Vec<String> =
        root.all().into_iter().filter(|node| node.name == "text").map(words).collect();
    for words in ["D", "2/4", "N.C.", "/", "◇", "–", "‹G"] {
        assert!(all.iter().any(|other| other == words), "no `{words}` in {all:?}");
    }
    for told in
        ["‹ an eighth early", "◇ all strike and let ring", "its pickup", "goes on for a beat"]
    {
        assert!(all.iter().any(|words| words.contains(told)), "no word of `{told}`");
    }
}

#[test]
fn what_is_large_goes_on_more_pages_and_what_is_long_too() {
    let (_, near) = lines(&text(Path::new(SONG), &["--format", "svg"]));
    let big = text(Path::new(SONG), &["--format", "svg", "--big"]);
    let (drawn, far) = lines(&big);
    assert_eq!((near, far), (1, 2));
    assert_chords_are_the_songs(&shipped::song(&fs::read_to_string(SONG).unwrap()), &drawn, "big");
    let folder = TempDir::new().unwrap();
    // Thirty lines of eight bars of long names, no two alike.
    let line = |at: usize| {
        let (root, kind) =
            (["C", "D", "E", "F", "G", "A"][at % 6], ["", "m", "7", "m7", "6"][at / 6]);
        let long = "Bbm7b5/Db F#m7 G#dim7 Abmaj7 | C#m7b5 | Ebmaj9 Ab13 | G | G | G | Ebmaj9 Ab13";
        format!("| {root}{kind} | {long} |\n")
    };
    let chords: String = (0..30).map(line).collect();
    let song = song_file(&folder, "title = 'Long'", &format!("chords = '''\n{chords}'''"));
    let (drawn, pages) = lines(&text(&song, &["--format", "svg"]));
    assert!((2..=8).contains(&pages), "{pages} pages");
    let read = shipped::song(&fs::read_to_string(&song).unwrap());
    assert_chords_are_the_songs(&read, &drawn, "long");
}

/// A title of signs that mean something in HTML, SVG and PDF does nothing there.
#[test]
fn hostile_words_are_words() {
    let folder = TempDir::new().unwrap();
    let evil = "</title><script>alert(1)</script>) Tj ET \\\\ & ]]> -->";
    let song = song_file(
        &folder,
        &format!("title = \"{evil}\"\ncomposer = \"<img src=x onerror=alert(1)>\""),
        "chords = '| G | C | D | G |'",
    );
    let page = text(&song, &["--format", "html"]);
    assert!(!page.contains("<script") && !page.contains("<img"));
    assert!(page.contains("&lt;script&gt;alert(1)"));
    let svg = text(&song, &["--format", "svg"]);
    assert!(!svg.contains("<script") && !svg.contains("<img") && !svg.contains('\u{1b}'));
    let names: BTreeSet<String> =
        xml_tree::read(&svg).all().into_iter().map(|node| node.name.clone()).collect();
    let known = ["circle", "g", "line", "rect", "svg", "text", "title", "tspan"];
    assert!(names.iter().all(|name| known.contains(&name.as_str())), "{names:?}");
    let file = folder.path().join("evil.pdf");
    chart(&song, &["-o", file.to_str().unwrap()]).success();
    let bytes = fs::read(&file).unwrap();
    let raw = String::from_utf8_lossy(&bytes);
    assert!(!raw.contains("/JavaScript") && !raw.contains("/OpenAction") && !raw.contains("/URI"));
    if let Some(told) = pdf_text(&file, "hostile_words_are_words") {
        assert!(told.contains("<script>alert(1)</script>"), "{told}");
    }
}

#[test]
fn a_title_of_any_length_and_script_is_shown_or_said() {
    let folder = TempDir::new().unwrap();
    let section = "chords = '| G | C | D | G |'";
    let long = song_file(&folder, &format!("title = '{}'", "Kettle".repeat(900)), section);
    let (_, pages) = lines(&text(&long, &["--format", "svg"]));
    assert_eq!(pages, 1);
    let file = folder.path().join("chart.pdf");
    let latin = song_file(&folder, "title = 'Příběh łódki, Ёж και λύρα'", section);
    chart(&latin, &["-o", file.to_str().unwrap()]).success().stderr(is_empty());
    if let Some(told) = pdf_text(&file, "a_title_of_any_length_and_script_is_shown_or_said") {
        assert!(told.contains("Příběh łódki, Ёж και λύρα"), "{told}");
    }
    let other = song_file(&folder, "title = '海の歌'", section);
    chart(&other, &["-o", file.to_str().unwrap()])
        .success()
        .stderr(contains("it shows boxes for 海 の 歌. Write .html or .svg"));
    assert!(text(&other, &["--format", "svg"]).contains("海の歌"));
}

#[test]
fn what_cannot_be_is_said() {
    let folder = TempDir::new().unwrap();
    let song = Path::new(SONG);
    for (options, name, said) in [
        (&[][..], "a.png", "must end in .html, .svg or .pdf"),
        (&[], "a", "must end in .html, .svg or .pdf"),
        (&["--format", "svg"], "a.pdf", "leave one of them out"),
        (&["--capo", "13"], "a.pdf", "a fret from 0 to 12"),
        (&["--numbers=roman"], "a.pdf", "alone"),
        (&["--key", "A dorian"], "a.pdf", "can't be transposed"),
        (&["--sit-out", "chop@bridge"], "a.pdf", "no such section"),
    ] {
        let path = folder.path().join(name);
        chart(song, &[&["-o", path.to_str().unwrap()], options].concat())
            .code(2)
            .stdout(is_empty())
            .stderr(contains(said));
    }
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0, "nothing is written");
    chart(song, &["-o", "-"]).code(2).stderr(contains("--format html, svg or pdf"));
    chart(song, &["-o", "no/such/folder/a.pdf"]).code(1).stderr(contains("no such folder"));
    let own = folder.path().join("song.svg");
    fs::copy(SONG, &own).unwrap();
    chart(&own, &["-o", own.to_str().unwrap()]).code(2).stderr(contains("this is the song itself"));
    chart(Path::new("no-such-song"), &["-o", "-", "--format", "svg"]).code(1);
}
