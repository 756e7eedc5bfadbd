use crate::arrange::Arrangement;
use crate::chart::{Role, RoleSet};
use crate::hash::split_mix;

/// Whose chair is open in which pass, apart from what the song and the player's hand say.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Chairs {
    /// As the song has it.
    #[default]
    AsWritten,
    /// Another role in each pass, in the order of the line-up.
    Turns,
    /// Nobody, one role or two, not the same in two passes running, and never the whole band.
    Surprise {
        /// The same seed, the same surprises.
        seed: u64,
        /// True if the screen says beforehand who will sit out.
        announced: bool,
    },
}

impl Chairs {
    /// The roles of `band` that sit out in a pass, counted from 0 since playing began.
    pub fn open_in(self, pass: u32, band: RoleSet) -> RoleSet {
        let count = band.iter().count();
        if count == 0 {
            return RoleSet::EMPTY;
        }
        match self {
            Self::AsWritten => RoleSet::EMPTY,
            Self::Turns => band.iter().nth(pass as usize % count).into_iter().collect(),
            Self::Surprise { seed, .. } => surprise(seed, pass, band, count),
        }
    }
}

impl Chairs {
    /// Writes the rule into an arrangement, for what is not played live: a file.
    pub fn lay_out(self, song: &mut Arrangement) {
        let band = song.band;
        let before_form = song.passes.iter().take_while(|pass| pass.is_kickoff).count();
        for bar in &mut song.bars {
            // The ending belongs to everyone who is still there.
            if song.passes.get(bar.pass).is_none_or(|pass| !pass.is_ending) {
                // Whose chair is open in the first pass leaves it open in the kickoff.
                let pass = bar.pass.saturating_sub(before_form) as u32;
                bar.resting = bar.resting.union(self.open_in(pass, band));
            }
        }
    }
}

/// The choices of at most two roles out, as bits over [`Role::ALL`], one for each pass so far drawn
/// from those that differ from the one before.
fn surprise(seed: u64, pass: u32, band: RoleSet, count: usize) -> RoleSet {
    let open = |bits: u32| -> RoleSet {
        let out = band.iter().enumerate().filter(|(at, _)| bits >> at & 1 == 1);
        out.map(|(_, role): (usize, Role)| role).collect()
    };
    let fits = |bits: &u32| bits.count_ones() <= 2 && (bits.count_ones() as usize) < count.max(2);
    let all = || (0_u32..1 << count.min(16)).filter(fits);
    let number = all().count() as u64;
    if number < 2 {
        return RoleSet::EMPTY;
    }
    // Each step adds 1 to number - 1 to the choice, so no two neighbours are the same; the sum is
    // reckoned from the start, so the same pass is the same whoever asks.
    let drawn = (0..=u64::from(pass)).map(|at| split_mix(seed ^ at << 32, 1));
    let steps: u64 = drawn.map(|drawn| 1 + drawn % (number - 1)).sum();
    all().nth((steps % number) as usize).map_or(RoleSet::EMPTY, open)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn band() -> RoleSet {
        Role::BAND.into_iter().collect()
    }

    #[test]
    fn turns_go_round() {
        let open = |pass| Chairs::Turns.open_in(pass, band()).iter().collect::<Vec<_>>();
        assert_eq!(open(0), [Role::Bass]);
        assert_eq!(open(1), [Role::Chop]);
        assert_eq!(open(5), [Role::Guitar]);
    }

    #[test]
    fn surprises_change_and_never_empty_the_stage() {
        for seed in 0..50 {
            let chairs = Chairs::Surprise { seed, announced: false };
            let all: Vec<RoleSet> = (0..200).map(|pass| chairs.open_in(pass, band())).collect();
            for pair in all.windows(2) {
                assert_ne!(pair[0], pair[1]);
            }
            for size in 0..=2 {
                assert!(all.iter().any(|open| open.iter().count() == size), "{size} out");
            }
            assert!(all.iter().all(|open| open.iter().count() <= 2));
        }
    }

    #[test]
    fn a_small_band_keeps_someone() {
        for chairs in [Chairs::Surprise { seed: 3, announced: true }, Chairs::AsWritten] {
            assert_eq!(chairs.open_in(4, RoleSet::EMPTY), RoleSet::EMPTY);
        }
        let duo: RoleSet = [Role::Bass, Role::Guitar].into_iter().collect();
        for pass in 0..100 {
            let open = Chairs::Surprise { seed: 3, announced: true }.open_in(pass, duo);
            assert!(open.iter().count() < 2);
        }
    }
}
