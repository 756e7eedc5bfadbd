//! A lesson beside its songs: that each is there, sound, and has what the lesson asks of it.

use std::ops::{Range, RangeInclusive};
use std::path::Path;

use super::file_name::stem;
use super::find_style::style_for;
use super::read::read_with_own_style;
use super::{NoStyle, Rehearsal, SeenFrom, SongShelf, StyleError, StyleShelf, Wishes};
use crate::arrange::{Arrangement, Plan, SitOut, arrange};
use crate::backup::CHAIR;
use crate::chart::Song;
use crate::lesson::{Lesson, LessonItem};
use crate::practice::{Change, ChangeError, SitOutRule, StretchError, changes};
use crate::style::Style;
use crate::text::Problems;
use crate::theory::Key;

/// A thing to practise with all that it is made from.
#[derive(Debug)]
pub struct Ready {
    /// What the lesson says of it.
    pub item: LessonItem,
    /// The song's file name without its ending.
    pub stem: String,
    /// The song at its tempo, as the lesson asks for it.
    pub rehearsal: Rehearsal,
    /// The whole song as it is played.
    pub played: Arrangement,
    /// The numbers of the bars that go round.
    pub bars: Option<RangeInclusive<usize>>,
    /// The changes to drill.
    pub changes: Vec<Change>,
}

/// The performance of a lesson; files that differ from lesson to lesson by their seed would be of no use.
const SEED: u64 = 1;

/// Everything that the lesson asks for, as far as it is there; what is not is added to `problems`.
pub fn lesson_ready(
    shelf: &impl SongShelf,
    lesson: &Lesson,
    problems: &mut Problems,
) -> Vec<Ready> {
    lesson.items.iter().filter_map(|item| one(shelf, item, problems)).collect()
}

fn one(shelf: &impl SongShelf, item: &LessonItem, problems: &mut Problems) -> Option<Ready> {
    let (song, own_style, styles) = song(shelf, item, problems)?;
    let before = problems.len();
    let style = style(&styles, item, &song, own_style, problems);
    let wishes = wishes(item, &song, problems);
    // The rules for who sits out were told of already if they contradict each other.
    let rehearsal = Rehearsal::new(song, style, wishes).ok()?;
    let played = rehearsal
        .whole_with_chairs()
        .map_err(|error| problems.add(item.song.span.clone(), error.to_string(), "mend the song"))
        .ok()?;
    let found = changes(&played);
    let chosen: Vec<Change> = item
        .changes
        .iter()
        .filter_map(|change| {
            let chosen = change.value.find(&found, rehearsal.song().key, played.key);
            let wrong = |error: ChangeError| {
                let help = "`openchair drill --list` shows the changes of a song";
                problems.add(change.span.clone(), error.to_string(), help);
            };
            chosen.map_err(wrong).ok()
        })
        .collect();
    let bars = item.stretch.as_ref().and_then(|stretch| {
        let wrong = |error: StretchError| {
            let help =
                "write a section or bars: \"verse\", \"verse:2\" for its second pass, or \"5-8\"";
            problems.add(stretch.span.clone(), error.to_string(), help);
        };
        stretch.value.bars(&played).map_err(wrong).ok()
    });
    if let Some(span) = &item.with_banjo
        && played.playing().contains(CHAIR)
    {
        problems.add(
            span.clone(),
            "the band has a banjo already",
            "add \"banjo\" to sit_out, so that its chair is open, or leave with_banjo out",
        );
    }
    if played.playing().is_empty() {
        problems.add(
            item.song.span.clone(),
            "nobody plays: every chair is open",
            "leave somebody out of sit_out",
        );
    }
    let stem = stem(Path::new(&item.song.value));
    let ready = Ready { item: item.clone(), stem, rehearsal, played, bars, changes: chosen };
    (problems.len() == before).then_some(ready)
}

