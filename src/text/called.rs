//! What players call things that have another word here. Likeness alone would take `time` for `title`
//! and `words` for `chords`, and what is written instead would be other music.

/// A word as it may be written, in small letters with `_` between words, and what it is called here. A
/// word may mean one thing where a song is headed and another where a lead is named: of its names the
/// first is meant that is known at that place. Common practice, no source.
const CALLED: &[(&str, &[&str])] = &[
    // A song's head.
    ("name", &["title"]),
    ("song", &["title"]),
    ("song_title", &["title"]),
    ("author", &["composer"]),
    ("writer", &["composer"]),
    ("songwriter", &["composer"]),
    ("written_by", &["composer"]),
    ("by", &["composer"]),
    ("tonality", &["key"]),
    ("key_signature", &["key"]),
    ("scale", &["key"]),
    ("time", &["meter", "meters"]),
    ("time_signature", &["meter", "meters"]),
    ("timesignature", &["meter", "meters"]),
    ("time_sig", &["meter", "meters"]),
    ("signature", &["meter", "meters"]),
    ("metre", &["meter", "meters"]),
    ("bpm", &["tempo"]),
    ("speed", &["tempo", "speeds"]),
    ("groove", &["style"]),
    ("backing", &["style"]),
    ("backing_style", &["style"]),
    ("structure", &["form"]),
    ("arrangement", &["form"]),
    ("order", &["form"]),
    ("roadmap", &["form"]),
    ("sequence", &["form"]),
    ("part", &["section"]),
    ("parts", &["section"]),
    ("comment", &["notes", "about"]),
    ("comments", &["notes", "about"]),
    ("remarks", &["notes", "about"]),
    ("description", &["notes", "about"]),
    ("about", &["notes"]),
    ("shuffle", &["swing"]),
    ("fret", &["capo"]),
    ("capo_fret", &["capo"]),
    ("capo_at", &["capo"]),
    ("guitar_capo", &["capo"]),
    ("lineup", &["band"]),
    ("line_up", &["band"]),
    ("roles", &["band"]),
    ("players", &["band"]),
    ("musicians", &["band"]),
    ("instruments", &["band"]),
    ("intro", &["kickoff"]),
    ("kick_off", &["kickoff"]),
    ("outro", &["ending"]),
    ("end", &["ending"]),
    ("coda", &["ending"]),
    // A section and an entry of the form.
    ("chord", &["chords"]),
    ("progression", &["chords"]),
    ("harmony", &["chords"]),
    ("tune", &["melody", "lead"]),
    ("stop", &["stops"]),
    ("breaks", &["stops"]),
    ("hits", &["stops"]),
    ("dynamic", &["dynamics"]),
    ("volume", &["dynamics"]),
    ("loudness", &["dynamics"]),
    ("section", &["play"]),
    ("leader", &["lead"]),
    ("solo", &["lead"]),
    ("soloist", &["lead"]),
    ("out", &["sit_out"]),
    ("sits_out", &["sit_out"]),
    ("without", &["sit_out"]),
    ("mute", &["sit_out"]),
    // Who leads, and the roles.
    ("singer", &["voice"]),
    ("singing", &["voice"]),
    ("vocal", &["voice"]),
    ("vocals", &["voice"]),
    ("vox", &["voice"]),
    ("sung", &["voice"]),
    ("violin", &["fiddle"]),
    ("mandolin", &["chop"]),
    ("mando", &["mandolin", "chop"]),
    ("chopping", &["chop"]),
    ("chops", &["chop"]),
    ("melody", &["lead"]),
    ("double_bass", &["bass"]),
    ("upright", &["bass"]),
    ("upright_bass", &["bass"]),
    ("standup_bass", &["bass"]),
    ("stand_up_bass", &["bass"]),
    ("five_string", &["banjo"]),
    ("rhythm_guitar", &["guitar"]),
    ("acoustic_guitar", &["guitar"]),
    ("flatpicking", &["guitar"]),
    ("reso", &["resonator"]),
    ("resonator_guitar", &["resonator"]),
    // Kickoffs and endings.
    ("potatoes", &["shuffles"]),
    ("four_potatoes", &["shuffles"]),
    ("shuffle", &["shuffles"]),
    ("lead_in", &["pickup", "kickoff"]),
    ("pickup_notes", &["pickup"]),
    ("no", &["none"]),
    ("off", &["none"]),
    ("nothing", &["none"]),
    ("shave_and_a_haircut", &["tag"]),
    ("double_tag", &["last-line-twice", "tag"]),
    ("tag_twice", &["last-line-twice"]),
    ("cold_ending", &["cold"]),
    ("repeat_last_line", &["last-line"]),
    // Dynamic marks.
    ("piano", &["p"]),
    ("soft", &["p"]),
    ("softly", &["p"]),
    ("quiet", &["p"]),
    ("mezzo_piano", &["mp"]),
    ("mezzo_forte", &["mf"]),
    ("medium", &["mf"]),
    ("normal", &["mf"]),
    ("forte", &["f"]),
    ("loud", &["f"]),
    // Meters.
    ("c", &["4/4"]),
    ("common", &["4/4"]),
    ("common_time", &["4/4"]),
    ("c|", &["2/2"]),
    ("cut", &["2/2"]),
    ("cut_time", &["2/2"]),
    ("alla_breve", &["2/2"]),
    ("waltz", &["3/4"]),
    ("waltz_time", &["3/4"]),
    ("jig", &["6/8"]),
    ("jig_time", &["6/8"]),
    // Modes.
    ("maj", &["major"]),
    ("ionian", &["major"]),
    ("min", &["minor"]),
    ("aeolian", &["minor"]),
    ("natural_minor", &["minor"]),
    ("mix", &["mixolydian"]),
    ("mixo", &["mixolydian"]),
    ("dor", &["dorian"]),
];

