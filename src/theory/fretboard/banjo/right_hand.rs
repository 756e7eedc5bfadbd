use super::{Moment, Plucks, Way};
use crate::trellis::{Trellis, least_path};

/// Chooses a way for each moment so that no finger plays twice in a row within `soon`, and the hands
/// have the least trouble: the least sum of the ways' own costs and of what goes badly together. Of equals, the
/// one whose first way that differs stands earlier.
///
/// Two picks in a row within `soon` never share a finger, whatever was asked for: sooner is something
/// left out. What goes badly together: one string picked twice in a row; thumb and index finger crossed; a
/// finger other than the thumb that comes back to its string with one pick between, where another could
/// take turns with it; notes that lead to another chord and lie further than a step apart. The figures are
/// common practice, no source.
pub fn right_hand(moments: &[Moment], soon: i64) -> Vec<Plucks> {
    let pairs = Pairs::new(moments, soon);
    let path = least_path(&pairs);
    let path = path.map_or_else(|| vec![0; pairs.layers()], |path| path.states);
    // From the first moment on: the second of each pair is the way of its moment.
    let chosen = moments.iter().zip(path.iter().rev().skip(1)).map(|(moment, pair)| {
        let way = pair % moment.ways.len().max(1);
        (moment.at, moment.ways.get(way).map_or(Plucks::NONE, |way| way.plucks))
    });
    let mut last: Option<(i64, Plucks)> = None;
    let played = chosen.map(|(at, plucks)| {
        // Pairs do not see past two silences.
        let clash = last
            .is_some_and(|(before, others)| at - before <= soon && plucks.share_a_finger(&others));
        let plucks = if clash { Plucks::NONE } else { plucks };
        if !plucks.is_empty() {
            last = Some((at, plucks));
        }
        plucks
    });
    played.collect()
}

/// The ways of two moments in a row, from those of the last two back to what lies before the first: so of equals the
/// first way that differs decides. What goes badly together is paid at the last of three.
struct Pairs<'a> {
    /// For each layer the moments of its pair and the one after, which is the silence after the last for the first layer.
    threes: Vec<Three<'a>>,
    soon: i64,
}

/// Three moments in a row: their ways, and how far the first and the second lie before the third.
struct Three<'a> {
    ways: [&'a [Way]; 3],
    gaps: (i64, i64),
}

impl<'a> Pairs<'a> {
    fn new(moments: &'a [Moment], soon: i64) -> Self {
        /// Of what lies before and after all, and where nothing is wanted.
        const SILENCE: &[Way] = &[Way { plucks: Plucks::NONE, cost: 0, leads: None }];
        let moment = |index: Option<usize>| index.and_then(|index| moments.get(index));
        let ways = |index| match moment(index) {
            Some(moment) if !moment.ways.is_empty() => moment.ways.as_slice(),
            _ => SILENCE,
        };
        let three = |index: usize| {
            let [first, second] = [2, 1].map(|back| index.checked_sub(back));
            let here = moment(Some(index)).map_or(0, |moment| moment.at);
            let gap = |other| moment(other).map_or(i64::MAX, |other| here - other.at);
            Three { ways: [first, second, Some(index)].map(ways), gaps: (gap(first), gap(second)) }
        };
        Self { threes: (0..=moments.len()).rev().map(three).collect(), soon }
    }
}

impl Trellis for Pairs<'_> {
    type Cost = u32;

    fn layers(&self) -> usize {
        self.threes.len()
    }

    fn states(&self, layer: usize) -> usize {
        self.threes.get(layer).map_or(0, |three| three.ways[0].len() * three.ways[1].len())
    }

    fn own(&self, _: usize, _: usize) -> u32 {
        0
    }

    fn ways(
        &self,
        layer: usize,
        state: usize,
        before: &[u32],
    ) -> impl Iterator<Item = (usize, u32)> {
        let (ways, gaps) = match self.threes.get(layer) {
            Some(three) => (three.ways, three.gaps),
            None => ([&[][..]; 3], (0, 0)),
        };
        let [first, second, third] = ways;
        let width = second.len().max(1);
        let row = state % width;
        let pair = first.get(state / width).zip(second.get(row));
        let from = row * third.len();
        let on = before.get(from..).unwrap_or_default();
        third.iter().zip(on).enumerate().filter_map(move |(number, (c, on))| {
            let (a, b) = pair?;
            Some((from + number, together([a, b, c], gaps, self.soon).saturating_add(*on)))
        })
    }
}

/// More than everything else together.
const IMPOSSIBLE: u32 = 1_000_000;

/// What the last of three ways in a row costs after the other two, which lie the gaps before it.
#[inline]
fn together([a, b, c]: [&Way; 3], (long, short): (i64, i64), soon: i64) -> u32 {
    const SAME_STRING: u32 = 3;
    const SAME_PLACE: u32 = 2;
    const CROSSED: u32 = 7;
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
