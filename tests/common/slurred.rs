//! A banjo's part made by hand in which the left hand speaks: slides, a hammer-on, pull-offs, a choked chord.
#![allow(dead_code, missing_docs, clippy::unwrap_used)] // Not every test binary looks at everything.

use openchair::arrange::{Arrangement, Plan, arrange};
use openchair::backup::{Level, Player, backup};
use openchair::chart::{Role, RoleSet};
use openchair::coverage::{Job, coverage};
use openchair::perform::{
    BanjoDrafts, BanjoStep, Cue, Ends, Held, Part, Pick, Slur, SlurKind, banjo_cues, banjo_part,
    perform, picks_of,
};
use openchair::style::{Loud, Pattern, Style};
use openchair::tablature::{Tablature, tablature};
use openchair::theory::fretboard::banjo::Finger::{self, Index as I, Middle as M, Thumb as T};
use openchair::theory::fretboard::banjo::{Pluck, Way};
use openchair::time::Ticks;

use super::shipped;

/// What is picked, and what is slurred: sixteenths from the first bar on, string, fret, and the finger or where
/// from and how.
pub enum Does {
    Picks(i64, u8, u8, Finger),
    Slurs(i64, u8, u8, SlurKind, u8),
    Chokes(i64, [(u8, u8, Finger); 3]),
}

use Does::{Chokes, Picks, Slurs};
use SlurKind::{Hammer, Pull, Slide};

/// Two bars in G: a slide of two frets on the third string into the open second, a hammer-on and a pull-off on the
/// fourth and the third, a slide down, a slide up the neck, a choked chord.
pub const FILL: [Does; 18] = [
    Picks(0, 3, 2, T),
    Slurs(1, 3, 4, Slide, 2),
    Picks(2, 2, 0, I),
    Picks(4, 5, 0, T),
    Picks(6, 1, 0, M),
    Picks(8, 4, 0, T),
    Slurs(9, 4, 2, Hammer, 0),
    Slurs(10, 4, 0, Pull, 2),
    Picks(10, 3, 0, I),
    Picks(12, 2, 3, T),
    Slurs(13, 2, 1, Slide, 3),
    Slurs(14, 2, 0, Pull, 1),
    Picks(16, 1, 5, M),
    Slurs(18, 1, 9, Slide, 5),
    Picks(20, 5, 0, T),
    Picks(22, 1, 12, M),
    // On a string that does not sound at that fret: left out.
    Slurs(23, 2, 3, Hammer, 2),
    Chokes(28, [(3, 7, T), (2, 8, I), (1, 9, M)]),
];

/// A song of so many bars, an even number, all on the home chord.
pub fn song(tempo: u32, key: &str, bars: usize) -> Arrangement {
    let song = shipped::song(&format!(
        "title = \"Sliding Gate\"\nkey = \"{key}\"\nmeter = \"4/4\"\ntempo = {tempo}\nstyle = \"boom-chick\"\n\
         form = [\"verse\"]\nending = \"none\"\n[section.verse]\nchords = \"\"\"\n{}\n\"\"\"\n",
        "| 1 | 1 |".repeat(bars / 2).replace("||", "|")
    ));
    arrange(&song, &Plan::default()).unwrap()
}

pub fn style() -> Style {
    shipped::styles().into_iter().find(|style| style.name == "boom-chick").unwrap()
}

/// The steps of a fill, once in every two bars of a song.
pub fn steps(song: &Arrangement, fill: &[Does], capo: u8) -> Vec<BanjoStep> {
    let mut first: Option<Cue> = None;
    let bar = style().part(Role::Banjo).unwrap().bars[0].clone();
    let bars: Vec<Pattern> = song.bars.iter().map(|_| bar.clone()).collect();
    banjo_cues(song, &bars, |cue| {
        first.get_or_insert(cue);
    });
    let mut cue = first.unwrap();
    let start = song.bars[0].start;
    let mut place = |sixteenths: i64| {
        cue.at = start + Ticks::new(240) * sixteenths;
        cue.bar = (sixteenths / 16) as u32;
        cue
    };
    let mut drafts = BanjoDrafts::default();
    let way = |plucks: &[(u8, u8, Finger)]| {
        let pluck = |&(string, fret, finger)| Pluck { string, fret, finger };
        vec![Way::only(&plucks.iter().map(pluck).collect::<Vec<_>>()).unwrap()]
    };
    let all =
        (0..song.bars.len() as i64 / 2).flat_map(|turn| fill.iter().map(move |it| (turn * 32, it)));
    for (from_here, does) in all {
        let held = Held::default();
        match does {
            Picks(at, string, fret, finger) => {
                let how = (Loud::Normal, Ends::Rings);
                drafts.pick(place(from_here + at), held, way(&[(*string, *fret, *finger)]), how);
            }
            Slurs(at, string, fret, kind, from) => {
                let slur = Slur { kind: *kind, from: *from };
                drafts.slur(place(from_here + at), *string, *fret, slur, Loud::Normal);
            }
            Chokes(at, chord) => {
                let how = (Loud::Accent, Ends::Vamped);
                drafts.pick(place(from_here + at), held, way(chord), how);
            }
        }
    }
    drafts.finish(capo)
}

/// The fill as picks and as notes, in two bars.
pub fn played(tempo: u32, key: &str) -> (Arrangement, Vec<Pick>, Part) {
    played_for(tempo, key, 2)
}

/// The same in so many bars.
pub fn played_for(tempo: u32, key: &str, bars: usize) -> (Arrangement, Vec<Pick>, Part) {
    let song = song(tempo, key, bars);
    let capo = openchair::theory::fretboard::banjo::choose_banjo_capo(song.key);
    let steps = steps(&song, &FILL, capo);
    let part = banjo_part(&song, &style(), &steps, 1).unwrap();
    assert_eq!(part.role, Role::Banjo);
    (song, picks_of(&steps), part)
}

/// The fill written out.
pub fn tab(tempo: u32, key: &str) -> Tablature {
    let (song, picks, _) = played(tempo, key);
    let style = style();
    let performance = perform(&song, &style, 1).unwrap();
    let open = coverage(&song, &performance, RoleSet::EMPTY);
    let mut part = backup(&song, &style, &open, Player::at(Level::Plain, 1));
    part.picks = picks;
    let mut tab = tablature(&song, performance.swing, &open, &part, Level::Plain);
    for pass in &mut tab.passes {
        (pass.jobs, pass.together) = (vec![Job::Fill], false);
    }
    tab
}
