//! Lessons: what a folder holds, what its page says, and what a teacher is told of a wrong list.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use crate::common::browser;
use crate::common::midi_file::{MidiFile, TEMPO};
use tempfile::TempDir;

const SONG: &str = r#"
title = "Nettle & Gate"
key = "G"
meter = "4/4"
tempo = 200
style = "boom-chick"
ending = "none"
form = ["verse: voice", "chorus: voice"]
notes = "Trains: <nothing> much."
[section.verse]
chords = """
| G | C |
| D7 | G |
"""
[section.chorus]
chords = "| C | G |"
"#;

const LESSON: &str = r#"
title = "A short week"
notes = "Play it & rest."
[[item]]
song = "nettle.toml"
speeds = [100, 400]
sit_out = ["chop"]
with_banjo = true
[[item]]
song = "nettle.toml"
loop = "chorus"
rounds = 2
speeds = [200]
key = "A"
changes = ["D:A"]
change_bars = 1
count_in = 2
level = "plain"
"#;

/// A folder with a song and a lesson.
fn desk(lesson: &str) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("nettle.toml"), SONG).unwrap();
    fs::write(folder.path().join("week.toml"), lesson).unwrap();
    folder
}

/// Exit status and standard error of the program.
fn openchair(folder: &Path, args: &[&str]) -> (Option<i32>, String) {
    let run = Command::new(env!("CARGO_BIN_EXE_openchair"))
        .current_dir(folder)
        .args(args)
        .output()
        .unwrap();
    assert!(run.stdout.is_empty());
    (run.status.code(), String::from_utf8(run.stderr).unwrap())
}

fn names(folder: &Path) -> BTreeSet<String> {
    let entries = fs::read_dir(folder).unwrap();
    entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect()
}

/// What the page leads to: whole names of files and places in itself.
fn targets(page: &str) -> BTreeSet<String> {
    ["href=\"", "src=\""]
        .iter()
        .flat_map(|mark| page.split(mark).skip(1))
        .map(|rest| rest.split('"').next().unwrap().to_owned())
        .filter(|target| target != "data:,")
        .collect()
}

/// What the band of the page is given to play.
fn book(page: &str) -> serde_json::Value {
    let (_, after) = page.split_once("id=\"songs\">").unwrap();
    serde_json::from_str(after.split_once("</script>").unwrap().0).unwrap()
}

fn midi(path: PathBuf) -> MidiFile {
    MidiFile::read(&fs::read(path).unwrap()).unwrap()
}

/// Microseconds of a quarter.
fn tempo(file: &MidiFile) -> u32 {
    let (_, bytes) = file.tracks[0].metas(TEMPO).next().unwrap();
    u32::from_be_bytes([0, bytes[0], bytes[1], bytes[2]])
}

