//! A tree of XML elements and its writing, for scores and drawings.

use std::io;

use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesEnd, BytesStart, BytesText, Event};

/// An element.
#[derive(Clone, Debug, Default)]
pub(super) struct Element {
    name: &'static str,
    attributes: Vec<(&'static str, String)>,
    content: Vec<Content>,
}

#[derive(Clone, Debug)]
enum Content {
    Element(Element),
    Text(String),
}

impl Element {
    /// An empty one.
    pub(super) fn new(name: &'static str) -> Self {
        Self { name, ..Self::default() }
    }

    /// With text in it.
    pub(super) fn text(name: &'static str, text: impl ToString) -> Self {
        let content = vec![Content::Text(allowed(&text.to_string()))];
        Self { name, attributes: Vec::new(), content }
    }

    /// With an attribute more.
    #[must_use]
    pub(super) fn with(mut self, name: &'static str, value: impl ToString) -> Self {
        self.attributes.push((name, allowed(&value.to_string())));
        self
    }

    /// With an element more in it.
    #[must_use]
    pub(super) fn and(mut self, child: Self) -> Self {
        self.push(child);
        self
    }

    /// With some more in it.
    #[must_use]
    pub(super) fn all(mut self, children: impl IntoIterator<Item = Self>) -> Self {
        children.into_iter().for_each(|child| self.push(child));
        self
    }

    /// Puts an element at its end.
    pub(super) fn push(&mut self, child: Self) {
        self.content.push(Content::Element(child));
    }

    fn write(&self, writer: &mut Writer<Vec<u8>>) -> io::Result<()> {
        let mut start = BytesStart::new(self.name);
        for (name, value) in &self.attributes {
            start.push_attribute((*name, value.as_str()));
        }
        if self.content.is_empty() {
            return writer.write_event(Event::Empty(start));
        }
        writer.write_event(Event::Start(start))?;
        for content in &self.content {
            match content {
                Content::Element(element) => element.write(writer)?,
                Content::Text(text) => writer.write_event(Event::Text(BytesText::new(text)))?,
            }
        }
        writer.write_event(Event::End(BytesEnd::new(self.name)))
    }
}

/// A whole document; `doctype` is what stands after that word.
///
/// # Errors
/// None that memory does not give.
pub(super) fn document(root: &Element, doctype: Option<&str>) -> io::Result<String> {
    let mut writer = Writer::new_with_indent(Vec::new(), b' ', 1);
    writer.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
    if let Some(doctype) = doctype {
        writer.write_event(Event::DocType(BytesText::from_escaped(doctype)))?;
    }
    root.write(&mut writer)?;
    let mut bytes = writer.into_inner();
    bytes.push(b'\n');
    String::from_utf8(bytes).map_err(io::Error::other)
}

/// The text without the characters that XML 1.0 forbids even where they are written as numbers
/// (XML 1.0, fifth edition, production 2).
fn allowed(text: &str) -> String {
    let is = |c: char| matches!(c, '\t' | '\n' | '\r' | ' '..='\u{D7FF}' | '\u{E000}'..='\u{FFFD}' | '\u{10000}'..);
    text.chars().map(|c| if is(c) { c } else { '\u{FFFD}' }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_means_something_in_xml_is_escaped() {
        let root = Element::new("a").with("b", "\"<&>").and(Element::text("c", "x < y & z\u{1}"));
        assert_eq!(
            document(&root, None).unwrap(),
            "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<a b=\"&quot;&lt;&amp;&gt;\">\n \
             <c>x &lt; y &amp; z\u{FFFD}</c>\n</a>\n"
        );
    }
}
