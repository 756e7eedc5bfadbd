//! What tells players from machines: how far they stray and keep together, and that no two strokes are alike.

use std::collections::BTreeMap;

use openchair::chart::Role;
use openchair::time::BeatPart;

use super::row::{Bound, Reading, Row, pooled, worst};
use super::take::{Played, Take};

/// How far two players are apart is told of so many places at least.
const ENOUGH: usize = 5000;

fn sd(values: &[f64]) -> f64 {
    let mean = values.iter().sum::<f64>() / values.len().max(1) as f64;
    (values.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / values.len().max(1) as f64).sqrt()
}

/// What a role's strokes are off their places, in milliseconds, over all takes.
fn strays(takes: &[Take]) -> BTreeMap<Role, Vec<f64>> {
    let mut strays: BTreeMap<Role, Vec<f64>> = BTreeMap::new();
    for take in takes {
        for part in &take.parts {
            let off = part.strokes.iter().map(|stroke| take.millis(stroke.off));
            strays.entry(part.role).or_default().extend(off);
        }
    }
    strays
}

/// The spread of a player about the grid: 5 to 8 ms for one who plays to a click (drummers 13 to 21 ms on a kit by
/// a device: Groove MIDI data; the narrower bound is a choice, so that a student can be judged against the band).
pub fn stray(takes: &[Take]) -> [Row; 2] {
    let of: Vec<(String, f64, usize)> =
        strays(takes).iter().map(|(role, off)| (role.to_string(), sd(off), off.len())).collect();
    [
        pooled(
            "a player's spread about the grid (SD), the least",
            " ms",
            Bound::AtLeast(5.0),
            ENOUGH,
            &of,
        ),
        pooled(
            "a player's spread about the grid (SD), the most",
            " ms",
            Bound::AtMost(8.0),
            ENOUGH,
            &of,
        ),
    ]
}

/// How far apart pairs of players strike what is written at one place, over all takes.
fn pairs(takes: &[Take]) -> BTreeMap<(Role, Role), Vec<f64>> {
    let mut pairs: BTreeMap<(Role, Role), Vec<f64>> = BTreeMap::new();
    for take in takes {
        for (index, one) in take.parts.iter().enumerate() {
            for other in &take.parts[index + 1..] {
                let apart = one.strokes.iter().filter_map(|stroke| {
                    let with = other.stroke_at(stroke.at)?;
                    Some(take.millis((with.start() - stroke.start()) as f64))
                });
                pairs.entry((one.role, other.role)).or_default().extend(apart);
            }
        }
    }
    pairs.retain(|_, apart| apart.len() >= ENOUGH);
    pairs
}

/// The spread between two players: 7 to 11 ms, between what machines do and what listeners mind; and 95 of 100
/// places within 19 ms (J. New Music Research 46(4) 2017, 329-341).
pub fn apart(takes: &[Take]) -> [Row; 3] {
    let name = |(one, other): &(Role, Role)| format!("{one} and {other}");
    let pairs = pairs(takes);
    let of: Vec<(String, f64, usize)> =
        pairs.iter().map(|(pair, apart)| (name(pair), sd(apart), apart.len())).collect();
    let far: Vec<(String, f64, usize)> = pairs
        .iter()
        .map(|(pair, apart)| {
            let mut far: Vec<f64> = apart.iter().map(|millis| millis.abs()).collect();
            far.sort_by(f64::total_cmp);
            (name(pair), far[far.len() * 95 / 100], far.len())
        })
        .collect();
    [
        pooled("two players' spread (SD), the least", " ms", Bound::AtLeast(7.0), ENOUGH, &of),
        pooled("two players' spread (SD), the most", " ms", Bound::AtMost(11.0), ENOUGH, &of),
        pooled("two players: 95 of 100 places within", " ms", Bound::Below(19.0), ENOUGH, &far),
    ]
}

