use maud::{Markup, html};

use crate::coverage::{JobRun, PassCoverage};
use crate::text::list;

/// What a lesson's sheet shows and leads to.
#[derive(Clone, Debug, Default)]
pub struct LessonPage {
    /// The lesson's title.
    pub title: String,
    /// A word from the teacher.
    pub notes: Option<String>,
    /// What is practised, in order.
    pub items: Vec<PageItem>,
}

/// A song, or a part of one.
#[derive(Clone, Debug, Default)]
pub struct PageItem {
    /// The song's title.
    pub title: String,
    /// What of it goes round, if not all of it is played: "bars 5 to 8, 4 times".
    pub part: Option<String>,
    /// Key, meter and the like, a few words each.
    pub facts: Vec<String>,
    /// A word from the teacher.
    pub notes: Option<String>,
    /// What the song says of itself, and what to listen for.
    pub about: Option<String>,
    /// The passes that are played, as the form names them.
    pub form: Vec<String>,
    /// The chords, each section once.
    pub chart: Vec<ChartSection>,
    /// What the band leaves open.
    pub passes: Vec<PassCoverage>,
    /// To play to.
    pub songs: Practice,
    /// The changes to drill.
    pub drills: Vec<Practice>,
    /// The banjo's part written out: for a wide screen or a printer, and for a narrow one.
    pub tab: (String, String),
}

/// The chords of a section.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ChartSection {
    /// The section's name.
    pub name: String,
    /// Each line of the chart, as the chart writes it: `| G | C D |`.
    pub lines: Vec<String>,
}

/// The same at several speeds.
#[derive(Clone, Debug, Default)]
pub struct Practice {
    /// What it is.
    pub name: String,
    /// Each speed.
    pub tracks: Vec<Track>,
}

/// What is played, as files beside the page.
#[derive(Clone, Debug, Default)]
pub struct Track {
    /// "80 %", and what else tells it from the others.
    pub name: String,
    /// Beats a minute.
    pub tempo: f64,
    /// Whole seconds.
    pub seconds: u64,
    /// The MIDI file's name.
    pub midi: String,
    /// The sound file's name, if there is one.
    pub sound: Option<String>,
}

/// The sheet of a lesson, for a page that plays it: what there is to practise, what to do and why, chords and tab. Each
/// item has a place for what plays it, `data-item` with its number from 0. To files it leads by their names alone.
pub fn sheet(lesson: &LessonPage) -> String {
    let sheet = html! {
        h2 { (lesson.title) }
        @if let Some(notes) = &lesson.notes { (paragraphs(notes)) }
        nav aria-label="In this lesson" {
            ol {
                @for (number, item) in (1..).zip(&lesson.items) {
                    li { a href=(format!("#item-{number}")) { (item.title) } @if let Some(part) = &item.part { ", " (part) } }
                }
            }
        }
        (care())
        @for (number, item) in (1..).zip(&lesson.items) { (part(number, item)) }
    };
    sheet.into_string()
}

fn care() -> Markup {
    html! {
        section.advice {
            h3 { "Before you begin" }
            p {
                "Keep it quiet, most of all in headphones: loud enough to follow is enough, and ears want rest too. "
                "Play for a few minutes at a time and shake out your hands between. If a hand, an arm, the back or "
                "an ear hurts, tingles or rings, stop and ask a doctor; how to sit, hold and pick, ask your teacher."
            }
            p {
                "Begin with the slowest. Go on to the next when you have played it three times without a slip."
            }
        }
    }
}

fn part(number: usize, item: &PageItem) -> Markup {
    html! {
        section.item id=(format!("item-{number}")) {
            h3 { (number) " " (item.title) @if let Some(part) = &item.part { ": " (part) } }
            p.facts { (item.facts.join(" · ")) }
            @if let Some(notes) = &item.notes { div.teacher { (paragraphs(notes)) } }
            h4 { "Play along" }
            div.along data-item=(number - 1) {}
            @if !item.songs.tracks.is_empty() || !item.drills.is_empty() {
                details.files {
                    summary { "The same as files, for a player without a browser" }
                    (tracks(&item.songs))
                    @for drill in &item.drills {
                        h4 { "The change " (drill.name) }
                        (tracks(drill))
                    }
                }
            }
            h4 { "Your job" }
            (jobs(&item.passes))
            h4 { "The chords" }
            @if !item.form.is_empty() { p { "Form: " (item.form.join(", ")) } }
            @for section in &item.chart {
                h5 { (section.name) }
                pre tabindex="0" { (section.lines.join("\n")) }
            }
            @if let Some(about) = &item.about {
                h4 { "What to listen for" }
                (paragraphs(about))
            }
            @if !item.tab.0.is_empty() {
                details.tab {
                    summary { h4 { "The banjo's part written out" } }
                    pre.wide tabindex="0" { (in_rows(&item.tab.0)) }
                    pre.narrow tabindex="0" { (item.tab.1) }
                }
            }
        }
    }
}

/// Tab with each of its rows of bars held together, for paper: what stands between two empty lines.
fn in_rows(tab: &str) -> Markup {
    let mut rows = tab.trim_end().split("\n\n").peekable();
    html! {
        @while let Some(row) = rows.next() {
            span.row { (row) "\n" @if rows.peek().is_some() { "\n" } }
        }
    }
}

