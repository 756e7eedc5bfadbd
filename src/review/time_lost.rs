//! Bars whose figures are not to be trusted, since the band was not heard in them as it was sent.

use super::found::bars_told;

/// Says so; `None` where there are none. Numbers in the order in which the bars came, as often as they came.
pub fn time_lost(bars: &[usize]) -> Option<String> {
    let mut bars: Vec<usize> = bars.iter().copied().filter(|bar| *bar > 0).collect();
    bars.sort_unstable();
    bars.dedup();
    let (here, last) = (bars_told(&bars), bars.last()?);
    let there = if bars.len() == 1 { format!("bar {last}") } else { "them".to_owned() };
    Some(format!(
        "The computer lost time in {here}, and the band stumbled: don't trust what is said of {there}."
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bars_are_named_once_each() {
        assert_eq!(time_lost(&[]), None);
        assert_eq!(time_lost(&[0]), None, "a kickoff's bars have no numbers");
        assert_eq!(
            time_lost(&[7, 7]).unwrap(),
            "The computer lost time in bar 7, and the band stumbled: don't trust what is said of bar 7."
        );
        assert_eq!(
            time_lost(&[6, 7, 5, 6]).unwrap(),
            "The computer lost time in bars 5, 6 and 7, and the band stumbled: don't trust what is said of \
             them."
        );
    }
}
