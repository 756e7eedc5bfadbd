//! Files made to cost far more than their size: each is refused, or read, without the memory or
//! the time that it asks for.

use std::time::Duration;

use crate::common::effort::effort;
use openchair::chart::{MOST_BARS, read_song};
use openchair::text::{Problems, Source, report};

const HEAD: &str = "title = 'Too Much'\nkey = 'G'\nmeter = '4/4'\ntempo = 100\nstyle = 'drive'\n";

/// A file filled up to the most bytes accepted with `piece` between `open` and `close`.
fn filled(open: &str, piece: &str, close: &str) -> String {
    let room = Source::MOST_BYTES as usize - open.len() - close.len();
    format!("{open}{}{close}", piece.repeat(room / piece.len()))
}

/// The first message, and that reading and reporting did not take forever. They take a second
/// or two here at most; ten leave room for a slow machine and none for quadratic work.
fn refused(toml: String) -> String {
    let before = effort();
    let source = Source::new("bomb.toml", toml).unwrap();
    let mut problems = Problems::new();
    assert!(read_song(&source, &mut problems).is_none());
    let text = report(&source, &problems, false);
    let took = effort() - before;
    assert!(took < Duration::from_secs(10), "{took:?}");
    // At most five lines of words and one of the text for each problem kept.
    assert!(text.len() < 2 << 20, "{} bytes of report", text.len());
    problems.in_order()[0].message.clone()
}

#[test]
fn rows_of_bars() {
    let open = format!("{HEAD}form = ['a']\n[section.a]\nchords = '''");
    let too_many = "with section a the song's sections have more than 120,000 bars, repeats played";
    assert_eq!(refused(filled(&format!("{open}G|"), "%|", "'''")), too_many);
    assert_eq!(refused(filled(&format!("{open}G|"), "%\n", "'''")), too_many);
    let endings: String = (2..=9).map(|n| format!(":|{n} G ")).collect();
    let many = format!("{open}|: {}|1 G {endings}'''", "G|".repeat(100_000));
    assert_eq!(refused(many), too_many);
    let sections: String = (0..2000)
        .map(|n| format!("[section.s{n}]\nchords='|:{}G:|'\n", "G|".repeat(100)))
        .collect();
    let message = refused(format!("{HEAD}form = ['s1']\n{sections}"));
    assert_eq!(message, too_many.replace("section a", "section s594"));
    let sections = sections.replace("G|", "");
    let message = refused(format!("{HEAD}form = ['s1']\n{sections}"));
    assert_eq!(message, "the song has 2000 sections");
}

#[test]
fn one_bar_of_everything() {
    let open = format!("{HEAD}form = ['a']\n[section.a]\nchords = '''");
    assert_eq!(
        refused(filled(&open, "/ ", "'''")),
        "`/` holds the chord before it, and the section has none before this"
    );
    let held = refused(filled(&format!("{open} G "), "/ ", "'''"));
    assert!(held.contains("chords and slashes don't share a bar of 4/4"), "{held}");
    assert!(refused(filled(&open, "x", "'''")).len() < 1000);
    assert!(refused(filled(&open, "(", "'''")).len() < 1000);
    assert!(refused(filled(&open, "|:", "'''")).len() < 1000);
    assert!(refused(filled(&open, "|1 ", "'''")).len() < 1000);
    let voice = format!("{HEAD}form = ['a']\n[section.a]\nchords = 'G'\nvoice = '''");
    assert!(refused(filled(&voice, "=", "'''")).contains("marks don't share"));
    assert!(refused(filled(&voice, "~ ", "'''")).contains("no mark of a `voice`"));
    assert!(refused(filled(&voice, "=|", "'''")).contains("more than"));
}

