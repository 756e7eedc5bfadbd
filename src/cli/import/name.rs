use std::collections::HashSet;
use std::path::{Path, PathBuf};

use crate::cli::files::native;

/// The longest name, in letters: longer ones are cut, as not every disk takes them.
const LONGEST: usize = 60;

/// A name for a song's file that no other has: its title in small letters and hyphens. With `kept`, files that lie
/// there are not written over.
pub(super) fn file_name(
    folder: &Path,
    title: &str,
    taken: &mut HashSet<PathBuf>,
    kept: bool,
) -> PathBuf {
    let plain = slug(title);
    let numbered = (2..).map(|number: u64| format!("{plain}-{number}"));
    for name in std::iter::once(plain.clone()).chain(numbered) {
        let path = native(folder.join(format!("{name}.toml")));
        let there = taken.contains(&path) || kept && path.exists();
        if !there {
            taken.insert(path.clone());
            return path;
        }
    }
    native(folder.join(format!("{plain}.toml")))
}

fn slug(title: &str) -> String {
    let mut out = String::new();
    for c in title.chars().flat_map(char::to_lowercase) {
        match c {
            // O'Neill is one word.
            '\'' | '’' => {}
            c if c.is_alphanumeric() && out.chars().count() < LONGEST => out.push(c),
            _ if !out.is_empty() && !out.ends_with('-') && out.chars().count() < LONGEST => {
                out.push('-')
            }
            _ => {}
        }
    }
    let name = out.trim_end_matches('-');
    match name {
        "" => "tune".to_owned(),
        // A song folder may come to a machine whose system has devices of these names, with any ending.
        name if is_device(name) => format!("{name}-tune"),
        name => name.to_owned(),
    }
}

/// Names that Windows keeps for devices (Microsoft, "Naming Files, Paths, and Namespaces").
fn is_device(name: &str) -> bool {
    let port = name.strip_prefix("com").or_else(|| name.strip_prefix("lpt"));
    let numbered = port.is_some_and(|number| matches!(number.as_bytes(), [b'1'..=b'9']));
    numbered || ["con", "prn", "aux", "nul"].contains(&name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_plain() {
        assert_eq!(slug("The Heron's Reel (No. 2)"), "the-herons-reel-no-2");
        assert_eq!(slug("../../etc"), "etc");
        assert_eq!(slug("???"), "tune");
        assert_eq!(
            ["Con", "com 1", "COM1", "lpt9", "com", "nulls"].map(slug),
            ["con-tune", "com-1", "com1-tune", "lpt9-tune", "com", "nulls"]
        );
        assert_eq!(slug(&"long ".repeat(50)).len(), 59);
    }
}
