use super::{BarFacts, Instrument, Pattern};
use crate::band::Defaults;
use crate::chart::Role;
use crate::time::Meter;

/// How one role plays a groove.
#[derive(Clone, Debug, PartialEq)]
pub struct RoleStyle {
    /// What it sounds like.
    pub instrument: Instrument,
    /// Milliseconds from the beat to where this part puts it, -40 to 40: negative pushes ahead,
    /// positive lies back.
    pub lean: f64,
    /// How far hits stray from their place, in milliseconds, 0 to 30: one standard deviation. None goes further than
    /// two and a half.
    pub looseness: f64,
    /// Milliseconds from the first to the last string of a stroke, 0 to 80.
    pub spread: f64,
    /// How hard.
    pub loudness: Loudness,
    /// The share of its written length that a note sounds, 0.05 to 1.
    pub length: f64,
    /// The longest that a stroke sounds, in milliseconds.
    pub clip: Option<f64>,
    /// How many of the upper strings a down-stroke takes, 2 to 6.
    pub down_strings: u8,
    /// How many of the upper strings an up-stroke takes, 2 to 6.
    pub up_strings: u8,
    /// The bars, in the order of the file.
    pub bars: Vec<Pattern>,
}

/// Velocities.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Loudness {
    /// Of a ghost, 1 to 127.
    pub ghost: u8,
    /// Of a plain strike, 1 to 127.
    pub normal: u8,
    /// Of an accent, 1 to 127.
    pub accent: u8,
    /// How far velocities stray, 0 to 40: one standard deviation. None goes further than two and a half. At 0 the
    /// hand also takes the same strings in the same time at each stroke.
    pub vary: u8,
    /// An up-stroke's share of a down-stroke's velocity, 0.1 to 1.
    pub up: f64,
}

impl RoleStyle {
    /// A part with no bars and every key left at its default: what a style need not write.
    pub const fn plain(role: Role) -> Self {
        let Defaults { program, volume, pan, ghost, normal, accent, spread, length, clip } =
            role.row().defaults;
        Self {
            instrument: Instrument { program, volume, pan },
            lean: 0.0,
            looseness: 6.0,
            spread,
            loudness: Loudness { ghost, normal, accent, vary: 6, up: 0.8 },
            length,
            clip,
            down_strings: 4,
            up_strings: 3,
            bars: Vec::new(),
        }
    }

    /// The bar to play: the first from the top whose `when` holds. Bars of the same `when` are one
    /// group and take turns by `turn`, the number of the bar in its line, from 0: so the first of a
    /// group is played where a line begins. A bar whose `chance` does not come up in `roll` (0 to 1) is
    /// passed over: for another of its group, then for the groups below.
    /// `None` only if there is no plain bar for that meter, which reading a style refuses.
    pub fn pick(&self, meter: Meter, facts: &BarFacts, turn: usize, roll: f64) -> Option<&Pattern> {
        self.pick_of(meter, facts, turn, roll, |_| true)
    }

    /// The same, as if the bars that are not `free` were not there.
    pub fn pick_of(
        &self,
        meter: Meter,
        facts: &BarFacts,
        turn: usize,
        roll: f64,
        free: impl Fn(&Pattern) -> bool,
    ) -> Option<&Pattern> {
        let facts = facts.bits();
        let fits = |bar: &&Pattern| bar.meter == meter && bar.when.holds_for(facts) && free(bar);
        let mut roll = roll;
        for (at, first) in self.bars.iter().enumerate().filter(|(_, bar)| fits(bar)) {
            let in_group = |bar: &&Pattern| fits(bar) && bar.when.is_same(&first.when);
            if self.bars.iter().take(at).any(|bar| in_group(&bar)) {
                continue; // Its group has been asked already.
            }
            let size = self.bars.iter().filter(in_group).count();
            let turned = self.bars.iter().filter(in_group).cycle().skip(turn.checked_rem(size)?);
            for bar in turned.take(size) {
                if bar.chance >= 1.0 || roll < bar.chance {
                    return Some(bar);
                }
                // What is left of the roll above the chance that failed, stretched to 0..1 again, is
                // as even as it was and says nothing of that chance: the next one is its own.
                roll = (roll - bar.chance) / (1.0 - bar.chance);
            }
        }
        None
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Condition, Term};
    use super::*;
    use crate::time::Ticks;

    fn bar(when: &[(bool, Term)], meter: Meter, chance: f64) -> Pattern {
        let when = Condition::new(when.iter().copied());
        Pattern { when, meter, chance, slots: Vec::new(), slot: Ticks::QUARTER }
    }

    fn picked(part: &RoleStyle, facts: BarFacts, turn: usize, roll: f64) -> Option<usize> {
        let bar = part.pick(Meter::FourFour, &facts, turn, roll)?;
        part.bars.iter().position(|other| std::ptr::eq(bar, other))
    }

    fn part() -> RoleStyle {
        let change = [(false, Term::ChangeNext)];
        let bars = vec![
            bar(&[], Meter::TwoFour, 1.0),
            bar(&change, Meter::FourFour, 0.5),
            bar(&[(false, Term::Break)], Meter::FourFour, 1.0),
            bar(&change, Meter::FourFour, 0.25),
            bar(&[], Meter::FourFour, 1.0),
            bar(&[], Meter::FourFour, 0.3),
        ];
        RoleStyle { bars, ..RoleStyle::plain(Role::Bass) }
    }

    #[test]
    fn the_first_that_holds_is_played() {
        let on_break = BarFacts { instrument_leads: true, ..BarFacts::default() };
        assert_eq!(picked(&part(), on_break, 0, 0.9), Some(2));
        assert_eq!(picked(&part(), BarFacts::default(), 0, 0.9), Some(4));
    }

    #[test]
    fn a_group_takes_turns_and_chance_passes_on() {
        let change = BarFacts { change_next: true, ..BarFacts::default() };
        assert_eq!(picked(&part(), change, 0, 0.1), Some(1));
        assert_eq!(picked(&part(), change, 1, 0.1), Some(3));
        assert_eq!(picked(&part(), change, 1, 0.4), Some(1), "another of the group");
        assert_eq!(picked(&part(), change, 2, 0.7), Some(4), "the plain bar");
        assert_eq!(picked(&part(), BarFacts::default(), 1, 0.1), Some(5));
        assert_eq!(picked(&part(), BarFacts::default(), 1, 0.3), Some(4));
        assert_eq!(picked(&part(), BarFacts::default(), usize::MAX, 0.999), Some(4));
    }

    #[test]
    fn each_chance_is_its_own() {
        let change = BarFacts { change_next: true, ..BarFacts::default() };
        let mut heard = [0_u32; 6];
        for roll in 0..10_000 {
            let bar = picked(&part(), change, 0, f64::from(roll) / 10_000.0).unwrap();
            heard[bar] += 1;
        }
        // Half; a quarter of the other half; what is left.
        assert_eq!((heard[1], heard[3], heard[4]), (5000, 1250, 3750));
    }

    #[test]
    fn a_bar_that_is_not_free_is_passed_over() {
        let change = BarFacts { change_next: true, ..BarFacts::default() };
        let part = part();
        let free = |bar: &Pattern| bar.when.is_always();
        let bar = part.pick_of(Meter::FourFour, &change, 0, 0.9, free).unwrap();
        assert!(std::ptr::eq(bar, &part.bars[4]));
    }

    #[test]
    fn a_meter_without_bars_has_nothing_to_play() {
        assert_eq!(part().pick(Meter::ThreeFour, &BarFacts::default(), 3, 0.0), None);
    }
}
