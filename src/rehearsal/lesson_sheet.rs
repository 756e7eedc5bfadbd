//! What a lesson's page says of one thing to practise.

use super::{NotPlayed, Ready};
use crate::arrange::{Arrangement, Bar, bar_words};
use crate::chart::RoleSet;
use crate::lesson::{ChartSection, PageItem, Practice};
use crate::practice::Chairs;
use crate::tablature::text;
use crate::text::list;

/// Characters of a line of tab on a wide screen and on paper.
const WIDE: usize = 92;
/// Characters of a line of tab on a phone.
const NARROW: usize = 46;

/// All of it; what there is to play along to is `songs` and `drills`.
///
/// # Errors
/// [`NotPlayed`] if it can't be played.
pub fn lesson_sheet(
    ready: &Ready,
    songs: Practice,
    drills: Vec<Practice>,
) -> Result<PageItem, NotPlayed> {
    let rehearsal = &ready.rehearsal;
    let shown = match &ready.bars {
        None => ready.played.clone(),
        Some(bars) => rehearsal.rounds(bars.clone(), 1)?,
    };
    let band = rehearsal.perform(shown)?;
    let shown = &band.arrangement;
    let tab = rehearsal.backup_part(&band, ready.item.level).tab;
    let passes = shown.passes.iter().filter(|pass| pass.is_of_form());
    Ok(PageItem {
        title: rehearsal.song().title.clone(),
        part: ready.bars.as_ref().map(|bars| part_words(ready, (*bars.start(), *bars.end()))),
        facts: facts(ready, tab.capo),
        notes: ready.item.notes.clone(),
        about: rehearsal.song().notes.clone(),
        form: passes.map(|pass| pass.label.clone()).collect(),
        chart: chart(shown),
        passes: band.coverage(RoleSet::EMPTY).passes(shown),
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
        format!("style {}", ready.rehearsal.style().name),
        format!("band: {}", words(song.band)),
    ];
    let sections: Vec<String> = ready
        .rehearsal
        .sit_out()
        .iter()
        .map(|out| match &out.section {
            Some(section) => format!("{} in {section}", out.role),
            None => out.role.to_string(),
        })
        .collect();
    match ready.rehearsal.chairs() {
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
