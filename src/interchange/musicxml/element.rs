//! A document as elements, read whole. What a document type declares is not followed, so that none can unfold.

use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};

/// An element.
#[derive(Clone, Debug, Default)]
pub(super) struct Element {
    pub name: String,
    pub attributes: Vec<(String, String)>,
    pub children: Vec<Element>,
    pub text: String,
    /// Where it begins in the document.
    pub at: usize,
}

/// How deep elements stand within each other in a score: less than twenty.
const DEEPEST: usize = 64;

impl Element {
    /// The document's own element, or where it is wrong and why.
    pub(super) fn read(text: &str) -> Result<Self, (usize, String)> {
        let mut reader = Reader::from_str(text);
        let mut open: Vec<Self> = Vec::new();
        loop {
            let at = usize::try_from(reader.buffer_position()).unwrap_or(usize::MAX);
            let event = reader.read_event();
            let event = event.map_err(|why| {
                let at = usize::try_from(reader.error_position()).unwrap_or(at);
                (at, format!("it is not well-formed XML: {why}"))
            })?;
            match event {
                Event::Start(start) => {
                    if open.len() >= DEEPEST {
                        return Err((
                            at,
                            "its elements stand too deep within each other".to_owned(),
                        ));
                    }
                    open.push(begun(&start, at));
                }
                Event::Empty(start) => {
                    let element = begun(&start, at);
                    match open.last_mut() {
                        Some(parent) => parent.children.push(element),
                        None => return Ok(element),
                    }
                }
                Event::End(_) => {
                    let Some(element) = open.pop() else { continue };
                    match open.last_mut() {
                        Some(parent) => parent.children.push(element),
                        None => return Ok(element),
                    }
                }
                Event::Text(text) => {
                    if let Some(parent) = open.last_mut() {
                        parent.text.push_str(&text.xml10_content());
                    }
                }
                Event::CData(text) => {
                    if let Some(parent) = open.last_mut() {
                        parent.text.push_str(&text.xml10_content());
                    }
                }
                Event::GeneralRef(name) => {
                    let known = entity(&name);
                    if let (Some(parent), Some(meant)) = (open.last_mut(), known) {
                        parent.text.push(meant);
                    }
                }
                Event::Eof => return Err((at, "it ends before its elements do".to_owned())),
                _ => {}
            }
        }
    }

    /// The first child of a name.
    pub(super) fn child(&self, name: &str) -> Option<&Self> {
        self.children.iter().find(|child| child.name == name)
    }

    /// All children of a name.
    pub(super) fn all<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a Self> {
        self.children.iter().filter(move |child| child.name == name)
    }

    pub(super) fn has(&self, name: &str) -> bool {
        self.child(name).is_some()
    }

    /// The text of a child, without blanks around it.
    pub(super) fn word(&self, name: &str) -> Option<&str> {
        self.child(name).map(|child| child.text.trim()).filter(|text| !text.is_empty())
    }

    /// The number in a child; a fraction is cut off.
    pub(super) fn number(&self, name: &str) -> Option<i64> {
        let text = self.word(name)?;
        let whole = text.parse::<f64>().ok().filter(|number| number.abs() < 1e9)?;
        Some(whole as i64)
    }

    pub(super) fn attribute(&self, name: &str) -> Option<&str> {
        self.attributes.iter().find(|(key, _)| key == name).map(|(_, value)| value.as_str())
    }
}

fn begun(start: &BytesStart<'_>, at: usize) -> Element {
    let local = start.local_name();
    let attributes = start.attributes().flatten().filter_map(|attribute| {
        let key = attribute.key.local_name().as_ref().to_owned();
        Some((key, quick_xml::escape::unescape(&attribute.value).ok()?.into_owned()))
    });
    Element {
        name: local.as_ref().to_owned(),
        attributes: attributes.collect(),
        children: Vec::new(),
        text: String::new(),
        at,
    }
}

/// The entities that XML itself has, and characters by number.
fn entity(name: &str) -> Option<char> {
    match name {
        "amp" => Some('&'),
        "lt" => Some('<'),
        "gt" => Some('>'),
        "quot" => Some('"'),
        "apos" => Some('\''),
        _ => {
            let digits = name.strip_prefix('#')?;
            let number = match digits.strip_prefix('x') {
                Some(hex) => u32::from_str_radix(hex, 16).ok()?,
                None => digits.parse().ok()?,
            };
            char::from_u32(number)
        }
    }
}
