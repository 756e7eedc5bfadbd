//! The band as one page: what is in the file. How it plays in a browser is `tests/outside/page.mjs`.

use std::fs;
use std::path::Path;
use std::process::Command as Process;

use assert_cmd::Command;
use predicates::str::contains;
use tempfile::TempDir;

use crate::common::skip::skipped;

/// What a page may weigh at most, in bytes: a lesson by mail. It weighs 1.07 MB, with room for songs to come.
const MOST: u64 = 1_150_000;

fn openchair() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_openchair"));
    command.current_dir(env!("CARGO_MANIFEST_DIR"));
    command
}

/// The text of a script of the page.
fn script<'a>(page: &'a str, id: &str) -> &'a str {
    let from = page.split_once(&format!("id=\"{id}\">")).unwrap().1;
    from.split_once("</script>").unwrap().0
}

/// What stands between signs of the page that a browser reads as a beginning or end of a script.
fn scripts(page: &str) -> usize {
    let lower = page.to_lowercase();
    assert_eq!(lower.matches("<script").count(), lower.matches("</script").count());
    lower.matches("<script").count()
}

#[test]
fn without_a_song_all_are_in_it_and_it_fetches_nothing() {
    let folder = TempDir::new().unwrap();
    let file = folder.path().join("band.html");
    openchair().args(["page", "-o"]).arg(&file).assert().success().stdout("");
    assert!(fs::metadata(&file).unwrap().len() <= MOST);
    let page = fs::read_to_string(&file).unwrap();
    let book: serde_json::Value = serde_json::from_str(script(&page, "songs")).unwrap();
    let shipped = fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("songs")).unwrap();
    let shipped =
        shipped.flatten().filter(|it| it.path().extension().is_some_and(|it| it == "toml"));
    assert_eq!(book["songs"].as_array().unwrap().len(), shipped.count());
    // The one address is the name of a kind of drawing, which nobody opens.
    let addresses = page.replace("http://www.w3.org/2000/svg", "");
    for word in ["http:", "https:", "src=", "@import", "url(", "fetch(", "XMLHttp", "WebSocket"] {
        assert!(!addresses.contains(word), "{word}");
    }
}

#[test]
fn a_title_of_script_tags_stays_a_title() {
    let folder = TempDir::new().unwrap();
    let plain = folder.path().join("plain.html");
    openchair().args(["page", "one-plank-short", "-o"]).arg(&plain).assert().success();
    let song = folder.path().join("odd.toml");
    let title = "</script><script>alert(1)</script><!-- <script>";
    let text = fs::read_to_string(
        Path::new(env!("CARGO_MANIFEST_DIR")).join("songs/one-plank-short.toml"),
    )
    .unwrap();
    let line = text.lines().find(|line| line.starts_with("title")).unwrap();
    fs::write(&song, text.replace(line, &format!("title = '{title}'"))).unwrap();
    let odd = folder.path().join("odd.html");
    openchair().arg("page").arg(&song).arg("-o").arg(&odd).assert().success();
    let (plain, odd) = (fs::read_to_string(plain).unwrap(), fs::read_to_string(odd).unwrap());
    assert_eq!(scripts(&plain), scripts(&odd));
    let book: serde_json::Value = serde_json::from_str(script(&odd, "songs")).unwrap();
    assert_eq!(book["songs"][0]["title"], title);
}

#[test]
fn a_style_of_ones_own_comes_along() {
    let folder = TempDir::new().unwrap();
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let text = fs::read_to_string(root.join("songs/lantern-on-the-landing.toml")).unwrap();
    let style = fs::read_to_string(root.join("backing-styles/boom-chick.toml")).unwrap();
    let song = text.replace("\"boom-chick\"", "\"mine.toml\"");
    assert_ne!(song, text);
    fs::write(folder.path().join("song.toml"), song).unwrap();
    fs::write(folder.path().join("mine.toml"), format!("# Mine.\n{style}")).unwrap();
    let done = openchair()
        .arg("page")
        .arg(folder.path().join("song.toml"))
        .args(["-o", "-"])
        .assert()
        .success();
    let page = String::from_utf8(done.get_output().stdout.clone()).unwrap();
    let book: serde_json::Value = serde_json::from_str(script(&page, "songs")).unwrap();
    let styles = &book["songs"][0]["styles"];
    assert!(styles["mine.toml"].as_str().unwrap().starts_with("# Mine."));
}

#[test]
fn wrong_songs_and_names_are_refused_and_nothing_is_written() {
    let folder = TempDir::new().unwrap();
    let file = folder.path().join("band.html");
    let wrong = folder.path().join("wrong.toml");
    fs::write(&wrong, "title = \"Tar Bucket\"\nstyle = \"boom-chik\"\n").unwrap();
    openchair()
        .arg("page")
        .arg(&wrong)
        .arg("-o")
        .arg(&file)
        .assert()
        .code(1)
        .stderr(contains("wrong.toml:2:"));
    openchair()
        .args(["page", "one-plank-shorter", "-o"])
        .arg(&file)
        .assert()
        .code(1)
        .stderr(contains("did you mean `one-plank-short`?"));
    assert!(!file.exists());
    openchair()
        .args(["page", "one-plank-short", "-o", "band.txt"])
        .assert()
        .code(2)
        .stderr(contains("the name must end in .html"));
}

/// The band that pages carry plays as this program does: `make web` was not forgotten.
#[test]
fn the_band_in_the_page_is_the_programs() {
    if Process::new("node").arg("--version").output().is_err() {
        skipped("the_band_in_the_page_is_the_programs", "there is no node");
        return;
    }
    let held = |script: &str, more: &[&str]| {
        let done = Process::new("node")
            .args([script, "web/band.wasm.lzma"])
            .args(more)
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .output()
            .unwrap();
        let said =
            [done.stdout, done.stderr].map(|it| String::from_utf8_lossy(&it).into_owned()).concat();
        assert!(done.status.success(), "{script}: {said}\n`make web` builds it anew");
    };
    let program = env!("CARGO_BIN_EXE_openchair");
    held("web/compare.mjs", &[program, "--own"]);
    held("web/sound.mjs", &[program, "songs/lantern-on-the-landing.toml", "20"]);
    held("web/follow.mjs", &["songs/one-plank-short.toml", "100"]);
}
