//! What a player chooses a song by, and the name that a song is asked for by.

use serde::Serialize;

use crate::chart::Song;

/// What a list of songs says of one.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SongFacts {
    /// What the song is called.
    pub title: String,
    /// The key it is written in.
    pub key: String,
    /// Its meter, as `4/4`.
    pub meter: String,
    /// Beats a minute of the meter's beat.
    pub tempo: f64,
    /// The backing style it asks for.
    pub style: String,
    /// What it is good practice for, if its notes say so in a paragraph that begins with `Trains:`.
    pub trains: Option<String>,
}

impl SongFacts {
    /// Those of a song.
    pub fn of(song: &Song) -> Self {
        Self {
            title: song.title.clone(),
            key: song.key.to_string(),
            meter: song.meter.to_string(),
            tempo: song.tempo,
            style: song.style.clone(),
            trains: song.notes.as_deref().and_then(trains),
        }
    }
}

/// The paragraph of some notes that says what a song trains, on one line and without its full stop.
fn trains(notes: &str) -> Option<String> {
    let from = notes.lines().skip_while(|line| !line.trim_start().starts_with("Trains:"));
    let words: Vec<&str> =
        from.take_while(|line| !line.trim().is_empty()).flat_map(str::split_whitespace).collect();
    let text = words.join(" ");
    let text = text.strip_prefix("Trains:")?.trim().trim_end_matches('.');
    (!text.is_empty()).then(|| text.to_owned())
}

/// The name of a song's file for what a player wrote: the file's name, or the title it was made of.
///
/// ```
/// assert_eq!(openchair::rehearsal::song_name("Moths at Tobin's Lamp"), "moths-at-tobins-lamp");
/// ```
pub fn song_name(written: &str) -> String {
    let mut name = String::new();
    for c in written.trim().chars().flat_map(char::to_lowercase) {
        match c {
            '\'' | '\u{2019}' => {}
            c if c.is_whitespace() || c == '_' => name.push('-'),
            c => name.push(c),
        }
    }
    name
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_song_trains_is_one_line() {
        let notes = "About a rope.\n\nTrains: the walk from G to C,\n  and patience.\n\nMore.";
        assert_eq!(trains(notes).as_deref(), Some("the walk from G to C, and patience"));
        assert_eq!(trains("It trains nothing."), None);
        assert_eq!(trains("Trains:"), None);
    }

    #[test]
    fn a_title_leads_to_the_name_of_its_file() {
        assert_eq!(song_name(" Lantern on the Landing "), "lantern-on-the-landing");
        assert_eq!(song_name("one_plank_short"), "one-plank-short");
    }
}
