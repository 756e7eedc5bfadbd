use super::Entry;

/// The takes of one song, in the order in which they were reviewed.
#[derive(Clone, Debug, PartialEq)]
pub struct SongProgress {
    /// The song's title.
    pub title: String,
    /// Its takes; at least one.
    pub takes: Vec<Entry>,
}

/// Entries by their songs, the one that was played last first.
pub fn by_song(entries: &[Entry]) -> Vec<SongProgress> {
    let mut songs: Vec<SongProgress> = Vec::new();
    for entry in entries {
        match songs.iter_mut().find(|song| song.title == entry.song) {
            Some(song) => song.takes.push(entry.clone()),
            None => {
                songs.push(SongProgress { title: entry.song.clone(), takes: vec![entry.clone()] })
            }
        }
    }
    for song in &mut songs {
        // A clock that was set back moves no take before another one of its minute.
        song.takes.sort_by(|one, other| one.at.cmp(&other.at));
    }
    songs.sort_by(|one, other| last(other).cmp(&last(one)));
    songs
}

fn last(song: &SongProgress) -> Option<&str> {
    song.takes.last().map(|take| take.at.as_str())
}

impl SongProgress {
    /// What changed from the first take to the last, in words; none of a single take.
    pub fn change(&self) -> Option<String> {
        let [first, .., last] = self.takes.as_slice() else { return None };
        let mut told = vec![format!("even to {:.0} ms, {:.0} at first", last.even, first.even)];
        if let (Some(before), Some(now)) = (first.share(), last.share()) {
            told.push(format!(
                "{:.0} percent of the open chair covered, {:.0} at first",
                now * 100.0,
                before * 100.0
            ));
        }
        if first.speed != last.speed {
            told.push(format!("at {:.0} percent speed, {:.0} at first", last.speed, first.speed));
        }
        Some(format!("In your last take: {}.", told.join("; ")))
    }
}

#[cfg(test)]
mod tests {
    use super::super::entry::tests::entry;
    use super::*;

    #[test]
    fn songs_come_by_their_last_take_and_takes_by_their_time() {
        let other =
            Entry { song: "Low Bridge".to_owned(), ..entry("2026-03-02T10:00", 100.0, 9.0, 30) };
        let entries = [
            entry("2026-03-03T18:30", 90.0, 11.0, 28),
            other,
            entry("2026-03-01T18:30", 80.0, 15.0, 20),
        ];
        let songs = by_song(&entries);
        let titles: Vec<&str> = songs.iter().map(|song| song.title.as_str()).collect();
        assert_eq!(titles, ["Gander at the Gate", "Low Bridge"]);
        assert_eq!(
            songs[0].change().unwrap(),
            "In your last take: even to 11 ms, 15 at first; 88 percent of the open chair covered, 62 at first; \
             at 90 percent speed, 80 at first."
        );
        assert_eq!(songs[1].change(), None);
    }
}
