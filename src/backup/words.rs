use crate::style::{BanjoStrings, BassNote, Degree, Loud, Slot, Strike, Stroke};

/// Nothing struck yet.
const NOTHING: Strike =
    Strike { bass: None, stroke: None, strings: BanjoStrings::NONE, loud: Loud::Normal };

/// Reads the words of a bar of the table, each a slot; or says which of them is none.
pub(super) fn read_bar(text: &str) -> Result<Vec<Slot>, String> {
    text.split_whitespace().map(|word| read_word(word).ok_or_else(|| word.to_owned())).collect()
}

fn read_word(word: &str) -> Option<Slot> {
    match word {
        "." => return Some(Slot::Ring),
        "-" => return Some(Slot::Rest),
        _ => {}
    }
    let (inner, loud) = if let Some(inner) = word.strip_suffix('!') {
        (inner, Loud::Accent)
    } else if let Some(inner) = word.strip_prefix('(') {
        (inner.strip_suffix(')')?, Loud::Ghost)
    } else {
        (word, Loud::Normal)
    };
    let mut strike = Strike { loud, ..NOTHING };
    for part in inner.split('+') {
        let degree = |degree| Some(BassNote::Degree { degree, octave: 0 });
        match part {
            "R" => strike.bass = degree(Degree::Root),
            "F" => strike.bass = degree(Degree::Fifth),
            "6" => strike.bass = degree(Degree::Sixth),
            "x" => strike.stroke = Some(Stroke::Chop),
            _ => {
                let number = part.parse().ok().filter(|number| (1..=5).contains(number))?;
                strike.strings = strike.strings.with(number);
            }
        }
    }
    Some(Slot::Strike(strike))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_mean_what_the_table_says() {
        let strings = |numbers: &[u8], loud| {
            let strings = numbers.iter().fold(BanjoStrings::NONE, |all, &n| all.with(n));
            Slot::Strike(Strike { strings, loud, ..NOTHING })
        };
        let vamp = Slot::Strike(Strike { stroke: Some(Stroke::Chop), ..NOTHING });
        assert_eq!(
            read_bar("3! (2+1) . - x"),
            Ok(vec![
                strings(&[3], Loud::Accent),
                strings(&[1, 2], Loud::Ghost),
                Slot::Ring,
                Slot::Rest,
                vamp
            ])
        );
        for wrong in ["0", "7", "(3", "q", "3+", "", ">", "o"] {
            assert_eq!(read_bar(&format!("3 {wrong}!")).err(), Some(format!("{wrong}!")));
        }
    }
}
