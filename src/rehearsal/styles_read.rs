use std::collections::HashMap;
use std::rc::Rc;

use super::StyleError;
use super::find_style::Found;
use crate::style::Style;

/// Styles that were read, for whoever reads many songs: most of them name the same few.
#[derive(Debug, Default)]
pub struct StylesRead {
    /// By name and text: songs in several folders may each have another of one name.
    read: HashMap<(String, String), Rc<Style>>,
}

impl StylesRead {
    pub(super) fn style(&mut self, found: Found) -> Result<Rc<Style>, StyleError> {
        let Some(text) = found.text() else { return found.style().map(Rc::new) };
        let key = (found.name.clone(), text.to_owned());
        if let Some(style) = self.read.get(&key) {
            return Ok(Rc::clone(style));
        }
        let style = Rc::new(found.style()?);
        self.read.insert(key, Rc::clone(&style));
        Ok(style)
    }
}
