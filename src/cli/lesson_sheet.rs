//! What a lesson's page says of one thing to practise.

use super::bar_words::bar_words;
use super::failure::Failure;
use super::lesson_ready::{Ready, SEED};
use crate::arrange::{Arrangement, Bar};
use crate::backup::{CHAIR, backup};
use crate::chart::RoleSet;
use crate::coverage::coverage;
use crate::lesson::{ChartSection, PageItem, Practice};
use crate::perform::perform;
use crate::practice::Chairs;
use crate::tablature::{tablature, text};
use crate::text::list;

/// Characters of a line of tab on a wide screen and on paper.
const WIDE: usize = 92;
/// Characters of a line of tab on a phone.
const NARROW: usize = 46;

/// All of it.
pub(super) fn sheet(
    ready: &Ready,
    songs: Practice,
    drills: Vec<Practice>,
) -> Result<PageItem, Failure> {
    let whole = &ready.played;
    let round = ready.bars.as_ref().and_then(|bars| whole.excerpt(bars.clone(), 1));
    let shown = round.as_ref().unwrap_or(whole);
    let played = perform(shown, &ready.style, SEED).map_err(Failure::failed)?;
    let open = coverage(shown, &played, RoleSet::EMPTY);
    // The chair is the player's, whether the band has a banjo or not.
    let for_banjo = coverage(shown, &played, RoleSet::EMPTY.with(CHAIR));
    let level = ready.item.level;
    let part = backup(shown, &ready.style, &for_banjo, level, SEED);
    let tab = tablature(shown, played.swing, &for_banjo, &part, level);
    let passes = shown.passes.iter().filter(|pass| pass.is_of_form());
    Ok(PageItem {
        title: ready.song.title.clone(),
        part: ready.bars.as_ref().map(|bars| part_words(ready, (*bars.start(), *bars.end()))),
        facts: facts(ready, part.capo),
        notes: ready.item.notes.clone(),
        about: ready.song.notes.clone(),
        form: passes.map(|pass| pass.label.clone()).collect(),
        chart: chart(shown),
        passes: open.passes(shown),
        songs,
        drills,
        tab: (text(&tab, WIDE), text(&tab, NARROW)),
    })
}

fn part_words(ready: &Ready, (first, last): (usize, usize)) -> String {
    let bars =
        if first == last { format!("bar {first}") } else { format!("bars {first} to {last}") };
    match ready.item.rounds.get() {
        1 => format!("{bars}, once"),
        rounds => format!("{bars}, {rounds} times round"),
    }
}

fn facts(ready: &Ready, capo: u8) -> Vec<String> {
    let song = &ready.played;
    let words =
        |roles: RoleSet| list(&roles.iter().map(|role| role.as_str()).collect::<Vec<_>>(), "and");
    let mut facts = vec![
        format!("key of {}", song.key),
        match capo {
            0 => "banjo without a capo".to_owned(),
            fret => format!("banjo capo at fret {fret}"),
        },
        song.meter.to_string(),
        format!("{:.0} beats a minute at 100 %", song.tempo.beats_per_minute(song.meter)),
        format!("style {}", ready.style.name),
        format!("band: {}", words(song.band)),
    ];
    let sections: Vec<String> = ready
        .plan
        .sit_out
        .iter()
        .map(|out| match &out.section {
            Some(section) => format!("{} in {section}", out.role),
            None => out.role.to_string(),
        })
        .collect();
    match ready.chairs {
        Chairs::AsWritten if sections.is_empty() => {}
        Chairs::AsWritten => facts.push(format!("open chair: {}", list(&sections, "and"))),
        Chairs::Turns => facts.push("another chair open in each pass, by turns".to_owned()),
        Chairs::Surprise { .. } => facts.push("a chair open by surprise".to_owned()),
    }
    facts
}

/// The chords of each section, once.
fn chart(song: &Arrangement) -> Vec<ChartSection> {
    let mut sections: Vec<ChartSection> = Vec::new();
    let bars: Vec<&Bar> = song.bars.iter().filter(|bar| song.is_of_form(bar)).collect();
    for pass in bars.chunk_by(|one, other| one.pass == other.pass) {
        let start = pass.first().and_then(|bar| song.passes.get(bar.pass));
        let name = start.map_or("", |pass| pass.section()).to_owned();
        if sections.iter().any(|section| section.name == name) {
            continue;
        }
        let lines = pass.chunk_by(|one, other| one.line == other.line).map(|line| {
            let bars: Vec<String> = line.iter().map(|bar| bar_words(song, bar)).collect();
            format!("| {} |", bars.join(" | "))
        });
        sections.push(ChartSection { name, lines: lines.collect() });
    }
    sections
}
