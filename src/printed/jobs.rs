//! The passes of the form: who leads, whose chair is open, and what is left to the player.

use super::PassRow;
use crate::arrange::Arrangement;
use crate::chart::Lead;
use crate::coverage::{Job, PassCoverage};
use crate::text::inert;

/// A row for each pass of the form, and for last lines played over; kickoff and ending have none.
pub fn passes(played: &Arrangement, covered: &[PassCoverage]) -> Vec<PassRow> {
    let mut number = 0;
    let of_form = covered.iter().filter_map(|pass| {
        let start = played.passes.get(pass.pass)?;
        start.is_of_form().then_some((pass, start))
    });
    of_form
        .map(|(pass, start)| {
            let is_again = start.label.starts_with("last line");
            number += usize::from(!is_again);
            let open: Vec<&str> = played
                .band
                .iter()
                .filter(|&role| pass.open.contains(role))
                .map(|r| r.as_str())
                .collect();
            PassRow {
                number: if is_again { String::new() } else { number.to_string() },
                section: inert(if is_again { "last line" } else { start.section() }).into_owned(),
                lead: match pass.lead {
                    None => String::new(),
                    Some(Lead::Voice) => "voice".to_owned(),
                    Some(lead) => format!("{lead} break"),
                },
                bars: range(pass.bars),
                open: open.join(", "),
                jobs: jobs(pass),
            }
        })
        .collect()
}

/// What is to be done by and large, then what else, with its bars.
fn jobs(pass: &PassCoverage) -> String {
    let words = pass.counts().into_iter().enumerate().map(|(at, (job, _))| {
        let name = if job == Job::Lead { "your break".to_owned() } else { job.to_string() };
        if at == 0 { name } else { format!("{name} {}", places(pass, job)) }
    });
    words.collect::<Vec<_>>().join("; ")
}

/// The bars with a job: `4, 7–8`.
fn places(pass: &PassCoverage, job: Job) -> String {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for run in pass.jobs.iter().filter(|run| run.job == job) {
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == run.bars.0 => *last = run.bars.1,
            _ => runs.push(run.bars),
        }
    }
    runs.into_iter().map(range).collect::<Vec<_>>().join(", ")
}

fn range((first, last): (usize, usize)) -> String {
    if first == last { first.to_string() } else { format!("{first}–{last}") }
}