#[test]
fn a_folder_holds_all_that_its_page_leads_to() {
    let desk = desk(LESSON);
    let (status, said) = openchair(desk.path(), &["lesson", "week.toml", "--sound", "wav"]);
    assert_eq!(status, Some(0), "{said}");
    let folder = desk.path().join("week");
    assert!(said.contains("12 files, ") && said.contains("week/index.html"), "{said}");
    let page = fs::read_to_string(folder.join("index.html")).unwrap();
    let (inside, files): (BTreeSet<_>, BTreeSet<_>) =
        targets(&page).into_iter().partition(|target| target.starts_with('#'));
    let mut there = names(&folder);
    assert!(there.remove("index.html"));
    assert_eq!(there, files, "no file is without its link, and no link without its file");
    let stems = ["01-nettle-100", "01-nettle-100-banjo", "01-nettle-400", "01-nettle-400-banjo"];
    let more = ["02-nettle-chorus-200", "02-nettle-d-to-a-200"];
    let wanted = stems.iter().chain(&more);
    let wanted: BTreeSet<String> =
        wanted.flat_map(|stem| [format!("{stem}.mid"), format!("{stem}.wav")]).collect();
    assert_eq!(files, wanted);
    for place in inside {
        assert!(page.contains(&format!("id=\"{}\"", &place[1..])), "{place}");
    }
    for words in [
        "<h2>A short week</h2>",
        "Play it &amp; rest.",
        "Nettle &amp; Gate",
        "Trains: &lt;nothing&gt; much.",
        "key of A",
        "bars 5 to 6, 2 times round",
        "| G | C |\n| D7 | G |",
        "| D | A |",
        "The change D to A",
        "open chair: chop",
        "ask a doctor",
        "100 % with the banjo",
    ] {
        assert!(page.contains(words), "the page says nothing of {words}");
    }
    assert_eq!(names(desk.path()).len(), 3, "nothing else is left behind");

    // What is in the files: the speeds, who plays, how long, and that the band is the same beside the banjo.
    let file = |name: &str| midi(folder.join(name));
    assert_eq!(tempo(&file("01-nettle-100.mid")), 300_000);
    assert_eq!(tempo(&file("01-nettle-400.mid")), 75_000);
    let (band, with) = (file("01-nettle-100.mid"), file("01-nettle-100-banjo.mid"));
    assert!(band.track("chop").is_none() && band.track("banjo").is_none());
    assert!(!with.track("banjo").unwrap().notes().unwrap().is_empty());
    for role in ["bass", "guitar", "count-in"] {
        assert_eq!(band.track(role).unwrap().bytes, with.track(role).unwrap().bytes, "{role}");
    }
    let bar = 4 * 960;
    assert_eq!(band.tracks[0].end(), 7 * bar, "a bar of clicks and six of music");
    // Two rounds of two bars after two of clicks; the last round ends with the file.
    for name in ["02-nettle-chorus-200.mid", "02-nettle-d-to-a-200.mid"] {
        let file = file(name);
        assert_eq!(file.tracks[0].end(), 6 * bar, "{name}");
        assert_eq!(file.track("count-in").unwrap().notes().unwrap().len(), 8, "{name}");
        for track in &file.tracks {
            for note in track.notes().unwrap() {
                assert!(note.end <= 6 * bar, "{name}");
            }
        }
    }
    for name in files.iter().filter(|name| name.ends_with(".wav")) {
        let mut wav = hound::WavReader::open(folder.join(name)).unwrap();
        let spec = wav.spec();
        assert_eq!((spec.channels, spec.sample_rate, spec.bits_per_sample), (2, 48_000, 16));
        let loudest = wav.samples::<i16>().map(|sample| sample.unwrap().unsigned_abs()).max();
        assert!(loudest.unwrap() > 1_000, "{name} is silent");
    }
    for width in [360, 1280] {
        let Some(wide) = browser::content_width("lesson page", &page, width) else { return };
        assert!(wide <= width, "{wide} pixels at a width of {width}");
    }
}

#[test]
fn a_lesson_is_written_over_and_nothing_else_is() {
    let desk = desk(LESSON);
    let write = || openchair(desk.path(), &["lesson", "week.toml", "-o", "out"]);
    assert_eq!(write().0, Some(0));
    let out = desk.path().join("out");
    assert_eq!(names(&out).len(), 7);
    let first = fs::read(out.join("index.html")).unwrap();
    assert_eq!(write().0, Some(0));
    assert_eq!(fs::read(out.join("index.html")).unwrap(), first, "the same list, the same lesson");
    fs::write(out.join("my-take.wav"), "mine").unwrap();
    let (status, said) = write();
    assert_eq!(status, Some(1));
    assert!(said.contains("holds my-take.wav") && said.contains("another folder"), "{said}");
    assert_eq!(fs::read(out.join("my-take.wav")).unwrap(), b"mine");
    let (status, said) = openchair(desk.path(), &["lesson", "week.toml", "-o", "."]);
    assert_eq!(status, Some(1));
    assert!(said.contains("no lesson that openchair wrote"), "{said}");
    let (status, said) = openchair(desk.path(), &["lesson", "week.toml", "-o", "no/such"]);
    assert_eq!(status, Some(1));
    assert!(said.contains("make it first"), "{said}");
    assert_eq!(names(desk.path()).len(), 3);
}

