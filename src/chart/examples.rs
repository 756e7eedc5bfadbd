//! How a song file has its values written, with an example of each, and which keys there are.

/// The keys that every song needs.
pub(super) const REQUIRED: [&str; 6] = ["title", "key", "meter", "tempo", "style", "form"];

/// Every other key of a song.
pub(super) const OPTIONAL: [&str; 9] =
    ["section", "composer", "notes", "swing", "capo", "band", "kickoff", "ending", "drone"];

/// The rows of a section.
pub(super) const ROWS: [&str; 4] = ["chords", "voice", "stops", "melody"];

/// What else a section can hold.
pub(super) const OTHER_KEYS: [&str; 1] = ["dynamics"];

/// The value of `key` alone, as it stands after the `=`.
pub(super) fn example(key: &str) -> &'static str {
    match key {
        "title" => "\"Lantern on the Landing\"",
        "key" => "\"G\"",
        "meter" => "\"4/4\"",
        "tempo" => "108",
        "style" => "\"boom-chick\"",
        "form" => "[\"verse: voice\", \"chorus: voice\", \"verse: guitar\"]",
        "composer" => "\"a name\"",
        "notes" => "\"a word to the player\"",
        "swing" => "0.58",
        "capo" => "2",
        "band" | "sit_out" => "[\"bass\", \"guitar\"]",
        "kickoff" => "\"pickup\"",
        "ending" => "\"hit\"",
        "drone" => "\"fits\"",
        "play" => "\"verse\"",
        "lead" => "\"guitar\"",
        "voice" => "\"| ==== | ==-- |\"",
        "stops" => "\"| . | x--- |\"",
        "melody" => "\"| G A B d | g / - - |\"",
        "dynamics" => "\"mp\"",
        // The chords, and whatever else is a row.
        _ => "\"| G | C | D7 | G |\"",
    }
}

/// As [`SongDraft::example`](super::SongDraft::example) has it.
pub(super) fn written(key: &str) -> String {
    match key {
        "section" => format!("[section.verse] and under it chords = {}", example("chords")),
        _ => format!("{key} = {}", example(key)),
    }
}
