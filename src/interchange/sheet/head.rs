//! What stands in the head of a chord sheet without a name before it: `Key of G, 3/4, 132 bpm`, `Capo 2`.

use crate::theory::Key;

/// What such a line says, by the names of the head's fields; none if there is a word in it that is none of this, as in
/// words that are sung.
pub(super) fn facts(line: &str) -> Option<Vec<(&'static str, String)>> {
    let words: Vec<&str> = line
        .split(|c: char| c.is_whitespace() || [',', ';', '(', ')', '•', '·'].contains(&c))
        .filter(|word| !word.is_empty() && !["-", "–", "—", "/"].contains(word))
        .collect();
    let mut facts = Vec::new();
    let mut rest = words.as_slice();
    while !rest.is_empty() {
        let (fact, taken) = fact(rest)?;
        facts.push(fact);
        rest = rest.get(taken..).unwrap_or_default();
    }
    (!facts.is_empty()).then_some(facts)
}

/// The fact that words begin with, and how many of them it takes.
fn fact(words: &[&str]) -> Option<((&'static str, String), usize)> {
    let lower = |at: usize| words.get(at).map(|word| word.trim_end_matches('.').to_lowercase());
    let first = lower(0)?;
    let key_at = match first.as_str() {
        "key" if lower(1).as_deref() == Some("of") => Some(2),
        "key" | "in" => Some(1),
        _ => None,
    };
    if let Some(at) = key_at {
        return [2, 1].into_iter().find_map(|long| {
            let name = words.get(at..at + long)?.join(" ");
            Key::parse(&name).ok().map(|_| (("key", name), at + long))
        });
    }
    if first.split_once('/').is_some_and(|(beats, unit)| is_number(beats) && is_number(unit)) {
        let named = matches!(lower(1).as_deref(), Some("time" | "meter"));
        return Some((("meter", first), 1 + usize::from(named)));
    }
    let second = lower(1);
    match first.as_str() {
        "capo" => {
            let on = usize::from(matches!(second.as_deref(), Some("on" | "at")));
            let fret = usize::from(lower(1 + on).as_deref() == Some("fret"));
            let number = lower(1 + on + fret).filter(|word| is_number(&digits(word)))?;
            let behind = 2 + on + fret;
            let named = fret == 0 && lower(behind).as_deref() == Some("fret");
            Some((("capo", digits(&number)), behind + usize::from(named)))
        }
        "tempo" | "bpm" => {
            let number = second.filter(|word| is_number(word))?;
            let named = usize::from(lower(2).as_deref() == Some("bpm"));
            Some((("tempo", number), 2 + named))
        }
        _ => {
            let glued = first.strip_suffix("bpm").filter(|number| is_number(number));
            if let Some(number) = glued {
                return Some((("tempo", number.to_owned()), 1));
            }
            let named = is_number(&first) && second.as_deref() == Some("bpm");
            named.then(|| (("tempo", first.clone()), 2))
        }
    }
}

fn is_number(word: &str) -> bool {
    !word.is_empty() && word.len() <= 3 && word.chars().all(|c| c.is_ascii_digit())
}

/// The number of `2nd`, and of `2`.
fn digits(word: &str) -> String {
    let ends = ["st", "nd", "rd", "th"];
    ends.into_iter().find_map(|end| word.strip_suffix(end)).unwrap_or(word).to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn heads_are_read_and_sung_words_are_not() {
        let read = |line: &str| {
            let facts = facts(line)?.into_iter().map(|(name, value)| format!("{name} {value}"));
            Some(facts.collect::<Vec<_>>().join(", "))
        };
        for (line, said) in [
            ("Key of G, 3/4, 132 bpm", "key G, meter 3/4, tempo 132"),
            ("(in A minor - 2/4 time)", "key A minor, meter 2/4"),
            ("Capo 2, key G", "capo 2, key G"),
            ("capo on 3rd fret", "capo 3"),
            ("Tempo 96 BPM", "tempo 96"),
            ("120bpm", "tempo 120"),
        ] {
            assert_eq!(read(line).as_deref(), Some(said), "{line}");
        }
        for line in
            ["In the evening", "In G the river runs", "key", "3/4 of the way", "12 boats", ""]
        {
            assert_eq!(read(line), None, "{line}");
        }
    }
}
