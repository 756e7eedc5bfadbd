/// The one of `known` that `word` was most likely meant to be, if any is near enough.
pub fn nearest<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    // Two slips in a word of six letters still look like that word; in a word of three they do not.
    const NEAR_ENOUGH: f64 = 0.6;
    // Comparing takes the product of both lengths; no word of a chart is as long as this.
    const LONGEST: usize = 64;
    if word.len() > LONGEST {
        return None;
    }
    let lower = word.to_lowercase();
    known
        .into_iter()
        .filter(|candidate| candidate.len() <= LONGEST)
        .map(|candidate| {
            (strsim::normalized_damerau_levenshtein(&lower, &candidate.to_lowercase()), candidate)
        })
        .filter(|(likeness, _)| *likeness >= NEAR_ENOUGH)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, candidate)| candidate)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_a_slip_but_not_a_stranger() {
        let known = ["chorus", "verse"];
        assert_eq!(nearest("chrous", known), Some("chorus"));
        assert_eq!(nearest("Verse", known), Some("verse"));
        assert_eq!(nearest("tag", known), None);
        assert_eq!(nearest(&"chorus".repeat(100_000), known), None);
    }
}
