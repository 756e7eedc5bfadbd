use std::path::PathBuf;

/// A path that was put together, as this system writes it: Windows knows two strokes, and where a part that was typed
/// or stands in a song has one of them and what is joined to it the other, nobody should have to wonder.
pub(in crate::cli) fn native(path: PathBuf) -> PathBuf {
    if cfg!(windows) { path.components().collect() } else { path }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;

    #[test]
    fn one_kind_of_stroke_stands_in_a_path() {
        let shown =
            |base: &str, name: &str| native(Path::new(base).join(name)).display().to_string();
        let [below, up, whole] = [
            shown("songs", "styles/mine.toml"),
            shown("./a/b", "../x.toml"),
            shown("C:/Users/u", "x.toml"),
        ];
        if cfg!(windows) {
            assert_eq!(below, "songs\\styles\\mine.toml");
            assert_eq!(up, ".\\a\\b\\..\\x.toml");
            assert_eq!(whole, "C:\\Users\\u\\x.toml");
        } else {
            assert_eq!(below, "songs/styles/mine.toml");
            assert_eq!(up, "./a/b/../x.toml");
            assert_eq!(whole, "C:/Users/u/x.toml");
        }
    }
}
