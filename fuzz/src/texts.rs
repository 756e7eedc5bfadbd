use std::sync::LazyLock;

use openchair::backup::{Level, read_licks};
use openchair::lesson::{LessonPage, Practice, read_lesson, sheet};
use openchair::rehearsal::{
    NoText, Rehearsal, Shipped, SongShelf, Wishes, lesson_ready, lesson_sheet,
};
use openchair::sink::smf;
use openchair::style::read_style;
use openchair::text::{Problems, Source};

use crate::{dice, shown, text};

/// Songs that others' styles and licks are tried on: one in each meter, as short as can be.
const SONGS: [&str; 4] = [
    "title = \"a\"\nkey = \"G\"\nmeter = \"4/4\"\ntempo = 100\nstyle = \"boom-chick\"\nform = [\"verse: voice\", \"verse: guitar\"]\n[section.verse]\nchords = \"\"\"\n| G | C D7 | Em | D |\n| G/B | N.C. | (2/4) D | G |\n\"\"\"\nvoice = \"\"\"\n| ==== | ==-- | = | - |\n| = | = | - | - |\n\"\"\"\nstops = \"\"\"\n| . | . | x--- | . |\n| . | . | . | . |\n\"\"\"\n",
    "title = \"a\"\nkey = \"D\"\nmeter = \"3/4\"\ntempo = 120\nstyle = \"waltz\"\nform = [\"verse: voice\", \"verse: fiddle\"]\n[section.verse]\nchords = \"| D | G | A7 | D |\"\n",
    "title = \"a\"\nkey = \"A\"\nmeter = \"2/2\"\ntempo = 110\nstyle = \"breakdown\"\nform = [\"verse: voice\", \"verse: banjo\"]\nending = \"tag\"\n[section.verse]\nchords = \"| A | D | E | A |\"\n",
    "title = \"a\"\nkey = \"Em\"\nmeter = \"6/8\"\ntempo = 110\nstyle = \"jig\"\nform = [\"verse: voice\", \"verse: mandolin\"]\n[section.verse]\nchords = \"| Em | D | Bm | Em |\"\n",
];

static READ: LazyLock<Vec<Rehearsal>> = LazyLock::new(|| {
    let source = |song: &str| Source::new("song.toml", song).expect("a text");
    let read = SONGS.iter().map(|song| Rehearsal::read(&source(song), &Shipped, Wishes::default()));
    read.map(|song| song.expect("a song that can be played")).collect()
});

/// A song of eight bars.
pub(crate) fn short_song() -> Rehearsal {
    READ[0].clone()
}

/// A backing style, and songs in it.
pub fn style(bytes: &[u8]) {
    let Some(given) = text("style.toml", bytes) else { return };
    let mut problems = Problems::new();
    let read = read_style("style", &given, &mut problems);
    assert_eq!(read.is_none(), !problems.is_empty(), "a style, or what is wrong with it");
    shown(&given, &problems);
    let Some(style) = read else { return };
    let fitting: Vec<&Rehearsal> =
        READ.iter().filter(|song| style.fits(song.song().meter)).collect();
    // One of them, another with each style: four take four times as long.
    let one = dice(bytes) / 7 % fitting.len().max(1);
    if let Some(song) = fitting.get(one) {
        let wishes = Wishes { seed: dice(bytes) as u64, count_in: 1, ..Wishes::default() };
        let rehearsal =
            Rehearsal::new(song.song().clone(), style.clone(), wishes).expect("nobody sits out");
        let arrangement = rehearsal.arrangement().expect("the whole song");
        let band = rehearsal.perform(arrangement).expect("the style fits");
        smf::to_bytes(&band.performance).expect("written to memory");
    }
}

/// A player's own licks, and a banjo that knows them.
pub fn licks(bytes: &[u8]) {
    let Some(given) = text("licks.toml", bytes) else { return };
    let mut problems = Problems::new();
    let read = read_licks(&given, &mut problems);
    shown(&given, &problems);
    let Some(licks) = read else { return };
    let seed = dice(bytes) as u64;
    // One of the songs, another with each book.
    let song = &READ[dice(bytes) / 7 % READ.len()];
    let wishes = Wishes { licks, seed, ..Wishes::default() };
    let rehearsal = Rehearsal::new(song.song().clone(), song.style().clone(), wishes);
    let rehearsal = rehearsal.expect("nobody sits out");
    let band = rehearsal.perform(rehearsal.arrangement().expect("the whole song"));
    let part = rehearsal.backup_part(&band.expect("the style fits"), Level::Full);
    openchair::tablature::text(&part.tab, 80);
    openchair::tablature::json(&part.tab).expect("a tab is data");
}

/// A teacher's list beside the songs that come with the program.
pub fn lesson(bytes: &[u8]) {
    let Some(given) = text("lesson.toml", bytes) else { return };
    let mut problems = Problems::new();
    let lesson = read_lesson(&given, &mut problems);
    let ready = lesson_ready(&Songs, &lesson, &mut problems);
    shown(&given, &problems);
    if !problems.is_empty() {
        return;
    }
    // One of them: each is performed whole.
    let one = |one| lesson_sheet(one, Practice::default(), Vec::new()).ok();
    let items = ready.iter().take(1).filter_map(one).collect();
    sheet(&LessonPage { title: lesson.title, notes: lesson.notes, items });
}

struct Songs;

impl SongShelf for Songs {
    type Styles = Shipped;

    fn song(&self, path: &str) -> Result<(Source, Shipped), NoText> {
        let name = path.rsplit('/').next().unwrap_or(path);
        let song = Shipped::song(name.trim_end_matches(".toml"));
        song.map(|song| (song, Shipped)).ok_or_else(|| NoText::NoFile(path.to_owned()))
    }
}
