//! One line of the report: a measure, what it came to, what it must come to, and where it is worst.

use std::fmt;

use super::take::Take;

/// What a value must be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Bound {
    AtLeast(f64),
    AtMost(f64),
    Above(f64),
    Below(f64),
}

impl Bound {
    pub fn is_met(self, value: f64) -> bool {
        match self {
            Self::AtLeast(bound) => value >= bound,
            Self::AtMost(bound) => value <= bound,
            Self::Above(bound) => value > bound,
            Self::Below(bound) => value < bound,
        }
    }

    /// A value rounded away from the bound: what is not met never looks as if it were.
    fn rounded(self, value: f64) -> String {
        let hundredths = value * 100.0;
        let rounded = match self {
            Self::AtLeast(_) | Self::Above(_) => hundredths.floor(),
            Self::AtMost(_) | Self::Below(_) => hundredths.ceil(),
        };
        format!("{:.2}", rounded / 100.0)
    }

    /// True if `one` lies further on the wrong side, or nearer to it.
    fn is_worse(self, one: f64, other: f64) -> bool {
        match self {
            Self::AtLeast(_) | Self::Above(_) => one < other,
            Self::AtMost(_) | Self::Below(_) => one > other,
        }
    }
}

impl fmt::Display for Bound {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::AtLeast(bound) => write!(f, "at least {bound}"),
            Self::AtMost(bound) => write!(f, "at most {bound}"),
            Self::Above(bound) => write!(f, "above {bound}"),
            Self::Below(bound) => write!(f, "below {bound}"),
        }
    }
}

/// A place in a take, and what is to be said of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Spot {
    pub take: String,
    /// The bar's number in the song as played, from 1.
    pub bar: usize,
    pub what: String,
}

impl Spot {
    /// The take without its seed.
    fn piece(&self) -> &str {
        self.take.split_once(" (").map_or(&self.take, |(piece, _)| piece)
    }
}

impl fmt::Display for Spot {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}, bar {}: {}", self.take, self.bar, self.what)
    }
}

#[derive(Clone, Debug)]
pub struct Row {
    /// What is measured.
    pub name: String,
    pub unit: &'static str,
    pub bound: Bound,
    pub value: f64,
    /// How many things were looked at, and how many it takes for the value to mean something.
    pub looked: usize,
    pub enough: usize,
    pub worst: Option<Spot>,
    /// What is not as the bound says.
    pub misses: Vec<Spot>,
}

impl Row {
    pub fn is_met(&self) -> bool {
        self.bound.is_met(self.value) && self.looked >= self.enough
    }

    /// Fails, with what is amiss, if the bound is not met.
    ///
    /// # Panics
    /// As said.
    pub fn hold(&self) {
        assert!(self.looked >= self.enough, "{}: only {} to look at", self.name, self.looked);
        assert!(self.is_met(), "{self}\n{}", self.first_misses(20));
    }

    /// Some of what is amiss, a line each: what is said of several bars or takes alike is said once.
    pub fn first_misses(&self, most: usize) -> String {
        let mut kinds: Vec<(&Spot, usize)> = Vec::new();
        for miss in &self.misses {
            let alike = |(first, _): &&mut (&Spot, usize)| {
                first.what == miss.what && first.piece() == miss.piece()
            };
            match kinds.iter_mut().find(alike) {
                Some((_, times)) => *times += 1,
                None => kinds.push((miss, 1)),
            }
        }
        let line = |(spot, times): &(&Spot, usize)| match times {
            1 => format!("  {spot}\n"),
            _ => format!("  {spot}; {times} times\n"),
        };
        let lines = kinds.iter().take(most).map(line);
        let more = kinds.len().saturating_sub(most);
        let rest = if more > 0 { format!("  and {more} more\n") } else { String::new() };
        lines.chain([rest]).collect()
    }

    fn value(&self) -> String {
        format!("{}{}", self.bound.rounded(self.value), self.unit)
    }
}

