use super::{Cost, Trellis};

/// For each state the least sum of a way through it, from any state of the first layer to any of the last;
/// [`Cost::NEVER`] where no way goes. The least of a layer is that of [`least_path`](super::least_path); what another
/// state has above it is what it would cost to go there instead.
///
/// Sums are kept whole here: a way must cost less than [`Cost::NEVER`], or it counts as none.
pub fn least_through<T: Trellis>(trellis: &T) -> Vec<Vec<T::Cost>> {
    let layers = trellis.layers();
    let never = T::Cost::NEVER;
    // The least sum of a way up to each state, its own cost in it.
    let mut sums: Vec<Vec<T::Cost>> = Vec::with_capacity(layers);
    for layer in 0..layers {
        let before = sums.last().map_or(&[][..], Vec::as_slice);
        let here = (0..trellis.states(layer)).map(|state| {
            let so_far = if layer == 0 {
                T::Cost::NOTHING
            } else {
                least(trellis.ways(layer, state, before).map(|(_, sum)| sum))
            };
            so_far.plus(trellis.own(layer, state))
        });
        let here = here.collect();
        sums.push(here);
    }
    // And of the way that is left behind it.
    let mut left: Vec<T::Cost> = vec![T::Cost::NOTHING; sums.last().map_or(0, Vec::len)];
    for layer in (0..layers).rev() {
        let mut before = vec![never; layer.checked_sub(1).map_or(0, |layer| trellis.states(layer))];
        // From sums of nothing a way is its step alone.
        let nothing = vec![T::Cost::NOTHING; before.len()];
        for (state, &after) in left.iter().enumerate() {
            if layer > 0 {
                let rest = after.plus(trellis.own(layer, state));
                for (from, step) in trellis.ways(layer, state, &nothing) {
                    let sum = step.plus(rest);
                    if let Some(least) = before.get_mut(from).filter(|least| sum < **least) {
                        *least = sum;
                    }
                }
            }
        }
        if let Some(here) = sums.get_mut(layer) {
            here.iter_mut().zip(&left).for_each(|(sum, &after)| *sum = sum.plus(after));
        }
        left = before;
    }
    sums
}

fn least<C: Cost>(sums: impl Iterator<Item = C>) -> C {
    sums.fold(C::NEVER, |least, sum| if sum < least { sum } else { least })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::least_path;
    use super::*;

    /// Layers of three states: what each costs, and what each step from each does.
    struct Grid(Vec<[(u32, [u32; 3]); 3]>);

    impl Trellis for Grid {
        type Cost = u32;

        fn layers(&self) -> usize {
            self.0.len()
        }

        fn states(&self, _: usize) -> usize {
            3
        }

        fn own(&self, layer: usize, state: usize) -> u32 {
            self.0[layer][state].0
        }

        fn ways(
            &self,
            layer: usize,
            state: usize,
            before: &[u32],
        ) -> impl Iterator<Item = (usize, u32)> {
            (0..3).map(move |from| (from, before[from].plus(self.0[layer][state].1[from])))
        }
    }

    /// Every way through, by its states, with its sum.
    fn all_ways(grid: &Grid) -> Vec<(Vec<usize>, u32)> {
        let mut ways: Vec<(Vec<usize>, u32)> = vec![(Vec::new(), 0)];
        for layer in &grid.0 {
            let longer = ways.iter().flat_map(|(way, sum)| {
                layer.iter().enumerate().map(move |(state, (own, steps))| {
                    let step = way.last().map_or(0, |&from| steps[from]);
                    let way = way.iter().copied().chain([state]).collect();
                    (way, sum + own + step)
                })
            });
            ways = longer.collect();
        }
        ways
    }

    proptest! {
        #[test]
        fn it_is_the_least_of_all_ways_through_each_state(
            grid in prop::collection::vec(prop::array::uniform3((0_u32..9, prop::array::uniform3(0_u32..9))), 1..6)
        ) {
            let grid = Grid(grid);
            let all = all_ways(&grid);
            let found = least_through(&grid);
            for (layer, states) in found.iter().enumerate() {
                for (state, &sum) in states.iter().enumerate() {
                    let least = all.iter().filter(|(way, _)| way[layer] == state).map(|(_, sum)| *sum).min();
                    prop_assert_eq!(Some(sum), least);
                }
            }
            let best = least_path(&grid).map(|path| path.cost);
            prop_assert_eq!(found[0].iter().min().copied(), best);
        }
    }

    #[test]
    fn of_no_layers_there_is_nothing() {
        assert!(least_through(&Grid(Vec::new())).is_empty());
    }
}
