use std::path::Path;

/// True for a name that ends in `.toml`.
pub fn is_toml(path: &Path) -> bool {
    path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("toml"))
}

/// The file's name without its ending: the name that a style or a song is known by.
pub fn stem(path: &Path) -> String {
    path.file_stem().unwrap_or_default().to_string_lossy().into_owned()
}
