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
    let pairs = Pairs { moments, soon };
    let path = least_path(&pairs).map_or_else(Vec::new, |path| path.states);
    // From the first moment on: the second of each pair is the way of its moment.
    let chosen = moments.iter().enumerate().map(|(index, moment)| {
        let pair = pairs.layer_before(index + 1).and_then(|layer| path.get(layer));
        let way = pair.map_or(0, |pair| pair % pairs.ways_of(Some(index)).len());
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
    moments: &'a [Moment],
    soon: i64,
}

impl Pairs<'_> {
    /// The ways of a moment; of none, and where nothing is wanted, silence.
    fn ways_of(&self, index: Option<usize>) -> &[Way] {
        const SILENCE: &[Way] = &[Way { plucks: Plucks::NONE, cost: 0, leads: None }];
        let moment = index.and_then(|index| self.moments.get(index));
        moment
            .map(|moment| moment.ways.as_slice())
            .filter(|ways| !ways.is_empty())
            .unwrap_or(SILENCE)
    }

    /// The layer of the pair of moments before one.
    const fn layer_before(&self, index: usize) -> Option<usize> {
        self.moments.len().checked_sub(index)
    }

    /// The moment that the pair of a layer lies before.
    const fn after(&self, layer: usize) -> usize {
        self.moments.len().saturating_sub(layer)
    }

    fn pair(&self, layer: usize) -> [&[Way]; 2] {
        [2, 1].map(|back| self.ways_of(self.after(layer).checked_sub(back)))
    }
}

impl Trellis for Pairs<'_> {
    type Cost = u32;

    fn layers(&self) -> usize {
        self.moments.len() + 1
    }

    fn states(&self, layer: usize) -> usize {
        let [before, just_before] = self.pair(layer);
        before.len() * just_before.len()
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
        let index = self.after(layer);
        let ([first, second], third) = (self.pair(layer), self.ways_of(Some(index)));
        let row = state % second.len();
        let pair = first.get(state / second.len()).zip(second.get(row));
        let at = |index: usize| self.moments.get(index).map_or(0, |moment| moment.at);
        let gap =
            |back: usize| index.checked_sub(back).map_or(i64::MAX, |other| at(index) - at(other));
        let gaps = (gap(2), gap(1));
        let from = row * third.len();
        let on = before.get(from..).unwrap_or_default();
        pair.into_iter().flat_map(move |(a, b)| {
            third.iter().zip(on).enumerate().map(move |(number, (c, on))| {
                (from + number, together([a, b, c], gaps, self.soon).saturating_add(*on))
            })
        })
    }
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