/// The tempo of a song, which a click holds: by the line through all deviations of all players over its time, how many
/// beats a minute it is off the click's (trios without a click gain 1.6 beats a minute in a minute: Cambridge Jazz Trio
/// Database). And what eight bars lie off the grid in the mean: no more than players like between two of them (19 ms:
/// J. New Music Research 46(4) 2017, 329-341).
pub fn tempo(takes: &[Take]) -> [Row; 2] {
    let drift = "a song's tempo as played: beats a minute off the click's";
    let drift = worst(drift, "", Bound::Below(0.03), 300, takes, |take| {
        let all = || take.parts.iter().flat_map(|part| &part.strokes);
        let seconds = |stroke: &super::stroke::Stroke| take.millis(stroke.at as f64) / 1000.0;
        let count = all().count() as f64;
        let mean = all().map(seconds).sum::<f64>() / count;
        let late = all().map(|s| take.millis(s.off)).sum::<f64>() / count;
        let spread: f64 = all().map(|s| (seconds(s) - mean).powi(2)).sum();
        let slope: f64 =
            all().map(|s| (seconds(s) - mean) * (take.millis(s.off) - late)).sum::<f64>() / spread;
        let value = (slope / 1000.0 * take.sheet.tempo.beats_per_minute(take.sheet.meter)).abs();
        let what = format!("{:+.1} ms a minute", slope * 60.0);
        vec![Reading { value, looked: 1, bar: 1, what }]
    });
    let far = "eight bars of the band: how far off the grid in the mean";
    let far = worst(far, " ms", Bound::Below(19.0), 5000, takes, |take| {
        let mut eights: BTreeMap<usize, (f64, usize)> = BTreeMap::new();
        for stroke in take.parts.iter().flat_map(|part| &part.strokes) {
            let sums = eights.entry(stroke.bar / 8).or_default();
            *sums = (sums.0 + take.millis(stroke.off), sums.1 + 1);
        }
        let read = |(eight, (sum, looked)): (usize, (f64, usize))| {
            let value = (sum / looked as f64).abs();
            let bar = take.sheet.bars[eight * 8].number;
            Reading { value, looked, bar, what: format!("{looked} strokes") }
        };
        eights.into_iter().filter(|(_, (_, looked))| *looked > 20).map(read).collect()
    });
    [drift, far]
}

/// Each stroke's deviation and the next's: a correlation of about 0.3 (0.14 to 0.42 of drummers to a click: Groove
/// MIDI data).
pub fn memory(takes: &[Take]) -> [Row; 2] {
    let mut products: BTreeMap<Role, (f64, f64, usize)> = BTreeMap::new();
    for take in takes {
        for part in &take.parts {
            let off: Vec<f64> = part.strokes.iter().map(|s| take.millis(s.off)).collect();
            let sums = products.entry(part.role).or_default();
            sums.0 += off.windows(2).map(|two| two[0] * two[1]).sum::<f64>();
            sums.1 += off.windows(2).map(|two| two[0] * two[0]).sum::<f64>();
            sums.2 += off.len();
        }
    }
    let of: Vec<(String, f64, usize)> = products
        .iter()
        .map(|(role, (next, own, looked))| (role.to_string(), next / own, *looked))
        .collect();
    [
        pooled(
            "a stroke's deviation and the next's (lag 1), the least",
            "",
            Bound::AtLeast(0.14),
            ENOUGH,
            &of,
        ),
        pooled(
            "a stroke's deviation and the next's (lag 1), the most",
            "",
            Bound::AtMost(0.45),
            ENOUGH,
            &of,
        ),
    ]
}