fn tracks(practice: &Practice) -> Markup {
    html! {
        ul.tracks {
            @for track in &practice.tracks {
                li {
                    p {
                        strong { (track.name) } " "
                        small { (format!("{:.0} beats a minute, {}", track.tempo, length(track.seconds))) }
                    }
                    @if let Some(sound) = &track.sound {
                        audio controls="controls" preload="none" src=(sound) aria-label=(format!("{}, sound", track.name)) {}
                    }
                    p {
                        @if let Some(sound) = &track.sound { a href=(sound) { "sound" } " · " }
                        a href=(track.midi) { "MIDI" }
                    }
                }
            }
        }
    }
}

fn jobs(passes: &[PassCoverage]) -> Markup {
    html! {
        table.jobs {
            caption.unseen { "What the band leaves for you, pass by pass" }
            thead { tr { th scope="col" { "Where" } th scope="col" { "What you do" } th scope="col" { "Why" } } }
            @for pass in passes {
                tbody {
                    tr { th colspan="3" scope="rowgroup" { (pass.label) " " small { (chairs(pass)) } } }
                    @for runs in gathered(&pass.jobs) {
                        @if let Some(first) = runs.first() {
                            tr { td { (bars(&runs)) } td { strong { (first.say) } } td { (first.because) } }
                        }
                    }
                }
            }
        }
    }
}

fn chairs(pass: &PassCoverage) -> String {
    let words = |roles: crate::chart::RoleSet| {
        list(&roles.iter().map(|role| role.as_str()).collect::<Vec<_>>(), "and")
    };
    let plays = if pass.rhythm.is_empty() { "nobody".to_owned() } else { words(pass.rhythm) };
    if pass.open.is_empty() {
        format!("{plays} behind you")
    } else {
        format!("{plays} behind you, open: {}", words(pass.open))
    }
}

/// What is done again later in the pass is told once.
fn gathered(jobs: &[JobRun]) -> Vec<Vec<&JobRun>> {
    let mut all: Vec<Vec<&JobRun>> = Vec::new();
    for run in jobs {
        let same = |runs: &&mut Vec<&JobRun>| {
            runs.first().is_some_and(|one| one.say == run.say && one.because == run.because)
        };
        match all.iter_mut().find(same) {
            Some(runs) => runs.push(run),
            None => all.push(vec![run]),
        }
    }
    all
}

/// `bar 4`, `bars 1 to 3, 5 and 9 to 11`.
fn bars(runs: &[&JobRun]) -> String {
    let parts: Vec<String> = runs
        .iter()
        .map(|run| match run.bars {
            (first, last) if first == last => first.to_string(),
            (first, last) => format!("{first} to {last}"),
        })
        .collect();
    match runs {
        // Bars before the form have no number.
        [JobRun { bars: (0, _), .. }, ..] => "before the first bar".to_owned(),
        [JobRun { bars: (first, last), .. }] if first == last => format!("bar {first}"),
        _ => format!("bars {}", list(&parts, "and")),
    }
}

/// Text with an empty line between its paragraphs.
fn paragraphs(text: &str) -> Markup {
    let lines: Vec<&str> = text.lines().map(str::trim).collect();
    let all = lines.split(|line| line.is_empty()).filter(|lines| !lines.is_empty());
    html! { @for lines in all { p { (lines.join(" ")) } } }
}

fn length(seconds: u64) -> String {
    format!("{}:{:02} min", seconds / 60, seconds % 60)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coverage::Job;

    #[test]
    fn paragraphs_are_parted_by_empty_lines() {
        let page = paragraphs("\nOne\nline.\n\n\nAn<other>.\n").into_string();
        assert_eq!(page, "<p>One line.</p><p>An&lt;other&gt;.</p>");
    }

    #[test]
    fn tab_is_held_together_row_by_row() {
        let rows = in_rows("Title\n\nD|-0-|\ng|---|\n\nD|-2-|\n").into_string();
        assert_eq!(rows.matches("<span class=\"row\">").count(), 3);
        let text = rows.replace("<span class=\"row\">", "").replace("</span>", "");
        assert_eq!(text, "Title\n\nD|-0-|\ng|---|\n\nD|-2-|\n", "nothing else is changed");
        assert_eq!(in_rows("").into_string().matches('|').count(), 0);
    }

    #[test]
    fn what_comes_again_is_told_once() {
        let run = |job: Job, bars| JobRun {
            job,
            say: job.to_string(),
            because: String::new(),
            bars,
            count: 1,
        };
        let runs = [
            run(Job::Vamp, (1, 3)),
            run(Job::Fill, (4, 4)),
            run(Job::Vamp, (5, 5)),
            run(Job::Vamp, (9, 11)),
        ];
        let told: Vec<String> = gathered(&runs).iter().map(|runs| bars(runs)).collect();
        assert_eq!(told, ["bars 1 to 3, 5 and 9 to 11", "bar 4"]);
        assert_eq!(bars(&[&run(Job::Rest, (0, 0))]), "before the first bar");
    }

    #[test]
    fn lengths_as_players_show_them() {
        assert_eq!((length(65).as_str(), length(9).as_str()), ("1:05 min", "0:09 min"));
    }
}
