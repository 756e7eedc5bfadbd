//! The command that a review advises, ready to be run.

use super::Wishes;
use crate::arrange::Looseness;
use crate::review::Advice;

/// `openchair play SONG --loop 5-8 --speed 80`, with what else the player asked for: the same band in the same
/// key.
pub fn command_again(song: &str, wishes: &Wishes, advice: &Advice) -> String {
    let mut words = vec!["openchair".to_owned(), "play".to_owned(), quoted(song)];
    let mut add = |option: &str, value: String| words.extend([option.to_owned(), quoted(&value)]);
    if let Some((first, last)) = advice.bars {
        add("--loop", if first == last { first.to_string() } else { format!("{first}-{last}") });
    }
    if advice.speed != 100.0 {
        add("--speed", advice.speed.to_string());
    }
    if let Some(tempo) = wishes.tempo {
        add("--tempo", tempo.to_string());
    }
    if let Some(key) = wishes.key {
        add("--key", key.to_string());
    }
    if let Some(style) = &wishes.style {
        add("--style", style.clone());
    }
    if !wishes.band.is_empty() {
        let roles: Vec<&str> = wishes.band.iter().map(|role| role.as_str()).collect();
        add("--band", roles.join(","));
    }
    for rule in &wishes.sit_out {
        add("--sit-out", rule.to_string());
    }
    if let Some(drone) = wishes.drone {
        add("--drone", drone.to_string());
    }
    if wishes.looseness != Looseness::default() {
        add("--feel", wishes.looseness.to_string());
    }
    if wishes.seed != 1 {
        add("--seed", wishes.seed.to_string());
    }
    words.join(" ")
}

/// As a shell takes it for one word.
fn quoted(word: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || "-_./,:@%+=\\".contains(c);
    if !word.is_empty() && word.chars().all(plain) {
        word.to_owned()
    } else if cfg!(windows) {
        format!("\"{word}\"")
    } else {
        format!("'{}'", word.replace('\'', "'\\''"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::Role;
    use crate::practice::SitOutRule;
    use crate::review::Part;
    use crate::theory::Key;

    fn command(wishes: &Wishes, bars: Option<(usize, usize)>, speed: f64) -> String {
        let command = String::new();
        let advice = Advice { about: Part::Late, words: String::new(), bars, speed, command };
        command_again("songs/low water.toml", wishes, &advice)
    }

    #[test]
    fn a_path_with_spaces_stays_one_word() {
        let told = command(&Wishes::default(), Some((5, 8)), 80.0);
        let song = quoted("songs/low water.toml");
        assert_eq!(told, format!("openchair play {song} --loop 5-8 --speed 80"));
        assert_eq!(command(&Wishes::default(), None, 100.0), format!("openchair play {song}"));
        if !cfg!(windows) {
            assert_eq!(quoted("it's"), r"'it'\''s'");
        }
    }

    #[test]
    fn what_was_asked_for_is_asked_for_again() {
        let out =
            ["chop", "guitar@chorus", "surprise"].map(|rule| SitOutRule::parse(rule).unwrap());
        let asked = Wishes {
            style: Some("fast-grass".to_owned()),
            key: Some(Key::parse("A").unwrap()),
            tempo: Some(92.5),
            band: vec![Role::Chop, Role::Bass],
            sit_out: out.to_vec(),
            seed: 7,
            ..Wishes::default()
        };
        let told = command(&asked, Some((3, 3)), 90.0);
        for part in [
            "--loop 3 ",
            "--speed 90",
            "--tempo 92.5",
            "--key A",
            "--style fast-grass",
            "--band chop,bass",
            "--sit-out chop --sit-out guitar@chorus --sit-out surprise",
            "--seed 7",
        ] {
            assert!(told.contains(part), "{part}: {told}");
        }
    }
}