/// The spread on the backbeats as a share of that on the downbeats: smaller, since all players are most precise on
/// the backbeats (J. New Music Research 46(4) 2017, 329-341).
pub fn backbeats(takes: &[Take]) -> Row {
    let mut by_part: BTreeMap<(Role, BeatPart), Vec<f64>> = BTreeMap::new();
    for take in takes {
        for part in &take.parts {
            for stroke in &part.strokes {
                let bar = &take.sheet.bars[stroke.bar];
                let step = (stroke.at - bar.start.get()).div_euclid(BeatPart::grid(bar.gait).get());
                let place = usize::try_from(step).ok().and_then(|s| BeatPart::at_step(bar.gait, s));
                if let Some(place) = place {
                    by_part.entry((part.role, place)).or_default().push(take.millis(stroke.off));
                }
            }
        }
    }
    let of: Vec<(String, f64, usize)> = [Role::Chop, Role::Guitar]
        .into_iter()
        .filter_map(|role| {
            let back = by_part.get(&(role, BeatPart::Back))?;
            let down = by_part.get(&(role, BeatPart::Down)).filter(|down| down.len() > 500)?;
            Some((role.to_string(), sd(back) / sd(down), back.len()))
        })
        .collect();
    pooled(
        "the spread on backbeats, as a share of that on downbeats",
        "",
        Bound::Below(1.0),
        ENOUGH,
        &of,
    )
}

/// How a role's velocities spread in one place of the bar among strokes of a kind that are no accents or ghosts of
/// each other: by a deviation of 4 at least, where machines have 0 (drummers 14 to 21 in all: Groove MIDI data).
pub fn touch(takes: &[Take]) -> Row {
    let mut spread: BTreeMap<Role, Vec<f64>> = BTreeMap::new();
    for take in takes {
        for part in &take.parts {
            let changes =
                part.strokes.windows(2).filter(|two| two[0].notes.len() == two[1].notes.len());
            let by = changes.map(|two| f64::from(two[0].velocity()) - f64::from(two[1].velocity()));
            spread.entry(part.role).or_default().extend(by.filter(|by| by.abs() < 14.0));
        }
    }
    let of: Vec<(String, f64, usize)> = spread
        .iter()
        .map(|(role, by)| (role.to_string(), sd(by) / 2_f64.sqrt(), by.len()))
        .collect();
    pooled("a player's velocities from stroke to stroke (SD)", "", Bound::AtLeast(3.5), ENOUGH, &of)
}

/// Strums of a role, which are no single notes.
fn strums(part: &Played) -> impl Iterator<Item = &super::stroke::Stroke> {
    part.strokes.iter().filter(|stroke| stroke.notes.len() > 2)
}

/// Strums as wide, to the millisecond, as the one before: fewer than a third. And strums of as many strings as the
/// one before: not all (common practice, no source).
pub fn strums_alike(takes: &[Take]) -> [Row; 2] {
    let (mut wide, mut many): (BTreeMap<Role, Vec<bool>>, BTreeMap<Role, Vec<bool>>) =
        Default::default();
    for take in takes {
        for part in take.parts.iter().filter(|part| [Role::Chop, Role::Guitar].contains(&part.role))
        {
            let strums: Vec<_> = strums(part).collect();
            let width = |s: &super::stroke::Stroke| {
                take.millis((s.last_start() - s.start()) as f64).round()
            };
            for two in strums.windows(2) {
                wide.entry(part.role).or_default().push(width(two[0]) == width(two[1]));
                many.entry(part.role).or_default().push(two[0].notes.len() == two[1].notes.len());
            }
        }
    }
    let share = |of: &BTreeMap<Role, Vec<bool>>| -> Vec<(String, f64, usize)> {
        of.iter()
            .map(|(role, same)| {
                let alike = same.iter().filter(|same| **same).count();
                (role.to_string(), 100.0 * alike as f64 / same.len() as f64, same.len())
            })
            .collect()
    };
    [
        pooled("strums as wide as the one before", " %", Bound::Below(34.0), ENOUGH, &share(&wide)),
        pooled(
            "strums of as many strings as the one before",
            " %",
            Bound::Below(85.0),
            ENOUGH,
            &share(&many),
        ),
    ]
}
