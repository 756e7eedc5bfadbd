//! Banjo parts written out, for the tests.
#![allow(dead_code, missing_docs, clippy::unwrap_used)] // Not every test binary looks at everything.

use std::sync::OnceLock;

use openchair::arrange::{Plan, arrange};
use openchair::backup::{Level, Player, backup};
use openchair::chart::{Role, RoleSet, Song};
use openchair::coverage::{Job, coverage};
use openchair::perform::{Ends, Instrument, Pick, Sounded, perform};
use openchair::style::{Loud, Style};
use openchair::tablature::{Tablature, tablature};
use openchair::theory::Key;
use openchair::theory::fretboard::banjo::{Finger, choose_banjo_capo, sounding};
use openchair::time::Ticks;

use super::shipped;

pub const BANJO: Instrument = Instrument { program: 105, volume: 80, pan: 64 };

/// The part of a song, and what it was written from.
fn sheet(song: &Song, style: &Style, plan: &Plan, level: Level) -> (Tablature, Vec<Pick>) {
    let played = arrange(song, plan).unwrap();
    let performance = perform(&played, style, 1).unwrap();
    let open = coverage(&played, &performance, RoleSet::EMPTY.with(Role::Banjo));
    let part = backup(&played, style, &open, Player::at(level, 1));
    let tab = tablature(&played, performance.swing, &open, &part, level);
    (tab, part.picks)
}

/// Every shipped song in its own style at every level, as written and in a key with a capo.
pub fn all() -> &'static [(String, Tablature, Vec<Pick>)] {
    static ALL: OnceLock<Vec<(String, Tablature, Vec<Pick>)>> = OnceLock::new();
    ALL.get_or_init(written)
}

fn written() -> Vec<(String, Tablature, Vec<Pick>)> {
    let styles = shipped::styles();
    let mut all = Vec::new();
    for (path, song) in shipped::songs() {
        let style = styles.iter().find(|style| style.name == song.style).unwrap();
        for (at, level) in Level::ALL.into_iter().enumerate() {
            let key = Key { mode: song.key.mode, ..Key::parse(["G", "Bb", "F", "D"][at]).unwrap() };
            for key in [None, Some(key)] {
                let plan = Plan { key, tag: style.tag, ..Plan::default() };
                let (tab, picks) = sheet(&song, style, &plan, level);
                all.push((format!("{} {level} {key:?}", path.display()), tab, picks));
            }
        }
    }
    all
}

/// A two-bar song and picks by hand: bar, eighth, string, fret, finger.
pub fn by_hand(head: &str, rows: &[(u32, i64, u8, u8, Finger)], ends: Ends) -> Tablature {
    let song = shipped::song(&format!(
        "title = \"Heron <&> Reed\"\n{head}\nform = [\"verse\"]\nending = \"none\"\n[section.verse]\n\
         chords = \"\"\"\n| 1 | 4 57 |\n\"\"\"\n"
    ));
    let styles = shipped::styles();
    let style = styles.iter().find(|style| style.name == song.style).unwrap();
    let played = arrange(&song, &Plan::default()).unwrap();
    let performance = perform(&played, style, 1).unwrap();
    let open = coverage(&played, &performance, RoleSet::EMPTY);
    let capo = choose_banjo_capo(song.key);
    let picks = rows.iter().map(|&(bar, eighth, string, fret, finger)| Pick {
        at: played.bars[bar as usize].start + Ticks::EIGHTH * eighth,
        bar,
        string,
        fret,
        sounded: Sounded::Picked(finger),
        pitch: sounding(string, fret, capo),
        loud: Loud::Normal,
        ends,
    });
    let mut part = backup(&played, style, &open, Player::at(Level::Plain, 1));
    part.picks = picks.collect();
    let mut tab = tablature(&played, performance.swing, &open, &part, Level::Plain);
    for pass in &mut tab.passes {
        (pass.jobs, pass.together) = (vec![Job::Roll], false);
    }
    tab
}
