use super::Cost;

/// A graph in layers, each state of which is come to from states of the layer before.
pub trait Trellis {
    /// What its sums are reckoned in.
    type Cost: Cost;

    /// How many layers there are.
    fn layers(&self) -> usize;

    /// How many states a layer has.
    fn states(&self, layer: usize) -> usize;

    /// What a state costs by itself; in the first layer, what it costs to begin there. [`Cost::NEVER`] for one that no
    /// way goes through.
    fn own(&self, layer: usize, state: usize) -> Self::Cost;

    /// The ways that come to a state of any layer but the first: for each the state that it comes from, and the sum so
    /// far with the step. `before` holds the least sums of the layer before, less what all of them have.
    ///
    /// Of ways with the same sum the first is taken, so their order says which of equals is meant.
    fn ways(
        &self,
        layer: usize,
        state: usize,
        before: &[Self::Cost],
    ) -> impl Iterator<Item = (usize, Self::Cost)>;
}

/// A way through a trellis.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Path<C> {
    /// Its state in each layer.
    pub states: Vec<usize>,
    /// The sum of all that it costs.
    pub cost: C,
}

/// The way that costs least, from any state of the first layer to any of the last; `None` if no way goes through, or
/// there is no layer.
///
/// Of equals, that whose last state is the first; of those, the one that [`Trellis::ways`] gives first at the last layer
/// where they differ. Who wants the first state that differs to decide lays the graph out from its end.
pub fn least_path<T: Trellis>(trellis: &T) -> Option<Path<T::Cost>> {
    let layers = trellis.layers();
    // Layer after layer; no way back is noted, since only one of each layer's is ever gone.
    let mut sums: Vec<T::Cost> = Vec::new();
    let mut starts = Vec::with_capacity(layers);
    // What has been taken away from all sums of a layer, of all layers.
    let mut shed = T::Cost::NOTHING;
    for layer in 0..layers {
        let start = sums.len();
        let before = starts.last().map_or(0, |before| *before)..start;
        starts.push(start);
        for state in 0..trellis.states(layer) {
            let so_far = if layer == 0 {
                T::Cost::NOTHING
            } else {
                let before = sums.get(before.clone()).unwrap_or_default();
                least(trellis.ways(layer, state, before).map(|(_, sum)| sum))
            };
            sums.push(so_far.plus(trellis.own(layer, state)));
        }
        let here = sums.get_mut(start..).unwrap_or_default();
        let part = least(here.iter().copied());
        if part >= T::Cost::NEVER {
            return None;
        }
        let part = part.shed();
        here.iter_mut().for_each(|sum| *sum = sum.less(part));
        shed = shed.plus(part);
    }
    let last = sums.get(*starts.last()?..).unwrap_or_default();
    let (mut at, left) = first_least(last.iter().copied().enumerate())?;
    let mut states = vec![at; layers];
    for layer in (1..layers).rev() {
        let row = starts.get(layer - 1).zip(starts.get(layer));
        let before = row.and_then(|(&from, &to)| sums.get(from..to)).unwrap_or_default();
        (at, _) = first_least(trellis.ways(layer, at, before))?;
        *states.get_mut(layer - 1)? = at;
    }
    Some(Path { states, cost: shed.plus(left) })
}

/// The least of sums; [`Cost::NEVER`] of none.
#[inline]
fn least<C: Cost>(sums: impl Iterator<Item = C>) -> C {
    sums.fold(C::NEVER, |least, sum| if sum < least { sum } else { least })
}

