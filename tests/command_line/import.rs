//! Tunes of other formats, as typed.

use std::fs;

use assert_cmd::Command;
use predicates::prelude::*;
use predicates::str::contains;
use tempfile::TempDir;

/// An invented reel with a pickup, grace notes, a triplet, endings and chords.
const REEL: &str = "X:1\nT:Heron on the Weir\nC:Perrin Oake\nR:reel\nM:C|\nL:1/8\nK:G\n\
    DE|:\"G\"GABd gdBd|\"C\"c2 ec \"D\"ABcA|\"G\"GABd {a}gdBd|\"D\"cAFA \"G\"G2DE:|\n\
    |:\"G\"(3Bcd g2 gdBd|\"C\"c2 ec \"D\"A>Bc<A|\"G\"GABd gdBd|1 \"D\"cAFA \"G\"G4:|2 \"D\"cAFA \"G\"G2|]\n";

fn openchair(folder: &TempDir) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_openchair"));
    command.current_dir(folder.path());
    command
}

#[test]
fn a_tune_is_shown_and_what_is_left_out_is_said() {
    let folder = TempDir::new().unwrap();
    fs::write(folder.path().join("heron.abc"), REEL).unwrap();
    let done = openchair(&folder).args(["import", "heron.abc"]).assert().success();
    done.stderr(contains("heron.abc:8: Heron on the Weir: bar 4: grace notes are left out"))
        .stderr(contains("1 song shown; -o FOLDER writes them"))
        .stdout(contains("(1/4) N.C."))
        .stdout(contains("(3 B c d"));
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
}

#[test]
fn songs_are_written_checked_and_never_over_others() {
    let folder = TempDir::new().unwrap();
    fs::write(folder.path().join("heron.abc"), REEL).unwrap();
    for _ in 0..2 {
        openchair(&folder).args(["import", "heron.abc", "-o", "songs"]).assert().success();
    }
    for name in ["heron-on-the-weir.toml", "heron-on-the-weir-2.toml"] {
        assert!(folder.path().join("songs").join(name).is_file(), "{name}");
    }
    openchair(&folder).args(["check", "songs"]).assert().success().stdout(contains("no problems"));
    let song = "songs/heron-on-the-weir.toml";
    // Out again, and in again.
    for name in ["out.abc", "out.musicxml"] {
        openchair(&folder).args(["export", song, "-o", name]).assert().success();
        let back = openchair(&folder).args(["import", name]).assert().success();
        let back = String::from_utf8(back.get_output().stdout.clone()).unwrap();
        let first = fs::read_to_string(folder.path().join(song)).unwrap();
        let rows = |text: &str| -> Vec<String> {
            let kept =
                text.lines().filter(|line| line.starts_with('|') || line.starts_with("[section"));
            kept.map(str::to_owned).collect()
        };
        assert_eq!(rows(&back), rows(&first), "{name}");
    }
}

#[test]
fn what_cant_be_known_is_asked() {
    let folder = TempDir::new().unwrap();
    let sheet = "Lantern\nKey: G\n\nVerse:\nG        C\nHang it out for the late ones\nD        G\nFor me\n";
    fs::write(folder.path().join("lantern.txt"), sheet).unwrap();
    let asked = openchair(&folder).args(["import", "lantern.txt"]).assert().code(1);
    asked.stderr(
        contains("lantern.txt:5: how long each chord lasts").and(contains("--bars-per-chord")),
    );
    let told = ["import", "lantern.txt", "--bars-per-chord", "1"];
    openchair(&folder).args(told).assert().success().stdout(contains("| G | C |\n| D | G |"));
    openchair(&folder)
        .args(["import", "none.abc"])
        .assert()
        .code(1)
        .stderr(contains("there is no file"));
}

#[test]
fn a_lead_sheet_takes_the_key_and_refuses_what_it_cant_hold() {
    let folder = TempDir::new().unwrap();
    let song = format!("{}/songs/eels-in-the-kettle.toml", env!("CARGO_MANIFEST_DIR"));
    let abc = ["--key", "A", "-o", "-", "--format", "abc"];
    let written = openchair(&folder).arg("export").arg(&song).args(abc).assert().success();
    written.stdout(contains("K:A\n").and(contains("\"A\"")));
    let refused = ["--sit-out", "guitar", "-o", "eels.abc"];
    openchair(&folder).arg("export").arg(&song).args(refused).assert().code(2);
}

/// An invented reel without chords.
const BARE: &str = "X:1\nT:Boots in the Millrace\nR:reel\nM:C|\nL:1/8\nK:G\n\
    |:G2BG dGBG|c2ec gcec|G2BG dGBd|c2AF DEFA|G2BG dGBG|c2ec gcec|d2fd cAFA|G2B2G4:|\n\
    |:g2dB GBdg|f2dA FAdf|e2cG EGce|d2fd cAFD|g2dB GBdg|e2cG EGce|d2fd cAFA|G2B2G4:|\n";

#[test]
fn chords_are_found_where_none_are_given() {
    let folder = TempDir::new().unwrap();
    fs::write(folder.path().join("boots.abc"), BARE).unwrap();
    fs::write(folder.path().join("heron.abc"), REEL).unwrap();
    // The band is silent unless they are asked for.
    let silent = openchair(&folder).args(["import", "boots.abc"]).assert().success();
    silent.stdout(contains("N.C.")).stderr(contains("--chords find"));

    let find = ["import", "boots.abc", "--chords", "find", "-o", "songs"];
    let found = openchair(&folder).args(find).assert().success();
    let words =
        contains("the chords are found, nobody gave them").and(contains(" of 16 bars are sure"));
    found.stderr(words);
    let song = fs::read_to_string(folder.path().join("songs/boots-in-the-millrace.toml")).unwrap();
    let chords: Vec<&str> = song.lines().filter(|line| line.starts_with('|')).collect();
    let words = |line: &str| line.split_whitespace().map(str::to_owned).collect::<Vec<_>>();
    // Every chord of this tune is broken up in it.
    assert_eq!(words(chords[0]), words("|: G | C | G | D7 |"), "{song}");
    assert_eq!(words(chords[1]), words("| G | C | D7 | G :|"), "{song}");
    // How sure each is, bar by bar, stands below; what is played twice is said once.
    let sure =
        song.lines().filter(|line| line.starts_with("# a, bar") || line.starts_with("# b, bar"));
    let sure: Vec<&str> = sure.filter_map(|line| line.split(':').next()).collect();
    let lines = ["# a, bars 1, 9", "# a, bars 5, 13", "# b, bars 1, 9", "# b, bars 5, 13"];
    assert_eq!(sure, lines, "{song}");
    openchair(&folder).args(["check", "songs"]).assert().success();

    // Chords that are there stay as they are.
    let given = |chords: &str| {
        let shown = openchair(&folder).args(["import", "heron.abc", "--chords", chords]).assert();
        String::from_utf8(shown.success().get_output().stdout.clone()).unwrap()
    };
    assert_eq!(given("find"), given("given"));
}