#[test]
fn floods_of_mistakes() {
    let open = format!("{HEAD}form = ['a']\n[section.a]\nchords = '''");
    refused(filled(&open, "Zz|", "'''"));
    refused(filled(&open, "Zz\n", "'''"));
    refused(filled("", "=\n", ""));
    refused(filled("", "[", ""));
    refused(filled("", "a.", ""));
    refused(filled("a=", "[", ""));
    refused(filled("", "a=\n", ""));
    for piece in ["a=[\n", "a=['x\n", "a=[''','\n'''\n", "a='''\n", "a={b=[\n", "b=1 \\\"\"\"\n"] {
        refused(filled("", piece, ""));
        refused(filled("a=[", piece, "]\n=\n"));
    }
    for piece in ["'x',", "'''x''',", "\"\"\"x\"\"\",", "}", "{}", "]", "[],", "\\"] {
        refused(filled("a=[", piece, "]\n=\n"));
    }
    for piece in ["“", "‘ ", "\"”", "‘’\n", "a=“\n", "a: ", "[a b]\n"] {
        refused(filled("a=", piece, "\n=\n"));
    }
    let deep = Source::MOST_BYTES as usize / 2 - 8;
    refused(format!("a={}{}", "[".repeat(deep), "}".repeat(deep)));
    let keys: String = (0..50_000).map(|n| format!("tempi{n} = {n}\n")).collect();
    refused(keys);
    refused(filled("\"", "tempo", "\" = 1"));
    let strays: String = (0..1000).map(|n| format!("[x{n}]\nchords='G'\n")).collect();
    let others: String = (0..40_000).map(|n| format!("[y{n}]\n")).collect();
    refused(format!("{strays}{others}"));
}

#[test]
fn forms() {
    let section = "[section.a]\nchords = 'G'\n";
    let many = filled(&format!("{HEAD}form = ["), "'a',", &format!("]\n{section}"));
    assert!(refused(many).starts_with("the form has 26"));
    let wrong = filled(&format!("{HEAD}form = ["), "'b',", &format!("]\n{section}"));
    assert_eq!(refused(wrong), "there is no section `b`");
    let names: String =
        (0..1000).map(|n| format!("[section.the-long-section-{n}]\nchords = 'G'\n")).collect();
    let passes = "'the-lnog-section',".repeat(10_000);
    refused(format!("{HEAD}form = [{passes}]\n{names}"));
    let bars = format!(
        "{HEAD}form = [{}]\n[section.a]\nchords = '{}'\n",
        "'a',".repeat(2),
        "G|".repeat(70_000)
    );
    assert_eq!(refused(bars), "with this pass the form has more than 120,000 bars");
}

#[test]
fn a_song_of_a_hundred_thousand_bars_is_read() {
    let line = "G | C | D7 | % | Em / / C | (2/4) G | Am | D7 | G C G D | G\n".repeat(10);
    let rows = "= | = | = | - | = | = | = | - | ==-- | -\n".repeat(10);
    let toml = format!(
        "{HEAD}form = [{}]\n[section.a]\nchords = '''{line}'''\nvoice = '''{rows}'''\n",
        "'a: voice',".repeat(1000)
    );
    let source = Source::new("long.toml", toml).unwrap();
    let mut problems = Problems::new();
    let (song, _) = read_song(&source, &mut problems).unwrap();
    let bars: usize = song.form.iter().map(|pass| song.sections[pass.section].bars.len()).sum();
    assert_eq!(bars, 100_000);
    let whole = format!("{HEAD}form = ['a']\n[section.a]\nchords = '{}'\n", "G|".repeat(MOST_BARS));
    let source = Source::new("whole.toml", whole).unwrap();
    let (song, _) = read_song(&source, &mut problems).unwrap();
    assert_eq!(song.sections[0].bars.len(), MOST_BARS);
}

/// A MIDI file of a tune with so many chords and notes, each a quarter, over so many bars of 1/64: every bar looks at what
/// sounds in it alone. Looking through all of them in each bar took minutes.
#[test]
fn a_midi_file_of_short_bars_and_many_notes() {
    let before = effort();
    let quarters = 300_u32;
    let chunk = |name: &[u8; 4], body: &[u8]| {
        let length = u32::try_from(body.len()).unwrap().to_be_bytes();
        [&name[..], &length[..], body].concat()
    };
    // 1,024 ticks a quarter; a 1/64 is 64 of them.
    let head = chunk(b"MThd", &[0, 1, 0, 2, 4, 0]);
    let mut words = vec![0, 0xFF, 0x58, 4, 1, 6, 24, 8];
    let mut notes = b"\x00\xFF\x03\x04lead".to_vec();
    for _ in 0..quarters * 256 {
        words.extend(b"\x00\xFF\x01\x01G\x04\xFF\x01\x01C");
        notes.extend([0, 0x90, 60, 90, 4, 0x80, 60, 0]);
    }
    for track in [&mut words, &mut notes] {
        track.extend([0, 0xFF, 0x2F, 0]);
    }
    let bytes = [head, chunk(b"MTrk", &words), chunk(b"MTrk", &notes)].concat();
    let tunes = openchair::interchange::read_midi(&bytes, None);
    assert_eq!(tunes.tunes.len(), 1, "{:?}", tunes.strays);
    let took = effort() - before;
    assert!(took < Duration::from_secs(10), "{took:?}");
}
