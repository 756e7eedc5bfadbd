//! Saying that a test is skipped, and why.
#![allow(dead_code, missing_docs)]

use std::io::Write;

/// Written past the test runner, which swallows what a passing test prints by a macro.
pub fn skipped(test: &str, why: &str) {
    _ = writeln!(std::io::stderr(), "{test}: skipped, {why}");
}
