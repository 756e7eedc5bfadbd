use super::Term;

/// When something is meant: all of its terms hold, or are denied where a `not` stands.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Condition<T> {
    /// The terms that must hold, a bit each, and those that must not.
    asked: u32,
    denied: u32,
    /// Denied or not, and what; sorted, each once, so that the same words in another order are the
    /// same condition.
    terms: Vec<(bool, T)>,
}

impl<T> Condition<T> {
    /// Holds always: what stands where no condition is written.
    pub const ALWAYS: Self = Self { asked: 0, denied: 0, terms: Vec::new() };

    /// Denied or not, and what.
    pub fn terms(&self) -> &[(bool, T)] {
        &self.terms
    }

    /// True where these terms hold, a bit each (see [`bits`](super::bits)).
    pub const fn holds_for(&self, bits: u32) -> bool {
        bits & self.asked == self.asked && bits & self.denied == 0
    }

    /// True if it asks and denies the same things, in whatever order they are written.
    pub const fn is_same(&self, other: &Self) -> bool {
        self.asked == other.asked && self.denied == other.denied
    }

    /// True if it asks nothing.
    pub fn is_always(&self) -> bool {
        self.terms.is_empty()
    }
}

impl<T: Term> Condition<T> {
    /// From its terms; `true` denies one.
    pub fn new(terms: impl IntoIterator<Item = (bool, T)>) -> Self {
        let mut terms: Vec<_> = terms.into_iter().collect();
        terms.sort_unstable();
        terms.dedup();
        let bits = |deny: bool| {
            let these = terms.iter().filter(|(denied, _)| *denied == deny);
            these.fold(0, |bits, (_, term)| bits | 1 << term.number())
        };
        Self { asked: bits(false), denied: bits(true), terms }
    }

    /// True if it can only hold where the term does.
    pub fn needs(&self, term: T) -> bool {
        self.terms.contains(&(false, term))
    }

    /// True if it holds wherever `narrower` does, by what is written in both.
    pub fn covers(&self, narrower: &Self) -> bool {
        self.terms.iter().all(|term| narrower.terms.contains(term))
    }
}

impl<T> Default for Condition<T> {
    fn default() -> Self {
        Self::ALWAYS
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::Weather::{Rain, Sun};
    use super::*;

    #[test]
    fn order_and_repetition_make_no_difference() {
        let a = Condition::new([(false, Rain), (true, Sun)]);
        let b = Condition::new([(true, Sun), (false, Rain), (true, Sun)]);
        assert_eq!(a, b);
        assert!(a.is_same(&b) && !a.is_same(&Condition::ALWAYS));
        assert!(Condition::ALWAYS.covers(&a) && !a.covers(&Condition::ALWAYS));
        assert!(a.needs(Rain) && !a.needs(Sun));
    }

    #[test]
    fn all_of_it_must_hold() {
        let here = |terms: &[super::super::testing::Weather]| {
            super::super::bits(|term| terms.contains(&term))
        };
        let condition = Condition::new([(false, Rain), (true, Sun)]);
        assert!(condition.holds_for(here(&[Rain])));
        assert!(!condition.holds_for(here(&[Rain, Sun])) && !condition.holds_for(here(&[])));
        assert!(Condition::<super::super::testing::Weather>::ALWAYS.holds_for(here(&[Sun])));
    }
}
