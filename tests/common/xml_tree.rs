//! A reader of XML for the tests: a document as a tree.
#![allow(dead_code, missing_docs, clippy::unwrap_used, clippy::panic)]

use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};

/// An element, its attributes, its children and its own text.
#[derive(Clone, Debug, Default)]
pub struct Node {
    pub name: String,
    pub attributes: Vec<(String, String)>,
    pub nodes: Vec<Node>,
    pub text: String,
}

impl Node {
    pub fn children<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a Node> {
        self.nodes.iter().filter(move |node| node.name == name)
    }

    pub fn find<'a>(&'a self, name: &'a str) -> Option<&'a Node> {
        self.children(name).next()
    }

    /// The first of the name, which must be there.
    pub fn child<'a>(&'a self, name: &'a str) -> &'a Node {
        self.find(name).unwrap_or_else(|| panic!("no {name} in {}", self.name))
    }

    pub fn has(&self, name: &str) -> bool {
        self.nodes.iter().any(|node| node.name == name)
    }

    pub fn get(&self, name: &str) -> Option<&str> {
        self.attributes.iter().find(|(other, _)| other == name).map(|(_, value)| value.as_str())
    }

    /// An attribute, which must be there.
    pub fn attribute(&self, name: &str) -> &str {
        self.get(name).unwrap_or_else(|| panic!("no {name} at {}", self.name))
    }

    /// It and all that is in it.
    pub fn all(&self) -> Vec<&Node> {
        std::iter::once(self).chain(self.nodes.iter().flat_map(Node::all)).collect()
    }
}

fn start(tag: &BytesStart<'_>) -> Node {
    let attributes = tag.attributes().map(|attribute| {
        let attribute = attribute.unwrap();
        (attribute.key.as_ref().to_owned(), unescaped(&attribute.value))
    });
    let name = tag.name().as_ref().to_owned();
    Node { name, attributes: attributes.collect(), ..Node::default() }
}

fn unescaped(text: &str) -> String {
    quick_xml::escape::unescape(text).unwrap().into_owned()
}

/// The root of a well-formed document.
pub fn read(document: &str) -> Node {
    let mut reader = Reader::from_str(document);
    let mut open = vec![Node::default()];
    loop {
        match reader.read_event().unwrap() {
            Event::Start(tag) => open.push(start(&tag)),
            Event::Empty(tag) => {
                let node = start(&tag);
                open.last_mut().unwrap().nodes.push(node);
            }
            Event::End(_) => {
                let node = open.pop().unwrap();
                open.last_mut().unwrap().nodes.push(node);
            }
            Event::Text(text) => {
                open.last_mut().unwrap().text += &text;
            }
            Event::GeneralRef(name) => {
                open.last_mut().unwrap().text += &unescaped(&format!("&{};", &*name));
            }
            Event::Eof => break,
            _ => {}
        }
    }
    assert_eq!(open.len(), 1, "every element is closed");
    open.pop().unwrap().nodes.pop().unwrap()
}
