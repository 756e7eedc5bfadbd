use std::path::PathBuf;
use std::process::ExitCode;

use serde::Serialize;

use super::failure::{Failure, tell};
use super::files::{MarksFile, say_to_stdout};
use super::jam::{DrillPlan, Drilling, Jam, NoStage, Stage, no_device};
use super::options::{Live, Options, PRACTICE};
use super::rehearse::rehearsal;
use crate::live::{Desk, MonotonicClock, Wish};
use crate::practice::{
    Change, ChangeChoice, Course, Mark, Ramp, changes, parse_drill_bars, parse_ramp,
};
use crate::rehearsal::{Rehearsal, Wishes};
use crate::synth::Room;

#[derive(Debug, clap::Args)]
pub(super) struct Drill {
    /// The song: a file, or a name that `openchair songs` lists
    pub song: PathBuf,
    /// Practise this change alone: G:C
    #[arg(long, help_heading = PRACTICE, value_name = "CHORD:CHORD", value_parser = ChangeChoice::parse)]
    pub change: Option<ChangeChoice>,
    /// Bars of each chord
    #[arg(long, help_heading = PRACTICE, value_name = "N", default_value = "2", allow_negative_numbers = true, value_parser = parse_drill_bars)]
    pub bars: u32,
    /// Begin at one speed and climb to another by a step each round, in percent
    #[arg(long, help_heading = PRACTICE, value_name = "FROM:TO:STEP", default_value = "60:100:4", value_parser = parse_ramp)]
    pub ramp: Ramp,
    /// List the song's changes, how often each comes, and how far you are with it
    #[arg(long, help_heading = PRACTICE)]
    pub list: bool,
    /// Give the list as JSON
    #[arg(long, help_heading = PRACTICE, requires = "list")]
    pub json: bool,
    #[command(flatten)]
    pub options: Options,
    #[command(flatten)]
    pub live: Live,
}

/// Lists the changes, or practises them one by one.
pub(super) fn run(drill: &Drill) -> Result<ExitCode, Failure> {
    let wishes = Wishes { count_in: drill.live.count_in, ..drill.options.wishes()? };
    let rehearsal = rehearsal(&drill.song, wishes)?;
    refuse_what_no_drill_has(&rehearsal)?;
    let played = rehearsal.whole().map_err(Failure::usage)?;
    let song = rehearsal.song();
    let mut found = changes(&played);
    if let Some(choice) = &drill.change {
        let chosen = choice
            .find(&found, song.key, played.key)
            .map_err(|why| Failure::Usage(format!("--change: {why}")))?;
        found = vec![chosen];
    }
    let (file, marks, notice) = MarksFile::open(&song.title);
    notice.into_iter().for_each(tell);
    if drill.list {
        let rows: Vec<Row> =
            found.iter().map(|change| Row::new(change, marks.of(change))).collect();
        let text = if drill.json {
            serde_json::to_string_pretty(&rows).map_err(Failure::failed)?
        } else {
            table(&rows)
        };
        say_to_stdout(&format!("{text}\n"))?;
        return Ok(ExitCode::SUCCESS);
    }
    let course = Course::new(found, drill.ramp, &marks).ok_or_else(|| {
        Failure::failed(format!("{} stays on one chord: it has no change to practise", song.title))
    })?;
    play(&drill.live, DrillPlan { rehearsal, played, bars: drill.bars, course, marks, file })
}

/// A drill has its speeds from its ramp, and no sections.
fn refuse_what_no_drill_has(rehearsal: &Rehearsal) -> Result<(), Failure> {
    let speed = rehearsal.wishes().speed;
    if speed != 100.0 {
        return Err(Failure::Usage(format!(
            "--speed: a drill climbs; write --ramp {speed}:100 to begin at that speed"
        )));
    }
    if let Some(out) = rehearsal.sit_out().iter().find(|out| out.section.is_some()) {
        return Err(Failure::Usage(format!(
            "--sit-out: a drill has no sections; write --sit-out {0} for the whole of it",
            out.role
        )));
    }
    Ok(())
}

/// Plays them.
fn play(live: &Live, plan: DrillPlan) -> Result<ExitCode, Failure> {
    live.check()?;
    let clock = MonotonicClock::new();
    let voices = plan.rehearsal.voices().in_room(live.place.or(Room::Parlor));
    let stage = match Stage::open(live, &voices, clock.epoch()) {
        Ok(stage) => stage,
        Err(NoStage::Failed(failure)) => return Err(failure),
        Err(NoStage::NoDevice) => return Err(no_device("a drill needs one, or a port")),
    };
    let Some(drilling) = Drilling::new(plan) else {
        return Err(Failure::failed("there is no change to practise"));
    };
    let wish = Wish {
        ramp: Some(drilling.ramp()),
        change_clicks: live.cues,
        follows: false,
        drills: true,
    };
    let desk = Desk::new(drilling.rehearsal(), wish).map_err(Failure::usage)?;
    Jam { desk, live, stage, clock, follow: None, listen: None, drilling: Some(drilling) }.play()
}

/// A change as the list has it.
#[derive(Debug, Serialize)]
struct Row {
    from: String,
    to: String,
    count: u32,
    learnt: Option<f64>,
    reached: Option<f64>,
    practised: Option<String>,
}

impl Row {
    fn new(change: &Change, mark: Mark) -> Self {
        Self {
            from: change.from.to_string(),
            to: change.to.to_string(),
            count: change.count,
            learnt: mark.learnt,
            reached: mark.reached,
            practised: mark.practised.map(|day| day.to_string()),
        }
    }
}

/// The list for people: a line a change, its columns as wide as they must be.
fn table(rows: &[Row]) -> String {
    if rows.is_empty() {
        return "no changes: the song stays on one chord".to_owned();
    }
    let percent = |speed: Option<f64>| speed.map_or("-".to_owned(), |speed| format!("{speed} %"));
    let head = ["change", "times", "learnt", "reached", "practised"].map(str::to_owned);
    let lines: Vec<[String; 5]> = std::iter::once(head)
        .chain(rows.iter().map(|row| {
            [
                format!("{} to {}", row.from, row.to),
                row.count.to_string(),
                percent(row.learnt),
                percent(row.reached),
                row.practised.clone().unwrap_or_else(|| "never".to_owned()),
            ]
        }))
        .collect();
    let width = |column: usize| {
        lines.iter().filter_map(|line| line.get(column)).map(|cell| cell.chars().count()).max()
    };
    let widths: [usize; 4] = [0, 1, 2, 3].map(|column| width(column).unwrap_or(0));
    let [change_wide, times_wide, learnt_wide, reached_wide] = widths;
    let lines: Vec<String> = lines
        .iter()
        .map(|[change, times, learnt, reached, practised]| {
            format!(
                "{change:change_wide$}  {times:>times_wide$}  {learnt:>learnt_wide$}  \
                 {reached:>reached_wide$}  {practised}"
            )
        })
        .collect();
    lines.join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_list_is_a_table() {
        let row = |from: &str, to: &str, count, learnt, practised: Option<&str>| Row {
            from: from.to_owned(),
            to: to.to_owned(),
            count,
            learnt,
            reached: learnt,
            practised: practised.map(str::to_owned),
        };
        let rows =
            [row("G", "C", 12, Some(92.0), Some("2024-03-09")), row("F#m7b5", "B", 1, None, None)];
        insta::assert_snapshot!(table(&rows), @r"
        change       times  learnt  reached  practised
        G to C          12    92 %     92 %  2024-03-09
        F#m7b5 to B      1       -        -  never
        ");
    }
}