/// The song, its own style, and where others are found.
fn song<S: SongShelf>(
    shelf: &S,
    item: &LessonItem,
    problems: &mut Problems,
) -> Option<(Song, Style, S::Styles)> {
    let span = || item.song.span.clone();
    let (source, styles) = match shelf.song(&item.song.value) {
        Ok(found) => found,
        Err(why) => {
            let help = "write the song's file as it is seen from the lesson's folder";
            problems.add(span(), why.to_string(), help);
            return None;
        }
    };
    match read_with_own_style(&source, &styles, &mut Problems::new()) {
        Ok(Some((song, style))) => Some((song, style, styles)),
        Ok(None) | Err(_) => {
            problems.add(span(), "this song has mistakes", check(&source.name));
            None
        }
    }
}

fn check(file: &str) -> String {
    format!("`openchair check {file}` shows them")
}

/// The style to play in; the song's own, for the rest to be judged by, if there is something wrong with it.
fn style(
    shelf: &impl StyleShelf,
    item: &LessonItem,
    song: &Song,
    own: Style,
    problems: &mut Problems,
) -> Style {
    let Some(wanted) = &item.style else { return own };
    let (message, help) = match style_for(&wanted.value, SeenFrom::Asker, shelf, song.meter) {
        Ok(style) => return style,
        Err(StyleError::No(NoStyle { message, help })) => (message, help),
        Err(StyleError::Unreadable(why)) => (why, check(&wanted.value)),
        Err(StyleError::Wrong(wrong)) => {
            (format!("{} has mistakes", wrong.source.name), check(&wanted.value))
        }
    };
    problems.add(wanted.span.clone(), message, help);
    own
}

/// What is asked for, without that which the song does not have.
fn wishes(item: &LessonItem, song: &Song, problems: &mut Problems) -> Wishes {
    let key = key(item, song, problems);
    let sit_out = rules(item, song, problems);
    Wishes {
        key,
        band: item.band.iter().flat_map(|band| band.iter()).collect(),
        sit_out,
        stretch: item.stretch.as_ref().map(|stretch| stretch.value.clone()),
        rounds: Some(item.rounds),
        banjo: item.with_banjo.as_ref().map(|_| item.level),
        count_in: item.count_in,
        seed: SEED,
        ..Wishes::default()
    }
}

fn key(item: &LessonItem, song: &Song, problems: &mut Problems) -> Option<Key> {
    let key = item.key.as_ref()?;
    let plan = Plan { key: Some(key.value), ..Plan::default() };
    let help = "write a home note alone, as in key = \"A\"";
    fits(song, &plan, &key.span, help, problems).then_some(key.value)
}

fn rules(item: &LessonItem, song: &Song, problems: &mut Problems) -> Vec<SitOutRule> {
    let mut fits_rule = |out: &SitOut, span: &Range<usize>| {
        let plan = Plan { sit_out: vec![out.clone()], ..Plan::default() };
        let help = "name one of the song's sections after the @, or none";
        fits(song, &plan, span, help, problems)
    };
    let rules = item.sit_out.iter().filter(|rule| match &rule.value {
        SitOutRule::Role(out) => fits_rule(out, &rule.span),
        SitOutRule::Turns | SitOutRule::Surprise { .. } => true,
    });
    let rules: Vec<SitOutRule> = rules.map(|rule| rule.value.clone()).collect();
    match SitOutRule::split(&rules, SEED) {
        Ok(_) => rules,
        Err(error) => {
            let last = item.sit_out.last().map_or(0..0, |rule| rule.span.clone());
            problems.add(last, error.to_string(), "keep one of the two");
            Vec::new()
        }
    }
}

/// A wish alone, so that it is told where it stands.
fn fits(
    song: &Song,
    plan: &Plan,
    span: &Range<usize>,
    help: &str,
    problems: &mut Problems,
) -> bool {
    let arranged = arrange(song, plan);
    arranged.map_err(|error| problems.add(span.clone(), error.to_string(), help)).is_ok()
}
