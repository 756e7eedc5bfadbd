//! Text strings of a tune: accents written with a backslash or as entities (ABC 2.1, 8.2).

/// An accent's marks, the letters that can bear it, and the same letters with it.
const ACCENTS: [(char, &str, &str); 7] = [
    ('`', "AEIOUaeiou", "ÀÈÌÒÙàèìòù"),
    ('\'', "AEIOUYaeiouy", "ÁÉÍÓÚÝáéíóúý"),
    ('^', "AEIOUaeiou", "ÂÊÎÔÛâêîôû"),
    ('~', "ANOano", "ÃÑÕãñõ"),
    ('"', "AEIOUYaeiouy", "ÄËÏÖÜŸäëïöüÿ"),
    ('c', "Cc", "Çç"),
    ('/', "Oo", "Øø"),
];

/// Letters that are written as two.
const LIGATURES: [(&str, &str); 7] =
    [("ae", "æ"), ("AE", "Æ"), ("oe", "œ"), ("OE", "Œ"), ("ss", "ß"), ("aa", "å"), ("AA", "Å")];

/// Entities that begin with `&`, with the accent's name after the letter.
const NAMES: [(&str, char); 6] = [
    ("grave;", '`'),
    ("acute;", '\''),
    ("circ;", '^'),
    ("tilde;", '~'),
    ("uml;", '"'),
    ("cedil;", 'c'),
];

/// A text string as it is meant, on one line and without characters that a terminal would obey.
pub(super) fn plain(text: &str) -> String {
    let text = text.trim();
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(next) = rest.chars().next() {
        if next == '\\' || next == '&' {
            let after = &rest[1..];
            if let Some((meant, length)) = if next == '\\' { escaped(after) } else { entity(after) }
            {
                out.push_str(&meant);
                rest = after.get(length..).unwrap_or_default();
                continue;
            }
        }
        out.push(if next.is_control() { ' ' } else { next });
        rest = &rest[next.len_utf8()..];
    }
    out.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn accented(mark: char, letter: char) -> Option<String> {
    let (_, plain, with) = ACCENTS.iter().find(|(other, ..)| *other == mark)?;
    let place = plain.chars().position(|other| other == letter)?;
    with.chars().nth(place).map(String::from)
}

/// What follows a backslash, and its length in bytes.
fn escaped(rest: &str) -> Option<(String, usize)> {
    if let Some((_, meant)) = LIGATURES.iter().find(|(two, _)| rest.starts_with(two)) {
        return Some(((*meant).to_owned(), 2));
    }
    let mut chars = rest.chars();
    let (mark, letter) = (chars.next()?, chars.next());
    if mark == 'u' {
        let digits = rest.get(1..5)?;
        let letter = char::from_u32(u32::from_str_radix(digits, 16).ok()?)?;
        return Some((letter.to_string(), 5));
    }
    if matches!(mark, '%' | '&' | '\\') {
        return Some((mark.to_string(), 1));
    }
    let letter = letter?;
    Some((accented(mark, letter)?, mark.len_utf8() + letter.len_utf8()))
}

/// What follows an ampersand, and its length in bytes.
fn entity(rest: &str) -> Option<(String, usize)> {
    if let Some(amp) = rest.strip_prefix("amp;") {
        return Some(("&".to_owned(), rest.len() - amp.len()));
    }
    let letter = rest.chars().next()?;
    let after = rest.get(letter.len_utf8()..)?;
    let (name, mark) = NAMES.iter().find(|(name, _)| after.starts_with(name))?;
    Some((accented(*mark, letter)?, letter.len_utf8() + name.len()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn accents_are_read() {
        assert_eq!(plain(" Caf\\'e  na\\\"ive "), "Café naïve");
        assert_eq!(plain("&Eacute;ire &amp; \\u00e9 \\ss"), "Éire & é ß");
        assert_eq!(plain("a\u{7}b & c \\"), "a b & c \\");
    }
}