/// What has no place here, where it is looked for among those words, and what there is instead.
const NOT_HERE: &[(&[&str], &str, &str)] = &[
    (
        &["words", "lyrics", "lyric", "text", "verses"],
        "chords",
        "a song file holds no words; `voice` marks where the singer sings, and `notes` at the top is \
         for the player",
    ),
    (
        &["words", "lyrics", "lyric", "text", "verses"],
        "title",
        "a song file holds no words; `voice` in a section marks where the singer sings, and `notes` is \
         for the player",
    ),
    (
        &["singer", "singing", "vocal", "vocals", "vox", "voice", "sung"],
        "chop",
        "the singer is no role of the band: name `voice` as the lead of a pass, as in \"verse: voice\"",
    ),
    (
        &["resonator", "reso", "resonator_guitar"],
        "chop",
        "the resonator leads and plays no rhythm: name it as the lead of a pass, as in \"verse: resonator\"",
    ),
    (
        &["drums", "drum", "percussion", "snare"],
        "chop",
        "there are no drums in a string band; `chop` has the backbeat",
    ),
];

/// What a word means where `known` are the words: the name for it, if it goes by another here.
pub(crate) fn called<'a>(
    word: &str,
    known: impl Iterator<Item = &'a str> + Clone,
) -> Option<&'a str> {
    let plain = plain(word);
    let names = CALLED.iter().filter(|(slip, _)| *slip == plain).flat_map(|(_, names)| *names);
    names.into_iter().find_map(|name| known.clone().find(|known| known == name))
}

/// True for a word that means something else than it looks like, wherever it stands.
pub(super) fn has_another_name(word: &str) -> bool {
    let plain = plain(word);
    CALLED.iter().any(|(slip, _)| *slip == plain)
}

/// Why there is nothing that `word` could mean among `known`, and what there is instead.
pub(super) fn not_here<'a>(
    word: &str,
    known: impl IntoIterator<Item = &'a str>,
) -> Option<&'static str> {
    let plain = plain(word);
    let mut of_word =
        NOT_HERE.iter().filter(|(words, _, _)| words.contains(&plain.as_str())).peekable();
    of_word.peek()?;
    let known: Vec<&str> = known.into_iter().collect();
    of_word.find(|(_, place, _)| known.contains(place)).map(|(_, _, why)| *why)
}

/// A word as the tables have it.
fn plain(word: &str) -> String {
    // No word of the tables is as long.
    const LONGEST: usize = 32;
    if word.len() > LONGEST {
        return String::new();
    }
    word.trim().to_lowercase().replace(['-', ' '], "_")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_tables_are_written_as_they_are_read() {
        let slips = CALLED.iter().map(|(slip, _)| slip);
        for word in slips.chain(NOT_HERE.iter().flat_map(|(words, _, _)| *words)) {
            assert_eq!(plain(word), *word);
        }
    }

    #[test]
    fn a_word_means_what_is_known_at_its_place() {
        let song = ["title", "key", "meter", "tempo", "section"];
        assert_eq!(called("time", song.into_iter()), Some("meter"));
        assert_eq!(called("Time Signature", song.into_iter()), Some("meter"));
        assert_eq!(called("time", ["meters", "tempo"].into_iter()), Some("meters"));
        let leads = ["voice", "mandolin"];
        assert_eq!(called("mando", leads.into_iter()), Some("mandolin"));
        assert_eq!(called("mando", ["bass", "chop"].into_iter()), Some("chop"));
        assert_eq!(called("singer", leads.into_iter()), Some("voice"));
        assert_eq!(called("singer", ["bass", "chop"].into_iter()), None);
        assert!(not_here("singer", ["bass", "chop"]).is_some());
        assert_eq!(not_here("singer", leads), None);
        assert_eq!(not_here("sanger", ["bass", "chop"]), None);
    }
}
