use std::fmt::Debug;

/// One thing that can be asked: the words of a kind of condition. There are 32 of a kind at most.
pub trait Term: Copy + Debug + Ord + 'static {
    /// Every term, in the order the messages list them.
    const ALL: &'static [Self];

    /// The words that are written.
    fn as_str(self) -> &'static str;

    /// Its number among all, which is its bit where facts are kept as bits.
    fn number(self) -> u32;

    /// From its words.
    fn parse(words: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|term| term.as_str() == words)
    }
}

/// The terms that hold, a bit each.
pub fn bits<T: Term>(holds: impl Fn(T) -> bool) -> u32 {
    let holding = T::ALL.iter().filter(|term| holds(**term));
    holding.fold(0, |bits, term| bits | 1 << term.number())
}
