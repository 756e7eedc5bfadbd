/// The number that a text is, as it is written: `120`, `120 bpm`, `60%`, `-2 ms`.
pub(super) fn number_in(text: &str) -> Option<String> {
    let text = text.trim();
    let (sign, text) = text.split_at(usize::from(text.starts_with('-')));
    let end = text.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(text.len());
    let (number, rest) = text.split_at(end);
    let whole = number.starts_with(|c: char| c.is_ascii_digit())
        && number.ends_with(|c: char| c.is_ascii_digit())
        && number.parse::<f64>().is_ok();
    // A number that goes on, as `4/4` does or `16 Ferries`, is not read.
    let unit = rest.trim_start();
    let alone = ["", "%", "bpm", "beats", "ms", "st", "nd", "rd", "th", "percent"].contains(&unit);
    // TOML has no zeros at the head of a number.
    let number = number.trim_start_matches('0');
    let number = match number.chars().next() {
        Some(c) if c.is_ascii_digit() => format!("{sign}{number}"),
        _ => format!("{sign}0{number}"),
    };
    (whole && alone).then_some(number)
}
