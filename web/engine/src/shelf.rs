//! The styles that a page has: those that come with the program, and those that came with its songs.

use std::collections::BTreeMap;

use openchair::rehearsal::{NoText, SeenFrom, Shipped, StyleShelf};
use openchair::text::Source;

/// Styles by their names or paths, before those that come with the program.
pub struct Beside<'a> {
    pub styles: &'a BTreeMap<String, String>,
}

impl Beside<'_> {
    fn given(&self, name: &str) -> Option<Result<Source, NoText>> {
        let text = self.styles.get(name)?;
        let source = Source::new(format!("{name}.toml"), text.clone());
        Some(source.map_err(|why| NoText::Unreadable(why.to_string())))
    }
}

impl StyleShelf for Beside<'_> {
    fn names(&self) -> Vec<String> {
        let mut names = Shipped::styles();
        names.extend(self.styles.keys().filter(|name| !name.ends_with(".toml")).cloned());
        names.sort();
        names.dedup();
        names
    }

    fn named(&self, name: &str) -> Result<Source, NoText> {
        self.given(name).unwrap_or_else(|| Shipped.named(name))
    }

    fn at(&self, path: &str, from: SeenFrom) -> Result<Source, NoText> {
        self.given(path).unwrap_or_else(|| Shipped.at(path, from))
    }
}
