use super::called::{called, has_another_name, not_here};

/// The one of `known` that `word` was most likely meant to be: what players call so, or the word that
/// looks most like it, if any is near enough. None for what has no place among them
/// (`text/called.rs`), however it looks.
pub fn nearest<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    // Two slips in a word of six letters still look like that word; in a word of three they do not.
    const NEAR_ENOUGH: f64 = 0.6;
    // A word that is called something else elsewhere is hardly a slip of the pen.
    const VERY_NEAR: f64 = 0.8;
    // Comparing takes the product of both lengths; no word of a chart is as long as this.
    const LONGEST: usize = 64;
    if word.len() > LONGEST {
        return None;
    }
    let known: Vec<&str> = known.into_iter().collect();
    if let Some(name) = called(word, known.iter().copied()) {
        return Some(name);
    }
    if not_here(word, known.iter().copied()).is_some() {
        return None;
    }
    let near_enough = if has_another_name(word) { VERY_NEAR } else { NEAR_ENOUGH };
    let lower = word.to_lowercase();
    known
        .into_iter()
        .filter(|candidate| candidate.len() <= LONGEST)
        .map(|candidate| {
            (strsim::normalized_damerau_levenshtein(&lower, &candidate.to_lowercase()), candidate)
        })
        .filter(|(likeness, _)| *likeness >= near_enough)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, candidate)| candidate)
}

/// As [`nearest`], but none if another of `known` is just as near: then neither is meant more.
pub fn nearest_alone<'a>(
    word: &str,
    known: impl IntoIterator<Item = &'a str> + Clone,
) -> Option<&'a str> {
    let one = nearest(word, known.clone())?;
    let likeness = |other: &str| {
        strsim::normalized_damerau_levenshtein(&word.to_lowercase(), &other.to_lowercase())
    };
    let best = likeness(one);
    (!known.into_iter().any(|other| other != one && likeness(other) >= best)).then_some(one)
}

/// What to write instead of `word`: the one of `known` that was meant, or why there is none. `None` if
/// nothing can be said of it but what there is.
pub fn meant<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<String> {
    let known: Vec<&str> = known.into_iter().collect();
    if let Some(why) = not_here(word, known.iter().copied()) {
        return Some(why.to_owned());
    }
    nearest(word, known).map(|near| format!("did you mean `{near}`?"))
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
        assert_eq!(nearest_alone("7b8", ["7b5", "7b9", "7"]), None);
        assert_eq!(nearest_alone("7b55", ["7b5", "7b9"]), Some("7b5"));
        assert_eq!(nearest("time", ["title", "meter"]), Some("meter"));
        assert_eq!(nearest("words", ["chords", "voice"]), None);
        assert_eq!(nearest(&"chorus".repeat(100_000), known), None);
    }
}
