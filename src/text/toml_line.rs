//! What a line of a TOML file looks like, whatever stands around it.

/// The line from `at` on, without its line break.
pub(super) fn line_at(text: &str, at: usize) -> &str {
    let rest = text.get(at..).unwrap_or_default();
    rest.split('\n').next().unwrap_or_default()
}

/// True for `[section.verse]` and `[[bass.bar]]`, alone on a line; not for a list within a list.
pub(super) fn is_heading(line: &str) -> bool {
    let line = line.trim();
    let Some(inner) = line.strip_prefix('[') else { return false };
    let inner = inner.strip_prefix('[').unwrap_or(inner).trim_start();
    let Some((name, after)) = inner.split_once(']') else { return false };
    let after = after.strip_prefix(']').unwrap_or(after).trim_start();
    let bare = |c: char| c.is_ascii_alphanumeric() || ['_', '-', '.', ' ', '"', '\''].contains(&c);
    name.starts_with(|c: char| c.is_ascii_alphabetic() || c == '_')
        && name.chars().all(|c| bare(c) || !c.is_ascii())
        && (after.is_empty() || after.starts_with('#'))
}

/// Where the value begins in a line such as `key = "G"`; `None` if the line does not begin so.
pub(super) fn assignment(line: &str) -> Option<usize> {
    let (key, value) = line.split_once('=')?;
    let bare = |c: char| c.is_ascii_alphanumeric() || ['_', '-', '.', '"', '\''].contains(&c);
    let key = key.trim();
    let named = key.starts_with(|c: char| c.is_ascii_alphabetic() || c == '_');
    let value = value.trim_start();
    let begun = value.starts_with(|c: char| c.is_ascii_digit() || "\"'[{+-".contains(c))
        || ["true", "false"].iter().any(|word| value.starts_with(word));
    (named && begun && key.chars().all(bare)).then(|| line.len() - value.len())
}
