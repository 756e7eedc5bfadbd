//! A lesson beside its songs: that each is there, sound, and has what the lesson asks of it.

use std::ops::{Range, RangeInclusive};
use std::path::{Path, PathBuf};

use super::failure::Failure;
use super::library::{self, NoStyle, Unfit, stem};
use crate::arrange::{Arrangement, Plan, arrange};
use crate::backup::CHAIR;
use crate::chart::Song;
use crate::lesson::{Lesson, LessonItem};
use crate::practice::{Chairs, Change, SitOutRule, changes};
use crate::style::Style;
use crate::text::Problems;

/// A thing to practise with all that it is made from.
#[derive(Debug)]
pub(super) struct Ready {
    pub item: LessonItem,
    /// The song's file name without its ending.
    pub stem: String,
    pub song: Song,
    pub style: Style,
    /// For the whole song at its tempo, without a count-in.
    pub plan: Plan,
    pub chairs: Chairs,
    /// The song arranged by it.
    pub played: Arrangement,
    /// The numbers of the bars that go round.
    pub bars: Option<RangeInclusive<usize>>,
    /// The changes to drill.
    pub changes: Vec<Change>,
}

/// The performance of a lesson; files that differ from lesson to lesson by their seed would be of no use.
pub(super) const SEED: u64 = 1;

/// Everything that the lesson asks for, as far as it is there; what is not is added to `problems`.
pub(super) fn ready(path: &Path, lesson: &Lesson, problems: &mut Problems) -> Vec<Ready> {
    let base = path.parent().unwrap_or(Path::new(""));
    lesson.items.iter().filter_map(|item| one(base, item, problems)).collect()
}

fn one(base: &Path, item: &LessonItem, problems: &mut Problems) -> Option<Ready> {
    let path = base.join(&item.song.value);
    let (song, own_style) = song(&path, item, problems)?;
    let before = problems.len();
    let style = style(&path, base, item, &song, own_style, problems);
    let (plan, chairs) = plan(item, &song, &style, problems);
    let mut played = arrange(&song, &plan)
        .map_err(|error| problems.add(item.song.span.clone(), error.to_string(), "mend the song"))
        .ok()?;
    let found = changes(&played);
    chairs.lay_out(&mut played);
    let chosen: Vec<Change> = item
        .changes
        .iter()
        .filter_map(|change| {
            let chosen = change.value.find(&found, song.key, played.key);
            let wrong = |error: crate::practice::ChangeError| {
                let help = "`openchair drill --list` shows the changes of a song";
                problems.add(change.span.clone(), error.to_string(), help);
            };
            chosen.map_err(wrong).ok()
        })
        .collect();
    let bars = item.stretch.as_ref().and_then(|stretch| {
        let wrong = |error: crate::practice::StretchError| {
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
    let item = item.clone();
    let ready =
        Ready { stem: stem(&path), song, style, plan, chairs, played, bars, changes: chosen, item };
    (problems.len() == before).then_some(ready)
}

fn song(path: &Path, item: &LessonItem, problems: &mut Problems) -> Option<(Song, Style)> {
    let span = || item.song.span.clone();
    let source = match library::read(path) {
        Ok(source) => source,
        Err(failure) => {
            let help = "write the song's file as it is seen from the lesson's folder";
            problems.add(span(), why(failure), help);
            return None;
        }
    };
    let mut own = Problems::new();
    match library::song(path, &source, &mut own) {
        Ok(Some(found)) => Some(found),
        Ok(None) | Err(_) => {
            problems.add(span(), "this song has mistakes", check(path));
            None
        }
    }
}

fn check(path: &Path) -> String {
    format!("`openchair check {}` shows them", path.display())
}

fn why(failure: Failure) -> String {
    match failure {
        Failure::Usage(why) | Failure::Failed(why) => why,
        Failure::Wrong(source, _) => format!("{} has mistakes", source.name),
    }
}

/// The style to play in; the song's own, for the rest to be judged by, if there is something wrong with it.
fn style(
    path: &Path,
    base: &Path,
    item: &LessonItem,
    song: &Song,
    own: Style,
    problems: &mut Problems,
) -> Style {
    let Some(wanted) = &item.style else { return own };
    match library::style_for(&wanted.value, path, base, song) {
        Ok(style) => return style,
        Err(Unfit::No(NoStyle { message, help })) => {
            problems.add(wanted.span.clone(), message, help);
        }
        Err(Unfit::File(failure)) => {
            problems.add(wanted.span.clone(), why(failure), check(&PathBuf::from(&wanted.value)));
        }
    }
    own
}

/// What is asked of the arranger, without that which the song does not have.
fn plan(item: &LessonItem, song: &Song, style: &Style, problems: &mut Problems) -> (Plan, Chairs) {
    // Each alone, so that each is told where it stands.
    let mut fits = |plan: Plan, span: &Range<usize>, help: &str| {
        let arranged = arrange(song, &plan);
        arranged.map_err(|error| problems.add(span.clone(), error.to_string(), help)).is_ok()
    };
    let key = item.key.as_ref().filter(|key| {
        let plan = Plan { key: Some(key.value), ..Plan::default() };
        fits(plan, &key.span, "write a home note alone, as in key = \"A\"")
    });
    let rules = item.sit_out.iter().filter(|rule| match &rule.value {
        SitOutRule::Role(out) => {
            let plan = Plan { sit_out: vec![out.clone()], ..Plan::default() };
            fits(plan, &rule.span, "name one of the song's sections after the @, or none")
        }
        SitOutRule::Turns | SitOutRule::Surprise { .. } => true,
    });
    let rules: Vec<SitOutRule> = rules.map(|rule| rule.value.clone()).collect();
    let (sit_out, chairs) = SitOutRule::split(&rules, SEED).unwrap_or_else(|error| {
        let last = item.sit_out.last().map_or(0..0, |rule| rule.span.clone());
        problems.add(last, error.to_string(), "keep one of the two");
        (Vec::new(), Chairs::AsWritten)
    });
    let plan = Plan {
        key: key.map(|key| key.value),
        band: item.band,
        sit_out,
        tag: style.tag,
        ..Plan::default()
    };
    (plan, chairs)
}
