/// What is wrong with a backing style as a song or a lesson names it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NoStyleName {
    /// Why it can't be.
    pub message: String,
    /// What to write instead.
    pub help: String,
}

/// Checks that a style is a plain name, or the path of a style file that can lie nowhere but in the
/// folder of the file that names it. Songs come from strangers, and what is wrong in a style's file is
/// shown with its lines.
///
/// # Errors
/// [`NoStyleName`] for every other path: nothing may be opened for it.
pub fn check_style_name(style: &str) -> Result<(), NoStyleName> {
    let is_file = ends_in_toml(style);
    let parts: Vec<&str> = style.split(['/', '\\']).collect();
    // A name is only looked up among the names there are, so it may look as it likes.
    if parts.len() == 1 && !is_file && !style.contains(':') && style.trim() != ".." {
        return Ok(());
    }
    let why = if style.contains('\\') {
        "a path has `/` between its folders, not a backslash"
    } else if style.contains(':') {
        "a style's name can't hold a colon"
    } else if style.starts_with('/') {
        "a song can't name a style file by its place on the whole disk"
    } else if parts.iter().any(|part| part.trim() == "..") {
        "a song can't name a style file outside its own folder"
    } else if parts.iter().any(|part| part.is_empty()) {
        "a folder in this path has no name"
    } else if parts.iter().any(|part| is_odd(part)) {
        "no part of a path begins or ends with a blank, or ends with a dot"
    } else if !is_file {
        "a style file's name ends in .toml"
    } else {
        return Ok(());
    };
    let help = "write a style's name, as in `boom-chick`, or the path of a .toml in this file's folder \
                or below it, as in `styles/mine.toml`";
    Err(NoStyleName { message: why.to_owned(), help: help.to_owned() })
}

/// True for a part of a path that a system may take for another: Windows drops blanks and dots at its
/// end, so that two dots and a blank are two dots. A dot alone is the folder itself, everywhere.
fn is_odd(part: &str) -> bool {
    part != "." && (part.trim() != part || part.ends_with('.'))
}

fn ends_in_toml(path: &str) -> bool {
    let ending = path.len().checked_sub(5).and_then(|at| path.get(at..));
    ending.is_some_and(|ending| ending.eq_ignore_ascii_case(".toml"))
}

#[cfg(test)]
mod tests {
    use std::path::{Component, Path};

    use proptest::prelude::*;

    use super::*;

    #[test]
    fn names_and_paths_below_pass() {
        for style in ["drive", "my own", "v1.2", "mine.toml", "./mine.toml", "styles/a b.TOML"] {
            assert_eq!(check_style_name(style), Ok(()), "{style}");
        }
    }

    #[test]
    fn all_else_is_refused() {
        for style in [
            "../../../etc/passwd",
            "../mine.toml",
            "styles/../../mine.toml",
            "..",
            ".. /mine.toml",
            "/etc/passwd",
            "/mine.toml",
            "//host/share/mine.toml",
            "\\\\host\\share\\mine.toml",
            "styles\\mine.toml",
            "..\\mine.toml",
            "C:/mine.toml",
            "C:mine.toml",
            "C:",
            "file:///mine.toml",
            "styles//mine.toml",
            "styles/mine",
            "mine.txt/",
            "styles/",
            "mine.toml./mine.toml",
            "song.toml/..",
        ] {
            let wrong = check_style_name(style).unwrap_err();
            assert!(wrong.help.contains(".toml"), "{style}: {wrong:?}");
        }
    }

    proptest! {
        #[test]
        fn whatever_passes_stays_below(style in r"([a-b.]{1,3}|[/\\: ]|\.\.|\.toml){1,6}") {
            if check_style_name(&style).is_ok() {
                let below = |c: Component<'_>| matches!(c, Component::Normal(_) | Component::CurDir);
                prop_assert!(Path::new(&style).components().all(below), "{style:?}");
                prop_assert!(!style.contains([':', '\\']), "{style:?}");
                // A name is only ever looked up among names.
                prop_assert!(ends_in_toml(&style) || !style.contains('/'), "{style:?}");
            }
        }
    }
}
