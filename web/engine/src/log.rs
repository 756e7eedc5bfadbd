//! What happened, as lines of text: one band plays, another follows it from these.

use openchair::chart::{Role, RoleSet};
use openchair::live::{Standing, Status};
use openchair::time::{Nanos, Tempo};

/// Something that bears on what a player sees.
pub enum Entry {
    /// The band stands so.
    Status(Status),
    /// This was asked for, at that time.
    Act(Nanos, String),
    /// It began anew.
    Again,
}

fn bits(roles: RoleSet) -> u32 {
    Role::ALL
        .iter()
        .enumerate()
        .filter(|(_, role)| roles.contains(**role))
        .fold(0, |bits, (at, _)| bits | 1 << at)
}

fn roles(bits: u32) -> RoleSet {
    Role::ALL
        .into_iter()
        .enumerate()
        .filter(|(at, _)| bits >> at & 1 == 1)
        .map(|(_, role)| role)
        .collect()
}

/// A line for what happened at `now`, which is the time from which on it may be shown.
pub fn line(now: Nanos, entry: &Entry) -> String {
    match entry {
        Entry::Again => format!("{} again", now.0),
        Entry::Act(at, text) => format!("{} act {} {text}", now.0, at.0),
        Entry::Status(status) => {
            let (standing, bars) = match status.standing {
                Standing::CountingIn { bars } => ("count", bars),
                Standing::Playing => ("play", 0),
                Standing::Paused => ("pause", 0),
                Standing::Ended => ("end", 0),
            };
            format!(
                "{} status {standing} {bars} {} {} {} {} {} {} {} {} {} {} {}",
                now.0,
                status.score,
                status.bar,
                status.visit,
                status.bar_start.0,
                status.tempo.micros_per_quarter(),
                status.since.0,
                status.round,
                status.pass,
                bits(status.muted),
                bits(status.out),
                status.dropped,
            )
        }
    }
}

/// What a line says.
pub fn read(line: &str) -> Option<Entry> {
    let mut words = line.splitn(4, ' ');
    words.next()?;
    match words.next()? {
        "again" => Some(Entry::Again),
        "act" => Some(Entry::Act(Nanos(words.next()?.parse().ok()?), words.next()?.to_owned())),
        "status" => {
            let standing = words.next()?;
            let mut numbers = words.next()?.split(' ').map(|word| word.parse::<i64>().ok());
            let mut number = || numbers.next().flatten();
            let small = |number: i64| u32::try_from(number).ok();
            let bars = small(number()?)?;
            Some(Entry::Status(Status {
                standing: match standing {
                    "count" => Standing::CountingIn { bars },
                    "play" => Standing::Playing,
                    "pause" => Standing::Paused,
                    "end" => Standing::Ended,
                    _ => return None,
                },
                score: small(number()?)?,
                bar: usize::try_from(number()?).ok()?,
                visit: small(number()?)?,
                bar_start: Nanos(number()?),
                tempo: Tempo::from_micros(small(number()?)?),
                since: Nanos(number()?),
                round: small(number()?)?,
                pass: small(number()?)?,
                muted: roles(small(number()?)?),
                out: roles(small(number()?)?),
                dropped: u64::try_from(number()?).ok()?,
                lost: false,
                lost_time: None,
            }))
        }
        _ => None,
    }
}
