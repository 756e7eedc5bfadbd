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

/// A file that is no text that could be read.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
pub enum NoText {
    /// It is too large.
    #[error(transparent)]
    TooLarge(#[from] TooLarge),
    /// It is text of two bytes a character.
    #[error(
        "{name} is text in UTF-16, as some editors save it; save it again with the encoding UTF-8"
    )]
    Utf16 {
        /// The path as the user gave it.
        name: String,
    },
    /// It is no text, or text of another kind.
    #[error("{name} is not text in UTF-8; if it is text, save it again with the encoding UTF-8")]
    NotUtf8 {
        /// The path as the user gave it.
        name: String,
    },
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

    /// The text of a file's bytes.
    ///
    /// # Errors
    /// [`NoText`] if there are too many, or if they are no UTF-8.
    pub fn of_bytes(name: impl Into<String>, bytes: Vec<u8>) -> Result<Self, NoText> {
        let name = name.into();
        if bytes.len() as u64 > Self::MOST_BYTES {
            return Err(TooLarge { name, size: bytes.len() as u64 }.into());
        }
        if is_utf16(&bytes) {
            return Err(NoText::Utf16 { name });
        }
        match String::from_utf8(bytes) {
            Ok(text) => Ok(Self { name, text }),
            Err(_) => Err(NoText::NotUtf8 { name }),
        }
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

/// True for the byte order marks of UTF-16 (The Unicode Standard 16.0, section 23.8), and without one
/// where every other byte of the beginning is zero, as in text of Latin letters.
fn is_utf16(bytes: &[u8]) -> bool {
    const BEGINNING: usize = 64;
    let marked = bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]);
    let head = bytes.get(..BEGINNING.min(bytes.len() & !1)).unwrap_or_default();
    let zeros = |from: usize| head.iter().skip(from).step_by(2).all(|&byte| byte == 0);
    let none = |from: usize| head.iter().skip(from).step_by(2).all(|&byte| byte != 0);
    marked || head.len() >= 4 && (zeros(0) && none(1) || zeros(1) && none(0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn other_encodings_are_named() {
        let bytes = |units: fn(u16) -> [u8; 2], text: &str| -> Vec<u8> {
            text.encode_utf16().flat_map(units).collect()
        };
        let utf16 = Err(NoText::Utf16 { name: "x".into() });
        for text in ["\u{feff}title = 'é'\n", "title = 'x'\n"] {
            for units in [u16::to_le_bytes, u16::to_be_bytes] {
                let read = Source::of_bytes("x", bytes(units, text));
                assert_eq!(read.map(|source| source.text), utf16, "{text}");
            }
        }
        let read = |bytes: &[u8]| Source::of_bytes("x", bytes.to_vec()).map(|source| source.text);
        assert_eq!(read(b"t = 'caf\xe9'\n"), Err(NoText::NotUtf8 { name: "x".into() }));
        assert_eq!(read("t = 'é'\n".as_bytes()), Ok("t = 'é'\n".to_owned()));
        assert_eq!(read(b""), Ok(String::new()));
    }

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
