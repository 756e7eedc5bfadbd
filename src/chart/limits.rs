/// The most bars in all sections of a file together, and in the form. At 120 beats a minute these
/// are more than two days of music in 4/4; it is a bound on memory, not on taste.
pub const MOST_BARS: usize = 120_000;

/// The most passes in a form: [`MOST_BARS`] of twelve bars each.
pub const MOST_PASSES: usize = 10_000;
