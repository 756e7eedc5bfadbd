/// The most bars in all sections of a file together, and in the form. At 120 beats a minute these
/// are more than two days of music in 4/4; it is a bound on memory, not on taste.
pub const MOST_BARS: usize = 120_000;

/// The most passes in a form: [`MOST_BARS`] of twelve bars each.
pub const MOST_PASSES: usize = 10_000;

/// The most sections in a file. A tune has two to six; past this no one could name them.
pub const MOST_SECTIONS: usize = 1000;

/// `120,000` for messages.
pub(super) fn thousands(number: usize) -> String {
    if number < 1000 {
        number.to_string()
    } else {
        format!("{},{:03}", thousands(number / 1000), number % 1000)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_set_off_by_thousands() {
        assert_eq!(
            [7, 1000, 120_000, 1_002_003].map(thousands),
            ["7", "1,000", "120,000", "1,002,003"]
        );
    }
}