/// The band in the page is asked for what the list asks for, and the page alone is a lesson too.
#[test]
fn the_page_plays_what_the_list_asks_for() {
    let desk = desk(LESSON);
    let (status, said) = openchair(desk.path(), &["lesson", "week.toml", "-o", "week.html"]);
    assert_eq!(status, Some(0), "{said}");
    let page = fs::read_to_string(desk.path().join("week.html")).unwrap();
    assert!(page.len() < 2_000_000, "{} bytes", page.len());
    assert!(targets(&page).iter().all(|target| target.starts_with('#')), "no files beside it");
    let songs = &book(&page)["songs"];
    assert_eq!(songs.as_array().unwrap().len(), 2);
    assert_eq!(songs[0]["title"], "1 Nettle & Gate");
    assert_eq!(songs[0]["wish"]["sitOut"], serde_json::json!(["chop"]));
    assert_eq!(songs[0]["practise"]["speeds"], serde_json::json!([100.0, 400.0]));
    assert_eq!(songs[0]["practise"]["banjo"], true);
    assert_eq!(songs[1]["practise"]["level"], "plain");
    assert_eq!(songs[1]["title"], "2 Nettle & Gate: bars 5 to 6, 2 times round");
    let wish = &songs[1]["wish"];
    assert_eq!(
        (&wish["bars"], &wish["key"], &wish["countIn"]),
        (&"chorus".into(), &"A".into(), &2.into())
    );
    let practise = &songs[1]["practise"];
    assert_eq!(practise["changes"], serde_json::json!([["D:A", "D to A"]]));
    assert_eq!((&practise["banjo"], &practise["changeBars"]), (&false.into(), &1.into()));
    assert!(page.contains("data-item=\"0\"") && page.contains("data-item=\"1\""));
    let (status, said) =
        openchair(desk.path(), &["lesson", "week.toml", "--sound", "wav", "-o", "week.html"]);
    assert_eq!(status, Some(2));
    assert!(said.contains("a page alone holds no sound files"), "{said}");
}

#[test]
fn a_lesson_of_strangers_words_stays_a_page() {
    let desk =
        desk(&LESSON.replace("A short week", "</section></script><script>alert(1)</script>"));
    let (status, said) = openchair(desk.path(), &["lesson", "week.toml", "-o", "week.html"]);
    assert_eq!(status, Some(0), "{said}");
    let page = fs::read_to_string(desk.path().join("week.html")).unwrap();
    assert!(!page.contains("<script>alert"));
    assert_eq!(page.matches("<script").count(), 8);
}

#[test]
fn chairs_by_turns_and_roles_of_a_section() {
    let desk = desk(
        "title = 't'\n[[item]]\nsong = 'nettle.toml'\nsit_out = ['turns']\nchanges = ['G:C']\n\
         [[item]]\nsong = 'nettle.toml'\nsit_out = ['bass@verse']\nchanges = ['G:C']\n",
    );
    let (status, said) = openchair(desk.path(), &["lesson", "week.toml"]);
    assert_eq!(status, Some(0), "{said}");
    let file = |name: &str| midi(desk.path().join("week").join(name));
    let first = |name: &str, role: &str| file(name).track(role).unwrap().notes().unwrap()[0].start;
    let bar = 4 * 960;
    assert!(first("01-nettle-100.mid", "bass") >= 5 * bar - 480, "the bass rests first");
    assert!(first("01-nettle-100.mid", "guitar") < 2 * bar);
    assert!(first("02-nettle-100.mid", "bass") >= 5 * bar - 480);
    assert!(first("02-nettle-g-to-c-100.mid", "bass") < 2 * bar, "a change is of no section");
}

#[test]
fn check_knows_lessons() {
    let desk = desk(LESSON);
    let run = |path: &str| {
        Command::new(env!("CARGO_BIN_EXE_openchair"))
            .current_dir(desk.path())
            .args(["check", path])
            .output()
            .unwrap()
    };
    let all = String::from_utf8(run(".").stdout).unwrap();
    assert_eq!(all, "2 files checked, no problems\n");
    fs::write(desk.path().join("week.toml"), LESSON.replace("chorus", "refrain")).unwrap();
    let told = String::from_utf8(run("week.toml").stdout).unwrap();
    assert!(told.contains("week.toml:11:9") && told.contains("no section `refrain`"), "{told}");
}

#[test]
fn each_wrong_list_says_where_and_what_and_what_instead() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/wrong_lessons");
    let names: Vec<String> = names(&folder).into_iter().collect();
    assert!(names.len() >= 5);
    for name in names {
        let (status, said) = openchair(&folder, &["lesson", &name]);
        assert_eq!(status, Some(1), "{name}");
        insta::assert_snapshot!(format!("wrong_lessons__{}", name.trim_end_matches(".toml")), said);
    }
}
