//! What the test runner calls a test.

/// The path of a test in its program, as `--exact` wants it. Given the test itself, so that it can't be misspelt.
pub fn name_of<T>(_: T) -> &'static str {
    let path = std::any::type_name::<T>();
    path.split_once("::").map_or(path, |(_, inside)| inside)
}
