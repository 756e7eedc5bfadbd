use std::path::Path;

/// True for the name that means standard output.
pub(in crate::cli) fn is_stdout(path: &Path) -> bool {
    path.as_os_str() == "-"
}

/// True if both names lead to one file that is there.
pub(in crate::cli) fn is_same_file(a: &Path, b: &Path) -> bool {
    matches!((a.canonicalize(), b.canonicalize()), (Ok(a), Ok(b)) if a == b)
}
