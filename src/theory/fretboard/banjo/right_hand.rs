use super::{Moment, Plucks, Way};

/// Chooses a way for each moment so that no finger plays twice in a row within `soon`, and the hands
/// have the least trouble: the least sum of the ways' own costs and of what goes badly together (Viterbi
/// 1967, over pairs of moments). Of equals, the one whose first way that differs stands earlier.
///
/// Two picks in a row within `soon` never share a finger, whatever was asked for: sooner is something
/// left out. What goes badly together: one string picked twice in a row; thumb and index finger crossed; a
/// finger other than the thumb that comes back to its string with one pick between, where another could
/// take turns with it; notes that lead to another chord and lie further than a step apart. The figures are
/// common practice, no source.
pub fn right_hand(moments: &[Moment], soon: i64) -> Vec<Plucks> {
    const NO_MOMENT: &[Way] = &[Way { plucks: Plucks::NONE, cost: 0, leads: None }];
    let ways = |back: Option<usize>| match back.and_then(|index| moments.get(index)) {
        Some(moment) => moment.ways.as_slice(),
        None => NO_MOMENT,
    };
    let time = |index: usize| moments.get(index).map_or(0, |moment| moment.at);
    // What the best way on from a pair of ways costs, the pair being those of the two moments before.
    // Every moment after the last costs nothing.
    let last = moments.len();
    let pairs_before =
        |index: usize| ways(index.checked_sub(2)).len() * ways(index.checked_sub(1)).len();
    let mut to_go = vec![0; pairs_before(last)];
    let mut choices: Vec<Vec<u16>> = Vec::with_capacity(last);
    for (index, moment) in moments.iter().enumerate().rev() {
        let (before, just_before) = (ways(index.checked_sub(2)), ways(index.checked_sub(1)));
        let gap = |back: usize| index.checked_sub(back).map_or(i64::MAX, |i| moment.at - time(i));
        let gaps = (gap(2), gap(1));
        let mut costs = Vec::with_capacity(before.len() * just_before.len());
        let mut chosen = Vec::with_capacity(costs.capacity());
        for a in before {
            for (row, b) in just_before.iter().enumerate() {
                let from = row * moment.ways.len();
                let on = to_go.get(from..).unwrap_or_default();
                let mut best = (u32::MAX, 0);
                for ((number, c), rest) in (0_u16..).zip(&moment.ways).zip(on) {
                    let cost = together([a, b, c], gaps, soon).saturating_add(*rest);
                    if cost < best.0 {
                        best = (cost, number);
                    }
                }
                costs.push(best.0);
                chosen.push(best.1);
            }
        }
        to_go = costs;
        choices.push(chosen);
    }
    trace(moments, choices.into_iter().rev(), soon)
}

/// Follows the choices from the first moment on.
fn trace(moments: &[Moment], choices: impl Iterator<Item = Vec<u16>>, soon: i64) -> Vec<Plucks> {
    let mut played = Vec::with_capacity(moments.len());
    let (mut before, mut just_before) = (0, 0);
    let mut width = 1;
    let mut last: Option<(i64, Plucks)> = None;
    for (moment, chosen) in moments.iter().zip(choices) {
        let way = chosen.get(before * width + just_before).map_or(0, |&way| usize::from(way));
        let plucks = moment.ways.get(way).map_or(Plucks::NONE, |way| way.plucks);
        // Pairs do not see past two silences.
        let clash = last
            .is_some_and(|(at, others)| moment.at - at <= soon && plucks.share_a_finger(&others));
        let plucks = if clash { Plucks::NONE } else { plucks };
        if !plucks.is_empty() {
            last = Some((moment.at, plucks));
        }
        played.push(plucks);
        (before, just_before, width) = (just_before, way, moment.ways.len());
    }
    played
}

/// More than everything else together.
const IMPOSSIBLE: u32 = 1_000_000;

/// What the last of three ways in a row costs after the other two, which lie the gaps before it.
fn together([a, b, c]: [&Way; 3], (long, short): (i64, i64), soon: i64) -> u32 {
    const SAME_STRING: u32 = 3;
    const SAME_PLACE: u32 = 2;
    const CROSSED: u32 = 2;
    const LEAP: u32 = 4;
    let (last, gap) = if b.plucks.is_empty() { (a, long) } else { (b, short) };
    if gap <= soon && last.plucks.share_a_finger(&c.plucks) {
        return IMPOSSIBLE;
    }
    let string = gap <= soon && last.plucks.share_a_string(&c.plucks);
    let crossed = gap <= soon && last.plucks.crosses(&c.plucks);
    let place = long <= soon.saturating_mul(2) && a.plucks.repeat(&c.plucks);
    let leap = match (b.leads.or(a.leads), c.leads) {
        (Some(from), Some(to)) => from.abs_diff(to) > 2,
        _ => false,
    };
    c.cost
        + SAME_STRING * u32::from(string)
        + SAME_PLACE * u32::from(place)
        + CROSSED * u32::from(crossed)
        + LEAP * u32::from(leap)
}