/// The first of those with the least sum.
fn first_least<C: Cost>(ways: impl Iterator<Item = (usize, C)>) -> Option<(usize, C)> {
    ways.reduce(|best, way| if way.1 < best.1 { way } else { best })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// What a state costs, and the steps to it by the states that they come from, in any order.
    type State<C> = (C, Vec<(usize, C)>);

    /// A graph that is written out, layer after layer.
    #[derive(Clone, Debug)]
    struct Written<C>(Vec<Vec<State<C>>>);

    impl<C: Cost> Trellis for Written<C> {
        type Cost = C;

        fn layers(&self) -> usize {
            self.0.len()
        }

        fn states(&self, layer: usize) -> usize {
            self.0[layer].len()
        }

        fn own(&self, layer: usize, state: usize) -> C {
            self.0[layer][state].0
        }

        fn ways(
            &self,
            layer: usize,
            state: usize,
            before: &[C],
        ) -> impl Iterator<Item = (usize, C)> {
            self.0[layer][state].1.iter().map(|&(from, step)| (from, before[from].plus(step)))
        }
    }

    impl Written<u32> {
        /// Every way that goes through, with its sum.
        fn all_ways(&self) -> Vec<(u64, Vec<usize>)> {
            let Some((first, after)) = self.0.split_first() else { return Vec::new() };
            let begin = |(state, (own, _)): (usize, &State<u32>)| {
                (*own != u32::MAX).then(|| (u64::from(*own), vec![state]))
            };
            let mut all: Vec<_> = first.iter().enumerate().filter_map(begin).collect();
            for layer in after {
                all = all
                    .iter()
                    .flat_map(|(sum, way)| {
                        let states = layer.iter().enumerate();
                        states.filter(|(_, (own, _))| *own != u32::MAX).flat_map(
                            move |(state, (own, steps))| {
                                let here =
                                    steps.iter().filter(|(from, _)| way.last() == Some(from));
                                here.map(move |(_, step)| {
                                    let way = way.iter().copied().chain([state]).collect();
                                    (sum + u64::from(*own) + u64::from(*step), way)
                                })
                            },
                        )
                    })
                    .collect();
            }
            all
        }

        /// What is to decide among equals: the last state, then from the end where in its row a step stands.
        fn order(&self, way: &[usize]) -> Vec<usize> {
            let steps = way.windows(2).enumerate().rev().map(|(layer, pair)| {
                let steps = &self.0[layer + 1][pair[1]].1;
                steps.iter().position(|(from, _)| *from == pair[0]).unwrap()
            });
            way.last().copied().into_iter().chain(steps).collect()
        }
    }

    fn any_graph() -> impl Strategy<Value = Written<u32>> {
        // Small costs, so that many ways are equal; here and there a state that no way goes through.
        let own = prop_oneof![6 => 0_u32..4, 1 => Just(u32::MAX)];
        let widths = prop::collection::vec(0_usize..=3, 0..=5);
        let with_costs = (widths, prop::collection::vec((own, any::<u64>()), 20));
        with_costs.prop_map(|(widths, costs)| {
            let mut costs = costs.into_iter();
            let mut before = 0;
            let layers = widths.into_iter().map(|width| {
                let states = (0..width).map(|_| {
                    let (own, bits) = costs.next().unwrap();
                    // Some steps are missing, and their order is any.
                    let turn = (bits >> 60) as usize;
                    let steps = (0..before).map(|at| (at + turn) % before).filter_map(|from| {
                        let bits = bits >> (8 * from);
                        (bits & 7 > 0).then_some((from, (bits >> 3 & 3) as u32))
                    });
                    (own, steps.collect())
                });
                let states: Vec<_> = states.collect();
                before = width;
                states
            });
            Written(layers.collect())
        })
    }

    proptest! {
        #[test]
        fn it_is_the_least_of_all_ways_and_of_equals_the_first(graph in any_graph()) {
            let all = graph.all_ways().into_iter();
            let best = all.min_by_key(|(sum, way)| (*sum, graph.order(way)));
            let found = least_path(&graph).map(|path| (u64::from(path.cost), path.states));
            prop_assert_eq!(found, best);
        }

        #[test]
        fn sums_of_another_kind_lead_the_same_way(graph in any_graph()) {
            let never = |cost: u32| if cost == u32::MAX { f64::NEVER } else { f64::from(cost) };
            let other = Written(
                graph.0.iter().map(|layer| {
                    let state = |(own, steps): &State<u32>| {
                        let steps = steps.iter().map(|&(from, step)| (from, f64::from(step)));
                        (never(*own), steps.collect())
                    };
                    layer.iter().map(state).collect()
                }).collect(),
            );
            let found = least_path(&graph).map(|path| (f64::from(path.cost), path.states));
            let other = least_path(&other).map(|path| (path.cost, path.states));
            prop_assert_eq!(found, other);
        }
    }

    #[test]
    fn a_detour_that_pays_is_taken() {
        // By the dear first state to the cheap end, or the other way round.
        let last = vec![(0, vec![(0, 1_u32), (1, 9)]), (4, vec![(1, 1)])];
        let graph = Written(vec![vec![(3, vec![]), (0, vec![])], last]);
        assert_eq!(least_path(&graph), Some(Path { states: vec![0, 0], cost: 4 }));
    }

    #[test]
    fn where_no_way_goes_through_there_is_none() {
        let ways = |steps: Vec<(usize, u32)>| Written(vec![vec![(0, vec![])], vec![(0, steps)]]);
        assert_eq!(least_path(&ways(vec![(0, 2)])), Some(Path { states: vec![0, 0], cost: 2 }));
        assert_eq!(least_path(&ways(vec![])), None, "no step");
        assert_eq!(least_path(&ways(vec![(0, u32::NEVER)])), None, "a step that nobody takes");
        assert_eq!(least_path(&Written::<u32>(vec![])), None, "no layer");
        assert_eq!(least_path(&Written::<u32>(vec![vec![]])), None, "no state");
    }

    #[test]
    fn a_long_way_does_not_run_out_of_room() {
        // A thousand layers of two states, of which the second is always better by one.
        let layer = |first: bool| {
            let steps = || if first { vec![] } else { vec![(0, 600_u16), (1, 600)] };
            vec![(301, steps()), (300, steps())]
        };
        let graph = Written((0..1000).map(|at| layer(at == 0)).collect());
        let path = least_path(&graph).unwrap();
        assert!(path.states.iter().all(|&state| state == 1));
        assert_eq!(path.cost, u16::MAX, "the sum of all is told as far as there is room");
    }
}