impl fmt::Display for Row {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let met = if self.is_met() { "yes" } else { "NO" };
        let worst = self.worst.as_ref().map_or_else(|| "-".to_owned(), Spot::to_string);
        let (value, bound, unit, looked) = (self.value(), self.bound, self.unit, self.looked);
        write!(f, "| {} | {value} of {looked} | {bound}{unit} | {met} | {worst} |", self.name)
    }
}

/// What is right in a take and what is not.
#[derive(Default)]
pub struct Tally {
    looked: usize,
    misses: Vec<(usize, String)>,
}

impl Tally {
    /// Counts one thing; what is to be said of it, and its bar, is asked for only if it is not good.
    pub fn see(&mut self, good: bool, miss: impl FnOnce() -> (usize, String)) {
        self.looked += 1;
        if !good {
            self.misses.push(miss());
        }
    }
}

/// A measure of things that are right or wrong: the share, in percent, that is right of all. The worst
/// take is the one with the smallest share.
pub fn share(
    name: impl Into<String>,
    bound: Bound,
    enough: usize,
    takes: &[Take],
    look: impl Fn(&Take, &mut Tally),
) -> Row {
    let (mut looked, mut missed, mut misses) = (0, 0, Vec::new());
    let mut worst: Option<(f64, Spot)> = None;
    for take in takes {
        let mut tally = Tally::default();
        look(take, &mut tally);
        looked += tally.looked;
        missed += tally.misses.len();
        let of_all = tally.misses.len() as f64 / tally.looked.max(1) as f64;
        let spots = tally.misses.into_iter();
        let spots = spots.map(|(bar, what)| Spot { take: take.name(), bar, what });
        let before = misses.len();
        misses.extend(spots);
        if let Some(first) = misses.get(before)
            && worst.as_ref().is_none_or(|(share, _)| of_all > *share)
        {
            worst = Some((of_all, first.clone()));
        }
    }
    let value = 100.0 * (looked - missed) as f64 / looked.max(1) as f64;
    let worst = worst.map(|(_, spot)| spot);
    Row { name: name.into(), unit: " %", bound, value, looked, enough, worst, misses }
}

/// One value of a take.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    pub value: f64,
    /// How many things it was worked out from.
    pub looked: usize,
    pub bar: usize,
    pub what: String,
}

/// A measure that is as good as the worst of all its readings.
pub fn worst(
    name: impl Into<String>,
    unit: &'static str,
    bound: Bound,
    enough: usize,
    takes: &[Take],
    read: impl Fn(&Take) -> Vec<Reading>,
) -> Row {
    let (mut looked, mut misses) = (0, Vec::new());
    let mut worst: Option<(f64, Spot)> = None;
    for take in takes {
        for Reading { value, looked: here, bar, what } in read(take) {
            looked += here;
            let what = format!("{what} ({}{unit})", bound.rounded(value));
            let spot = Spot { take: take.name(), bar, what };
            if !bound.is_met(value) {
                misses.push(spot.clone());
            }
            if worst.as_ref().is_none_or(|&(least, _)| bound.is_worse(value, least)) {
                worst = Some((value, spot));
            }
        }
    }
    let (value, worst) = worst.map_or((f64::NAN, None), |(value, spot)| (value, Some(spot)));
    Row { name: name.into(), unit, bound, value, looked, enough, worst, misses }
}

/// A measure of whom it is worst of, each over all takes: a name, a value, and of how many things.
pub fn pooled(
    name: impl Into<String>,
    unit: &'static str,
    bound: Bound,
    enough: usize,
    of: &[(String, f64, usize)],
) -> Row {
    let spot = |(what, value, _): &(String, f64, usize)| Spot {
        take: "all takes".to_owned(),
        bar: 1,
        what: format!("{what} ({}{unit})", bound.rounded(*value)),
    };
    let worst = of.iter().reduce(|a, b| if bound.is_worse(b.1, a.1) { b } else { a });
    let misses = of.iter().filter(|one| !bound.is_met(one.1)).map(spot).collect();
    let looked = of.iter().map(|one| one.2).sum();
    let value = worst.map_or(f64::NAN, |worst| worst.1);
    Row { name: name.into(), unit, bound, value, looked, enough, worst: worst.map(spot), misses }
}
