//! Help for the tests of this module.

use crate::arrange::{Arrangement, Plan, arrange};
use crate::chart::read_song;
use crate::perform::{Performance, perform};
use crate::style::{Style, read_style};
use crate::text::{Problems, Source};

/// A song of one section in G and 4/4 with these chords; `more` are further lines of its head.
pub(super) fn arrangement(chords: &str, more: &str) -> Arrangement {
    let toml = format!(
        "title = 'Kettle Landing'\nkey = 'G'\nmeter = '4/4'\ntempo = 120\nstyle = 'any'\n\
         ending = 'none'\n{more}\nform = ['verse']\n[section.verse]\nchords = '''\n{chords}\n'''\n"
    );
    let source = Source::new("song.toml", toml).unwrap();
    let mut problems = Problems::new();
    let song = read_song(&source, &mut problems);
    assert!(problems.is_empty(), "{problems:?}");
    arrange(&song.unwrap().0, &Plan::default()).unwrap()
}

/// The arrangement in the style "drive".
pub(super) fn performance(song: &Arrangement) -> Performance {
    perform(song, &style(), 7).unwrap()
}

fn style() -> Style {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/backing-styles/drive.toml");
    let source = Source::new("drive", std::fs::read_to_string(path).unwrap()).unwrap();
    let mut problems = Problems::new();
    let style = read_style("drive", &source, &mut problems);
    assert!(problems.is_empty(), "{problems:?}");
    style.unwrap()
}
