use crate::arrange::Arrangement;
use crate::chart::RoleSet;
use crate::coverage::{BarCoverage, Coverage};
use crate::live::{Standing, Status};
use crate::practice::Chairs;

/// How many bars ahead it is said what comes: time to finish a roll and move the hand up the neck.
const AHEAD: usize = 2;

/// What the band leaves open, as far as it is known.
#[derive(Clone, Copy, Debug)]
pub struct Open<'a> {
    /// While the chairs are as they are now.
    pub now: &'a Coverage,
    /// From the next pass on; `None` if that is a surprise.
    pub next: Option<&'a Coverage>,
}

/// What the player has to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Task {
    /// In this bar.
    pub now: TaskWords,
    /// In how many bars there is something else to do, and what.
    pub coming: Option<(usize, TaskWords)>,
}

/// Something to do, in words.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct TaskWords {
    /// `vamp`.
    pub short: String,
    /// `vamp, no backbeat`.
    pub full: String,
}

impl TaskWords {
    fn of(bar: &BarCoverage, song: &Arrangement) -> Self {
        let say = bar.rule().say(song.meter);
        match say.split_once(": ") {
            Some((what, why)) => Self { short: what.to_owned(), full: format!("{what}, {why}") },
            None => Self { short: say.clone(), full: say },
        }
    }
}

impl Task {
    /// What is to be done while the band stands so; `None` when there is nothing more to play.
    pub fn new(status: &Status, song: &Arrangement, open: Open<'_>) -> Option<Self> {
        if status.standing == Standing::Ended {
            return None;
        }
        let bar = song.bars.get(status.bar)?;
        let here = open.now.bars.get(status.bar)?;
        let now = TaskWords::of(here, song);
        let coming = (1..=AHEAD).find_map(|bars| {
            let at = status.bar + bars;
            let (at, round) = match (song.bars.get(at), song.round) {
                (Some(_), _) => (at, false),
                (None, Some(_)) => (at.checked_sub(song.bars.len())?, true),
                (None, None) => return None,
            };
            let same_pass = !round && song.bars.get(at).is_some_and(|it| it.pass == bar.pass);
            let covered = if same_pass { Some(open.now) } else { open.next }?;
            let words = TaskWords::of(covered.bars.get(at)?, song);
            (words != now).then_some((bars, words))
        });
        Some(Self { now, coming })
    }
}

/// Who will be silent in the next pass; `None` if that is a surprise.
pub fn silent_next(status: &Status, song: &Arrangement, chairs: Chairs) -> Option<RoleSet> {
    let told = match chairs {
        Chairs::AsWritten | Chairs::Turns => true,
        Chairs::Surprise { announced, .. } => announced,
    };
    // The chairs of a kickoff are those of the pass that it leads into.
    let pass = song.bars.get(status.bar).and_then(|bar| song.passes.get(bar.pass));
    let next = match pass {
        Some(pass) if pass.is_kickoff => status.pass,
        _ => status.pass.saturating_add(1),
    };
    told.then(|| status.muted.union(chairs.open_in(next, song.band)))
}

/// `in 2 bars`, `next bar`.
pub(super) fn when(bars: usize) -> String {
    match bars {
        1 => "next bar".to_owned(),
        bars => format!("in {bars} bars"),
    }
}

/// What a line a bar says of it: what is to be done, if that is new, and what comes, if that was not said.
#[derive(Clone, Debug, Default)]
pub struct Told {
    now: Option<TaskWords>,
    /// The visit of the bar whose task was told beforehand, and what it was.
    coming: Option<(u32, TaskWords)>,
}

impl Told {
    /// The lines for a bar that begins.
    pub fn lines(&mut self, task: &Task, visit: u32) -> Vec<String> {
        let mut lines = Vec::new();
        if self.now.as_ref() != Some(&task.now) {
            lines.push(format!("you: {}", task.now.full));
            self.now = Some(task.now.clone());
        }
        if let Some((bars, words)) = &task.coming {
            let at = visit.wrapping_add(u32::try_from(*bars).unwrap_or(0));
            let coming = Some((at, words.clone()));
            if self.coming != coming {
                lines.push(format!("{}: {}", when(*bars), words.full));
                self.coming = coming;
            }
        }
        lines
    }
}
