use thiserror::Error;

/// A text with the name that messages give it.
#[derive(Clone, Debug)]
pub struct Source {
    /// The path as the user gave it.
    pub name: String,
    /// The whole text.
    pub text: String,
}

/// A file refused for its size before it is read.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
#[error("{name} is {size} bytes; a song or a style has at most {} bytes", Source::MOST_BYTES)]
pub struct TooLarge {
    /// The path as the user gave it.
    pub name: String,
    /// Its size in bytes.
    pub size: u64,
}

impl Source {
    /// The largest file accepted. A chart of 10,000 bars is about 200 kB.
    pub const MOST_BYTES: u64 = 1 << 20;

    /// A named text.
    ///
    /// # Errors
    /// [`TooLarge`] past [`Self::MOST_BYTES`].
    pub fn new(name: impl Into<String>, text: impl Into<String>) -> Result<Self, TooLarge> {
        let (name, text) = (name.into(), text.into());
        let size = text.len() as u64;
        if size > Self::MOST_BYTES { Err(TooLarge { name, size }) } else { Ok(Self { name, text }) }
    }

    /// Line and column, both from 1, of a byte offset. Columns count characters.
    pub fn position(&self, offset: usize) -> (usize, usize) {
        let mut end = offset.min(self.text.len());
        while !self.text.is_char_boundary(end) {
            end -= 1;
        }
        let before = &self.text[..end];
        let line_start = before.rfind('\n').map_or(0, |at| at + 1);
        let line = before.bytes().filter(|&b| b == b'\n').count() + 1;
        (line, before[line_start..].chars().count() + 1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn positions_count_lines_and_characters() {
        let source = Source::new("x", "ab\ncäd\n").unwrap();
        assert_eq!(source.position(0), (1, 1));
        assert_eq!(source.position(3), (2, 1));
        assert_eq!(source.position(6), (2, 3));
        assert_eq!(source.position(5), (2, 2));
        assert_eq!(source.position(999), (3, 1));
    }
}
