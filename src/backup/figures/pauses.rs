//! Where a singer pauses, and there is room for a fill.

use std::ops::Range;

use crate::arrange::Arrangement;
use crate::backup::bars::BarPlan;
use crate::backup::steps::Step;
use crate::chart::Lead;
use crate::coverage::Job;

/// A pause shorter than this is a breath.
const SHORTEST: usize = 2;

/// The steps of each pause that is to be filled. Where a word ends, one step is left to it: a fill begins after the
/// last word, not on it.
pub(super) fn pauses(song: &Arrangement, steps: &[Step], plans: &[BarPlan]) -> Vec<Range<usize>> {
    let job = |step: &Step| plans.get(step.bar).map_or(Job::Rest, |plan| plan.job);
    let voice = |step: &Step| {
        let bar = song.bars.get(step.bar);
        let pass = bar.and_then(|bar| song.passes.get(bar.pass));
        pass.is_some_and(|pass| pass.lead == Some(Lead::Voice))
    };
    // A bar that ends in a pause may be one in which the singer sings most of the time.
    let free = |step: &Step| {
        let quiet = !step.sung && step.open && voice(step);
        quiet && matches!(job(step), Job::Fill | Job::RollSoft | Job::Roll | Job::RollWith)
    };
    let mut found = Vec::new();
    let mut at = 0;
    while at < steps.len() {
        let run = steps.get(at..).unwrap_or_default();
        let pairs = run.iter().zip(run.iter().skip(1));
        let goes_on = |(one, next): &(&Step, &Step)| {
            free(next) && next.at == one.end() && next.length == one.length
        };
        if !run.first().is_some_and(free) {
            at += 1;
            continue;
        }
        let end = at + 1 + pairs.take_while(goes_on).count();
        let own = steps.get(at..end).unwrap_or_default();
        let before = at.checked_sub(1).and_then(|before| steps.get(before));
        let after_a_word = before.is_some_and(|before| before.sung && before.end() == steps[at].at);
        // In a bar whose steps are of another length another pause begins, and what led to it has arrived there.
        let after_a_pause = found.last().is_some_and(|last: &Range<usize>| last.end == at);
        let from = at + usize::from(after_a_word || after_a_pause);
        if own.iter().any(|step| job(step) == Job::Fill) && end.saturating_sub(from) >= SHORTEST {
            found.push(from..end);
        }
        at = end;
    }
    found
}
