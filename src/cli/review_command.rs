//! The command that a review advises, ready to be run.

use std::path::Path;

use super::args::Options;
use crate::review::Advice;

/// `openchair play SONG --loop 5-8 --speed 80`, with what else the player asked for: the same band in the same
/// key.
pub(super) fn ready(song: &Path, options: &Options, advice: &Advice) -> String {
    let mut words =
        vec!["openchair".to_owned(), "play".to_owned(), quoted(&song.to_string_lossy())];
    let mut add = |option: &str, value: String| words.extend([option.to_owned(), quoted(&value)]);
    if let Some((first, last)) = advice.bars {
        add("--loop", if first == last { first.to_string() } else { format!("{first}-{last}") });
    }
    if advice.speed != 100.0 {
        add("--speed", advice.speed.to_string());
    }
    if let Some(tempo) = options.tempo {
        add("--tempo", tempo.to_string());
    }
    if let Some(key) = options.key {
        add("--key", key.to_string());
    }
    if let Some(style) = &options.style {
        add("--style", style.clone());
    }
    if !options.band.is_empty() {
        let roles: Vec<&str> = options.band.iter().map(|role| role.as_str()).collect();
        add("--band", roles.join(","));
    }
    for rule in &options.sit_out {
        add("--sit-out", rule.to_string());
    }
    if options.seed != 1 {
        add("--seed", options.seed.to_string());
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
    use clap::Parser;

    use super::super::args::{Args, Command};
    use super::*;
    use crate::review::Part;

    fn command(options: &[&str], bars: Option<(usize, usize)>, speed: f64) -> String {
        let line = ["openchair", "review", "songs/low water.toml", "take.mid"];
        let args = Args::try_parse_from(line.iter().chain(options)).unwrap();
        let Command::Review(review) = args.command else { panic!("no review") };
        let command = String::new();
        let advice = Advice { about: Part::Late, words: String::new(), bars, speed, command };
        ready(&review.song, &review.options, &advice)
    }

    #[test]
    fn a_path_with_spaces_stays_one_word() {
        let told = command(&[], Some((5, 8)), 80.0);
        let song = quoted("songs/low water.toml");
        assert_eq!(told, format!("openchair play {song} --loop 5-8 --speed 80"));
        assert_eq!(command(&[], None, 100.0), format!("openchair play {song}"));
        if !cfg!(windows) {
            assert_eq!(quoted("it's"), r"'it'\''s'");
        }
    }

    #[test]
    fn what_was_asked_for_is_asked_for_again() {
        let asked = "--sit-out chop,guitar@chorus,surprise --key A --tempo 92.5 --seed 7 --band bass,chop \
                     --style fast-grass";
        let asked: Vec<&str> = asked.split_whitespace().collect();
        let told = command(&asked, Some((3, 3)), 90.0);
        for part in [
            "--loop 3 ",
            "--speed 90",
            "--tempo 92.5",
            "--key A",
            "--style fast-grass",
            "--band bass,chop",
            "--sit-out chop --sit-out guitar@chorus --sit-out surprise",
            "--seed 7",
        ] {
            assert!(told.contains(part), "{part}: {told}");
        }
        if !cfg!(windows) {
            let words = told.replace("'songs/low water.toml'", "song.toml");
            let again = Args::try_parse_from(words.split(' ')).unwrap();
            assert!(matches!(again.command, Command::Play(_)));
        }
    }
}
